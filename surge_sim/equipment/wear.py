"""One kit in use: how long it is worn, which alarm comes first, what is left of the visit."""

from __future__ import annotations

from surge_sim.equipment.rule import rule

#: why the wearer left early, as in engine.log.Alarm; in the same second the highest goes first
NO_ALARM, BATTERY_ALARM, FLOW_ALARM, FAULT_ALARM = 0, 1, 2, 3


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
        return NO_ALARM
    if fault_s == first_s:
        return FAULT_ALARM
    if flow_s == first_s:
        return FLOW_ALARM
    return BATTERY_ALARM


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
