"""Kits and batteries that are elsewhere: recalled, or on loan only for some time."""

from __future__ import annotations

from surge_sim.equipment.rule import rule


@rule
def kits_to_be_away(recalled: int, own: int, come: int, lent: int) -> int:
    """Count the kits that should be away: recalled (no more than the unit's own) or not on loan.

    ``come``: all that are ever on loan; ``lent``: those that are on loan now.
    """
    return min(recalled, own) + come - lent


@rule
def batteries_to_be_away(kits_away: int, come: int, lent: int) -> int:
    """Count the batteries that should be away: one with every kit, and those not on loan now."""
    return kits_away + come - lent


@rule
def of_the_unit(away: int, not_lent: int) -> int:
    """How many of the unit's own things are away, of all that are not here.

    ``not_lent``: those that are not on loan at this time, which do not count as missing.
    """
    return max(away - not_lent, 0)


@rule
def place_away(number: int, here: int, own: int, count: int) -> int:
    """Place in the pile of what is away at the start, from which the last one comes first.

    Of ``count`` things the first ``here`` are not away. Those recalled lie below, those to come on
    loan above them, the one with the lowest number on top.
    """
    first = max(own, here)
    if number < first:
        return number - here
    return first - here + count - 1 - number
