"""One kit in use: how long it is worn, which alarm comes first, what is left of the visit."""

from __future__ import annotations

from enum import IntEnum

from surge_sim.equipment.kits import Repair
from surge_sim.equipment.rule import rule


class Alarm(IntEnum):
    """Why the wearer left early; in the same second the highest goes first."""

    NONE = 0
    BATTERY = 1
    FLOW = 2
    FAULT = 3


@rule
def recheck_count(wear_s: int, first_after_s: int, every_s: int) -> int:
    """Checks repeated within `wear_s`; 0 `first_after_s` means that none is asked for."""
    if first_after_s <= 0 or wear_s <= first_after_s:
        return 0
    return 1 + (wear_s - first_after_s - 1) // every_s


@rule
def first_alarm(reserve_s: int, flow_s: int, fault_s: int, visit_s: int) -> int:
    """Alarm that ends a visit of `visit_s` (donning and room time), if one comes inside it.

    In the same second a fault goes before lost flow, and lost flow before the battery.
    """
    first_s = min(reserve_s, flow_s, fault_s)
    if first_s >= visit_s:
        return Alarm.NONE
    if fault_s == first_s:
        return Alarm.FAULT
    if flow_s == first_s:
        return Alarm.FLOW
    return Alarm.BATTERY


#: an alarm leaves a visit where it was if less than this was done of it in the room [s]
LITTLE_S = 60
#: visits that so many alarms in a row left where they were will never end
MOST_IN_VAIN = 50


@rule
def alarms_in_vain(before: int, done_s: int) -> int:
    """Count the alarms in a row that left a visit where it was; ``done_s`` in the room since."""
    return 0 if done_s >= LITTLE_S else before + 1


@rule
def rest_of_visit(don_s: int, room_s: int, planned_s: int, alarm_s: int) -> int:
    """Room time still to do after an alarm `alarm_s` after the start of donning.

    `planned_s` is the whole visit (donning, room time and rechecks). Rechecks are not repeated.
    """
    return min(room_s, planned_s - max(alarm_s, don_s))


@rule
def wear(
    don_s: int,
    room_s: int,
    doff_s: int,
    check_s: int,
    rechecks: int,
    reserve_s: int,
    flow_s: int,
    fault_s: int,
) -> tuple[int, int, int]:
    """Return how a visit goes: the alarm that ends it, seconds worn, room time still to do.

    Parameters
    ----------
    don_s, room_s, doff_s : int
        Donning, room time and doffing as planned [s].
    check_s, rechecks : int
        Length of a check [s], and how many are made during wear.
    reserve_s, flow_s, fault_s : int
        Running time until each of the alarms [s].
    """
    planned_s = don_s + room_s + rechecks * check_s
    alarm = first_alarm(reserve_s, flow_s, fault_s, planned_s)
    if alarm == Alarm.NONE:
        return alarm, planned_s + doff_s, 0
    alarm_s = min(reserve_s, flow_s, fault_s)
    return alarm, alarm_s + doff_s, rest_of_visit(don_s, room_s, planned_s, alarm_s)


@rule
def is_late(served: bool, wait_s: int, target_s: int) -> bool:
    """Whether a need was not served within the target's wait."""
    return not (served and wait_s <= target_s)


@rule
def repair_after_wear(repair: int, fault_run_s: int, fault_life_s: int) -> int:
    """Say what a blower needs after a use: a repair once it has run to its fault."""
    return Repair.FAULT if fault_run_s >= fault_life_s else repair


@rule
def luck_of(entry: int, part: int) -> int:
    """Entry whose draws of torn parts a need uses: its own, and for later needs an earlier one's.

    So who comes later changes nothing of what happens now.
    """
    return entry - part % (entry + 1)
