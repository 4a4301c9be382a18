"""Kits: what makes one complete, how a visit in one goes, who keeps it, which ones are away.

A kit is away while it is recalled, or before and after the time for which it is on loan.
"""

from __future__ import annotations

from enum import IntEnum

from surge_sim.equipment.rule import rule


class Missing(IntEnum):
    """What the shelf lacks for the first in line: bits of a mask."""

    BLOWER = 1
    HOOD = 2
    TUBE = 4
    BATTERY = 8
    #: of a wearer whom the hood of a kit does not fit
    LARGE_HOOD = 16


class Repair(IntEnum):
    """What a blower needs before it can be used again."""

    NOTHING = 0
    PREFILTER = 1
    HE_FILTER = 2
    FAILURE = 3


class Keep(IntEnum):
    """For how long a wearer keeps a kit after a visit."""

    NOT = 0
    SHIFT = 1
    #: for the entries of one wearer that became due in the same second
    ROUND = 2


#: names of these as policies
KEPT = ("per entry", "held for a shift", "per round")


class Way(IntEnum):
    """Ways on which a kit is carried in each cycle."""

    #: from the shelf to where it is checked and put on
    FETCHED = 0
    #: to where kits and batteries are handed in
    BACK = 1
    #: on to the place of the wipe-down
    TO_CLEANING = 2


class Alarm(IntEnum):
    """Why the wearer left early; in the same second the highest goes first."""

    NONE = 0
    BATTERY = 1
    FLOW = 2
    FAILURE = 3
    BATTERY_FAILURE = 4


#: an alarm leaves a visit where it was if less than this was done of it in the room [s]
LITTLE_S = 60
#: visits that so many alarms in a row left where they were will never end
MOST_IN_VAIN = 50


@rule
def missing_parts(blowers: int, hoods: int, tubes: int, back: int, large: bool) -> int:
    """Say what of a kit but its battery is missing, when `back` of each are kept back.

    ``hoods`` are those of the wearer's size, ``large`` whether that is the large one.
    """
    mask = 0
    if blowers <= back:
        mask |= Missing.BLOWER
    if hoods <= back:
        mask |= Missing.LARGE_HOOD if large else Missing.HOOD
    if tubes <= back:
        mask |= Missing.TUBE
    return mask


@rule
def lets_pass(missing: int) -> bool:
    """Whether the first in a line lets those pass who need a hood of the other size.

    Only a hood of the right size is not there (a battery may lack too, and will for them).
    """
    parts = missing & ~Missing.BATTERY
    return bool(parts == Missing.HOOD or parts == Missing.LARGE_HOOD)


@rule
def begins_to_lack(part: int, missing: int, before: int) -> bool:
    """Whether a part (a bit of `Missing`) runs short now, which is counted as a stock-out.

    Without a clean blower to put it on, nobody knows that it is short.
    """
    now = missing & part and not missing & Missing.BLOWER
    then = before & part and not before & Missing.BLOWER
    return bool(now and not then)


@rule
def recheck_count(wear_s: int, first_after_s: int, every_s: int) -> int:
    """Checks repeated within `wear_s`; 0 `first_after_s` means that none is asked for."""
    if first_after_s <= 0 or wear_s <= first_after_s:
        return 0
    return 1 + (wear_s - first_after_s - 1) // every_s


@rule
def rechecks_by(alarm_s: int, check_s: int, first_after_s: int, every_s: int) -> tuple[int, int]:
    """Count the rechecks that are over `alarm_s` after the start of donning, and their seconds.

    One that the alarm interrupts is not counted, but its time is.
    """
    since_s = alarm_s - first_after_s
    if first_after_s <= 0 or since_s <= 0:
        return 0, 0
    made = since_s // (check_s + every_s)
    begun_s = min(since_s - made * (check_s + every_s), check_s)
    return made + int(begun_s == check_s), made * check_s + begun_s


@rule
def first_alarm(
    reserve_s: int, flow_s: int, failure_s: int, battery_fault_s: int, visit_s: int
) -> int:
    """Alarm that ends a visit of `visit_s` (donning and room time), if one comes inside it.

    In the same second a fault of the battery goes before one of the blower, that before lost flow,
    and lost flow before the battery's reserve.
    """
    first_s = min(reserve_s, flow_s, failure_s, battery_fault_s)
    if first_s >= visit_s:
        return Alarm.NONE
    if battery_fault_s == first_s:
        return Alarm.BATTERY_FAILURE
    if failure_s == first_s:
        return Alarm.FAILURE
    if flow_s == first_s:
        return Alarm.FLOW
    return Alarm.BATTERY


@rule
def alarms_in_vain(before: int, done_s: int) -> int:
    """Count the alarms in a row that left a visit where it was; ``done_s`` in the room since."""
    return 0 if done_s >= LITTLE_S else before + 1


