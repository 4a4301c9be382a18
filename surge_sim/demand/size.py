"""A surge that turns out larger than the limits allow is refused before it is drawn."""

from __future__ import annotations

from surge_sim.errors import Fault, ScenarioError
from surge_sim.randomness import Streams
from surge_sim.scenario.limits import MOST_PATIENTS, MOST_REQUESTS


def refuse_patients(streams: Streams, expected: float) -> None:
    """Refuse a surge with more patients than the limit."""
    if expected > MOST_PATIENTS:
        found = f"`arrivals` would bring {expected:,.0f} patients."
        right = f"A simulated surge has {MOST_PATIENTS:,} at most: check rates and counts."
        raise _refused(streams, found, right)


def refuse_entries(streams: Streams, expected: float) -> None:
    """Refuse a surge with more entries than the limit."""
    if expected > MOST_REQUESTS:
        found = f"`classes` would make {expected:,.0f} entries."
        right = f"A simulated surge has {MOST_REQUESTS:,} at most: check rates, teams and stays."
        raise _refused(streams, found, right)


def _refused(streams: Streams, found: str, right: str) -> ScenarioError:
    place = f"surge {streams.surge} of seed {streams.seed}"
    return ScenarioError([Fault(place, 0, found, right)])
