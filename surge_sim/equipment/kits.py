"""Kits: what one needs to be complete, what a failed check leads to, who keeps one."""

from __future__ import annotations

from enum import IntEnum

from surge_sim.equipment.rule import rule


class Missing(IntEnum):
    """What the shelf lacks for the first in line: bits of a mask."""

    BLOWER = 1
    HOOD = 2
    TUBE = 4
    BATTERY = 8


class Repair(IntEnum):
    """What a blower needs before it can be used again."""

    NOTHING = 0
    PREFILTER = 1
    MAIN_FILTER = 2
    FAULT = 3


class AfterFailedCheck(IntEnum):
    """What follows when a kit passes its check at no flow level."""

    #: it gets a new prefilter and is checked again
    NEW_PREFILTER = 0
    #: there is no prefilter: it goes out until there is one
    LACKS_PREFILTER = 1
    #: it fails with a new prefilter: it goes out for a main filter
    LACKS_MAIN_FILTER = 2


@rule
def kept_back(urgent: int, reserved: int) -> int:
    """How many of each thing are not for an entry: those that are reserved for urgent ones."""
    return 0 if urgent else reserved


@rule
def missing_parts(blowers: int, hoods: int, tubes: int, back: int) -> int:
    """Say what of a kit but its battery is missing, when `back` of each are kept back."""
    mask = 0
    if blowers <= back:
        mask |= Missing.BLOWER
    if hoods <= back:
        mask |= Missing.HOOD
    if tubes <= back:
        mask |= Missing.TUBE
    return mask


@rule
def begins_to_lack(part: int, missing: int, before: int) -> bool:
    """Whether a part (a bit of `Missing`) runs short now, which is counted as a stock-out.

    Without a clean blower to put it on, nobody knows that it is short.
    """
    now = missing & part and not missing & Missing.BLOWER
    then = before & part and not before & Missing.BLOWER
    return bool(now and not then)


@rule
def after_failed_check(fresh_prefilter: int, prefilter_there: int) -> int:
    """Say what follows a check that failed at every level, see `AfterFailedCheck`."""
    if fresh_prefilter:
        return AfterFailedCheck.LACKS_MAIN_FILTER
    if prefilter_there:
        return AfterFailedCheck.NEW_PREFILTER
    return AfterFailedCheck.LACKS_PREFILTER


@rule
def repair_after_check(follows: int) -> int:
    """Say what a blower needs that is put aside after a failed check."""
    if follows == AfterFailedCheck.LACKS_MAIN_FILTER:
        return Repair.MAIN_FILTER
    return Repair.PREFILTER


@rule
def kept_for_shift(
    held_kits: int,
    held_before: int,
    urgent: int,
    now_s: int,
    shift_end_s: int,
    repair: int,
    complete: int,
) -> bool:
    """Whether a wearer keeps the kit after a visit: not after an urgent one, nor a broken kit.

    One that was held before the visit is kept until the shift ends, also if kits are handed out
    for each entry by now.
    """
    may = (held_kits or held_before) and not urgent and now_s < shift_end_s
    return bool(may and repair == Repair.NOTHING and complete)


@rule
def parts_that_follow(kits_away: int, parts_away: int, ready: int) -> int:
    """How many hoods (or tubes) go after the kits that are away; below 0, how many come back.

    Each kit has one with it; one that is not ready follows when it is.
    """
    return max(min(kits_away - parts_away, ready), -parts_away)