@rule
def rest_of_visit(don_s: int, room_s: int, alarm_s: int, rechecks_s: int) -> int:
    """Room time still to do after an alarm `alarm_s` after the start of donning.

    ``rechecks_s``: how much of that went into rechecks.
    """
    return room_s - max(alarm_s - rechecks_s - don_s, 0)


@rule
def wear(
    don_s: int,
    room_s: int,
    doff_s: int,
    check_s: int,
    recheck_first_s: int,
    recheck_every_s: int,
    reserve_s: int,
    flow_s: int,
    failure_s: int,
    battery_fault_s: int,
) -> tuple[int, int, int, int]:
    """Return how a visit goes: the alarm that ends it, seconds worn, room time left, rechecks.

    Parameters
    ----------
    don_s, room_s, doff_s : int
        Donning, room time and doffing as planned [s].
    check_s, recheck_first_s, recheck_every_s : int
        Length of a check [s], and when it is repeated during wear, see `recheck_count`.
    reserve_s, flow_s, failure_s, battery_fault_s : int
        Running time until each of the alarms [s].
    """
    rechecks = recheck_count(don_s + room_s, recheck_first_s, recheck_every_s)
    planned_s = don_s + room_s + rechecks * check_s
    alarm = first_alarm(reserve_s, flow_s, failure_s, battery_fault_s, planned_s)
    if alarm == Alarm.NONE:
        return alarm, planned_s + doff_s, 0, rechecks
    alarm_s = min(reserve_s, flow_s, failure_s, battery_fault_s)
    made, rechecks_s = rechecks_by(alarm_s, check_s, recheck_first_s, recheck_every_s)
    return alarm, alarm_s + doff_s, rest_of_visit(don_s, room_s, alarm_s, rechecks_s), made


@rule
def wait_until_in_hand(now_s: int, need_s: int, check_s: int, fetched_s: int) -> int:
    """Wait [s] of a request whose kit passed its check now.

    One check, and one way from the shelf where there was one (``fetched_s``), would be there with
    any stock; those of kits that failed their check before are wait.
    """
    return now_s - need_s - check_s - fetched_s


@rule
def is_late(served: bool, wait_s: int, target_s: int) -> bool:
    """Whether a need was not served within the target's wait."""
    return not (served and wait_s <= target_s)


@rule
def busy_after_giving_up(postponed: int, don_s: int, room_s: int, doff_s: int) -> int:
    """Seconds that a wearer is busy who gave up waiting: none where the visit is postponed."""
    return 0 if postponed else don_s + room_s + doff_s


@rule
def repair_after_wear(repair: int, failure_run_s: int, failure_life_s: int) -> int:
    """Say what a blower needs after a use: a repair once it has run to its fault."""
    return Repair.FAILURE if failure_run_s >= failure_life_s else repair


@rule
def luck_of(entry: int, part: int) -> int:
    """Entry whose draws of torn parts a need uses: its own, and for later needs an earlier one's.

    So who comes later changes nothing of what happens now.
    """
    return entry - part % (entry + 1)


@rule
def kept_after_visit(
    policy: int,
    before: int,
    urgent: int,
    now_s: int,
    shift_end_s: int,
    round_goes_on: int,
    repair: int,
    complete: int,
) -> int:
    """For how long a wearer keeps the kit after a visit, see `Keep`.

    Not after an urgent one, nor a broken kit. One that was kept before the visit is kept until the
    shift, or the round, ends, also if kits are handed out for each entry by now.

    Parameters
    ----------
    policy, before : int
        For how long kits are kept now, and for how long this one was to be before the visit.
    urgent : int
        Whether the visit was urgent.
    now_s, shift_end_s : int
        Present second, and the end of the wearer's shift [s].
    round_goes_on : int
        Whether the wearer's next visit belongs to the same round.
    repair : int
        What the kit needs, see `Repair`.
    complete : int
        Whether hood and tube are on it.
    """
    if urgent or repair != Repair.NOTHING or not complete:
        return Keep.NOT
    if (policy == Keep.SHIFT or before == Keep.SHIFT) and now_s < shift_end_s:
        return Keep.SHIFT
    if (policy == Keep.ROUND or before == Keep.ROUND) and round_goes_on:
        return Keep.ROUND
    return Keep.NOT


@rule
def still_kept(kept: int, now_s: int, shift_end_s: int, round_goes_on: int) -> bool:
    """Whether a kit that was kept for a shift, or a round, is so at the next visit."""
    return bool(round_goes_on if kept == Keep.ROUND else now_s < shift_end_s)


@rule
def parts_that_follow(kits_away: int, parts_away: int, ready: int) -> int:
    """How many hoods (or tubes) go after the kits that are away; below 0, how many come back.

    Each kit has one with it; one that is not ready follows when it is.
    """
    return max(min(kits_away - parts_away, ready), -parts_away)


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
