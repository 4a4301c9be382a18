"""All deliberate faults, in the order of the flow."""

from tests.faults import compiled, demand, outside, reference, rules, sizing, statistics

FAULTS = [
    *demand.FAULTS,
    *rules.FAULTS,
    *reference.FAULTS,
    *compiled.FAULTS,
    *statistics.FAULTS,
    *sizing.FAULTS,
    *outside.FAULTS,
]
