"""One person's visit as SimPy tells it: need, wait, check, don, room, doff, hand in."""

from __future__ import annotations

from surge_sim.demand.trace import NEVER_S
from surge_sim.engine.draws import NoEnd
from surge_sim.engine.log import ALARM_WORDS, Alarm, Count, Outcome
from surge_sim.engine.reference import charging, line, turnaround
from surge_sim.engine.reference.things import Kit, Need, Repair, Wearer
from surge_sim.engine.reference.words import length, level, times
from surge_sim.engine.reference.world import Answer, Process, World
from surge_sim.equipment.batteries import charge_after_wear, seconds_to_reserve
from surge_sim.equipment.filters import seconds_to_flow_loss
from surge_sim.equipment.order import Moment
from surge_sim.equipment.supplies import HOODS, PREFILTERS, TUBES
from surge_sim.equipment.unit import BY_WEARER
from surge_sim.equipment.wear import (
    MOST_IN_VAIN,
    alarms_in_vain,
    first_alarm,
    recheck_count,
    rest_of_visit,
)

ALARM_COUNTS = {
    Alarm.BATTERY: Count.ALARMS_BATTERY,
    Alarm.FLOW: Count.ALARMS_FLOW,
    Alarm.FAULT: Count.ALARMS_FAULT,
}


def arrivals(ward: World) -> Process:
    """Let every entry of the trace become due in its turn."""
    for need in list(ward.needs):
        yield ward.clock.moment(Moment.DUE, need.row, need.due_s - ward.now_s)
        becomes_due(ward, need)


def becomes_due(ward: World, need: Need) -> None:
    """Begin, or wait for one's own visit before."""
    wearer = need.wearer
    if wearer is not None and wearer.busy:
        wearer.queue.append(need)
        ward.tell("entry", need.entry, "is due, but its wearer {} is busy", wearer.number)
    else:
        begin(ward, need)


def begin(ward: World, need: Need) -> None:
    """Somebody is ready to go in: the need arises."""
    need.need_s = ward.now_s
    if need.wearer is not None:
        need.wearer.busy = True
    ward.clock.process(visit(ward, need))


def wearer_free(ward: World, wearer: Wearer) -> None:
    """Free for the next visit; a kit held past the end of the shift is handed in first."""
    wearer.busy = False
    if wearer.kit is not None and ward.now_s >= wearer.shift_end_s:
        release(ward, wearer)
    if wearer.queue:
        begin(ward, wearer.queue.popleft())


def visit(ward: World, need: Need) -> Process:
    """Play one need from beginning to end."""
    urgency = ", urgently" if need.urgent else ""
    if need.part:
        left = length(need.room_s)
        ward.tell("entry", need.entry, "needs a kit for {} in the room{}", left, urgency)
    else:
        ward.tell("entry", need.entry, "needs a kit{}", urgency)
    while True:
        waits = line.want_kit(ward, need)
        if waits:
            served = yield need.turn  # type: ignore[misc]
            if not served:
                give_up(ward, need)
                return
        passed = yield from check(ward, need)
        if passed:
            break
    kit = need.kit
    assert kit is not None
    put_on(ward, need, kit)
    yield ward.clock.moment(Moment.LEAVE, kit.number, need.worn_s)
    take_off(ward, need, kit)
    rest = rest_of(ward, need)
    wearer = need.wearer
    if wearer is None:
        hand_in_all(ward, kit)
        if rest is not None:
            begin(ward, rest)
        return
    if rest is not None:
        wearer.queue.appendleft(rest)
    if may_keep(ward, need, kit, wearer):
        keep(ward, kit, wearer)
        return
    wearer.kit = None
    if ward.numbers.cleaning == BY_WEARER:
        kit.wiped = ward.clock.event()
        hand_in_all(ward, kit)
        yield kit.wiped
    else:
        hand_in_all(ward, kit)
    wearer_free(ward, wearer)


def check(ward: World, need: Need) -> Answer:
    """Check the kit; a new prefilter if no level passes; True when it passed in the end."""
    kit = need.kit
    assert kit is not None
    fresh = False
    ward.count(Count.CHECKS)
    yield ward.clock.moment(Moment.CHECKED, kit.number, ward.numbers.check_s)
    while turnaround.level_of(ward, kit) >= len(ward.numbers.life_ppm):
        need.failed_checks += 1
        ward.count(Count.FAILED_CHECKS)
        if fresh or not turnaround.take_filter(ward, PREFILTERS):
            kit.repair = Repair.MAIN_FILTER if fresh else Repair.PREFILTER
            fail(ward, need, kit)
            return False
        turnaround.fit_prefilter(ward, kit)
        fresh = True
        change = length(ward.numbers.prefilter_change_s)
        said = "fails its check at every flow level and gets a new prefilter, {} of work"
        ward.tell("kit", kit.number, said, change)
        ward.tell("entry", need.entry, f"kit {kit.number} {said}", change)
        ward.count(Count.CHECKS)
        delay_s = ward.numbers.prefilter_change_s + ward.numbers.check_s
        yield ward.clock.moment(Moment.CHECKED, kit.number, delay_s)
    return True


def fail(ward: World, need: Need, kit: Kit) -> None:
    """Put a kit aside that failed its check; its wearer is first in line again."""
    why = (
        "fails its check again, so its main filter is spent"
        if kit.repair == Repair.MAIN_FILTER
        else "fails its check and there is no prefilter in stock"
    )
    ward.tell("kit", kit.number, why)
    ward.tell("entry", need.entry, "kit {} {}; back in line", kit.number, why)
    assert kit.battery is not None
    charging.put_back(ward, kit.battery)
    kit.battery = None
    need.kit = None
    if need.wearer is not None and need.wearer.kit is kit:
        need.wearer.kit = None
        turnaround.hand_in(ward, kit)
        return
    ward.ready_hoods += kit.has_hood
    ward.ready_tubes += kit.has_tube
    kit.has_hood = kit.has_tube = False
    turnaround.go_out(ward, kit)


def put_on(ward: World, need: Need, kit: Kit) -> None:
    """Kit in hand: how long it will be worn, and which alarm would end the visit."""
    n = ward.numbers
    battery = kit.battery
    assert battery is not None
    runs_at = turnaround.level_of(ward, kit)
    need.in_hand_s = ward.now_s
    need.wait_s = ward.now_s - need.need_s - n.check_s
    need.outcome = Outcome.SERVED
    need.blower, need.battery, need.level = kit.number, battery.number, runs_at
    line.note_late(ward, need)
    rechecks = recheck_count(need.don_s + need.room_s, n.recheck_first_s, n.recheck_every_s)
    ward.count(Count.RECHECKS, rechecks)
    planned_s = need.don_s + need.room_s + rechecks * n.check_s
    reserve_s = seconds_to_reserve(battery.charge, n.run_time_s[runs_at], n.reserve_s)
    flow_s = fault_s = NEVER_S
    if n.has_filters:
        flow_s = seconds_to_flow_loss(
            kit.prefilter_run_s, kit.prefilter_life_s, kit.main_run_s, kit.main_life_s, runs_at,
            n.life_ppm,
        )  # fmt: skip
    if n.has_faults:
        fault_s = kit.fault_life_s - kit.fault_run_s
    need.alarm = first_alarm(reserve_s, flow_s, fault_s, planned_s)
    if need.alarm:
        alarm_s = min(reserve_s, flow_s, fault_s)
        need.worn_s = alarm_s + need.doff_s
        need.rest_s = rest_of_visit(need.don_s, need.room_s, planned_s, alarm_s)
    else:
        need.worn_s = planned_s + need.doff_s
    need.end_s = ward.now_s + need.worn_s
    at_level = level(ward, runs_at)
    ward.tell("kit", kit.number, "passes its check{}", at_level)
    ward.tell("entry", need.entry, "puts on kit {}, which passed its check{}", kit.number, at_level)
    ward.tell(
        "entry", need.entry, "takes {} to put it on, then {} in the room and {} to take it off",
        length(need.don_s), length(need.room_s), length(need.doff_s),
    )  # fmt: skip
    if rechecks:
        again = "checks the kit {} more during wear"
        ward.tell("entry", need.entry, again, times(rechecks, "time"))


def take_off(ward: World, need: Need, kit: Kit) -> None:
    """Kit off: run-hours, drain and damage."""
    n = ward.numbers
    battery = kit.battery
    assert battery is not None
    ward.unresolved -= 1
    ward.tell("kit", kit.number, "is taken off after {} of running", length(need.worn_s))
    battery.charge = charge_after_wear(battery.charge, need.worn_s, n.run_time_s[need.level])
    if n.has_filters:
        kit.prefilter_run_s += need.worn_s
        kit.main_run_s += need.worn_s
    if n.has_faults:
        kit.fault_run_s += need.worn_s
        if kit.fault_run_s >= kit.fault_life_s:
            kit.repair = Repair.FAULT
    if need.hood_torn and kit.has_hood:
        kit.has_hood = False
        ward.tell("kit", kit.number, "has a damaged hood, which is thrown away")
        turnaround.throw_away(ward, HOODS)
    if need.tube_torn and kit.has_tube:
        kit.has_tube = False
        ward.tell("kit", kit.number, "has a damaged tube, which is thrown away")
        turnaround.throw_away(ward, TUBES)


def rest_of(ward: World, need: Need) -> Need | None:
    """Return the new need that an alarm leaves behind, if there was one."""
    if not need.alarm:
        ward.tell("entry", need.entry, "has taken the kit off and is done")
        return None
    ward.count(ALARM_COUNTS[Alarm(need.alarm)])
    why, still = ALARM_WORDS[Alarm(need.alarm)], length(need.rest_s)
    left = "has left at an alarm ({}) and taken the kit off; {} in the room are left to do"
    if need.rest_s >= need.room_s:
        left = "has not gone in, at an alarm ({}), and taken the kit off; {} in the room are to do"
    ward.tell("entry", need.entry, left, why, still)
    ward.tell("kit", need.blower, "gave an alarm in use: {}", why)
    ward.tell("battery", need.battery, "was in kit {} at an alarm: {}", need.blower, why)
    rest = new_need(ward, need, need.rest_s, ward.now_s)
    rest.in_vain = alarms_in_vain(need.in_vain, need.room_s - need.rest_s)
    if rest.in_vain >= MOST_IN_VAIN:
        raise NoEnd(ward.now_s, need.entry, need.alarm, need.blower, need.battery)
    return rest


def may_keep(ward: World, need: Need, kit: Kit, wearer: Wearer) -> bool:
    """Whether the wearer keeps the kit for the shift."""
    return bool(
        ward.numbers.held_kits
        and not need.urgent
        and ward.now_s < wearer.shift_end_s
        and kit.repair == Repair.NOTHING
        and kit.has_hood
        and kit.has_tube
    )


def keep(ward: World, kit: Kit, wearer: Wearer) -> None:
    """Keep a kit for the shift: a short wipe, and the wearer is free."""
    wearer.kit = kit
    kit.held = True
    ward.count(Count.SHORT_WIPES)
    wipe = length(ward.numbers.short_wipe_s)
    ward.tell("kit", kit.number, "is held by wearer {}; a short wipe takes {}", wearer.number, wipe)
    ward.clock.process(free_after(ward, wearer, ward.numbers.short_wipe_s))
    if not wearer.shift_end_awaited and wearer.shift_end_s < NEVER_S:
        wearer.shift_end_awaited = True
        ward.clock.process(shift_end(ward, wearer))


def free_after(ward: World, wearer: Wearer, delay_s: int) -> Process:
    """Free the wearer after a while."""
    yield ward.clock.moment(Moment.WEARER_FREE, wearer.number, delay_s)
    wearer_free(ward, wearer)


def shift_end(ward: World, wearer: Wearer) -> Process:
    """Hand the held kit in at the end of the shift, unless it is in use just then."""
    yield ward.clock.moment(Moment.SHIFT_END, wearer.number, wearer.shift_end_s - ward.now_s)
    if wearer.kit is not None and not wearer.busy:
        release(ward, wearer)


def release(ward: World, wearer: Wearer) -> None:
    """Hand a held kit in at last."""
    kit = wearer.kit
    assert kit is not None
    wearer.kit = None
    kit.held = False
    ward.tell("kit", kit.number, "is given up by wearer {}: end of the shift", wearer.number)
    hand_in_all(ward, kit)


def hand_in_all(ward: World, kit: Kit) -> None:
    """Hand in a kit and its battery."""
    if kit.battery is not None:
        charging.put_back(ward, kit.battery)
        kit.battery = None
    turnaround.hand_in(ward, kit)


def new_need(ward: World, before: Need, room_s: int, due_s: int) -> Need:
    """Add a need that follows from another; luck of later needs is that of later entries."""
    row = ward.new_row()
    luck = (before.entry + before.part + 1) % ward.trace.entries
    need = Need(
        row, before.entry, before.part + 1, due_s, room_s, before.don_s, before.doff_s,
        before.patience_s, before.urgent, before.wearer, bool(ward.trace.hood_torn[luck]),
        bool(ward.trace.tube_torn[luck]),
    )  # fmt: skip
    ward.needs.append(need)
    ward.unresolved += 1
    return need


def give_up(ward: World, need: Need) -> None:
    """Patience is over: the visit goes on without a kit, or is postponed."""
    n, wearer = ward.numbers, need.wearer
    ward.unresolved -= 1
    need.outcome = Outcome.GAVE_UP
    need.wait_s = ward.now_s - need.need_s
    line.note_late(ward, need)
    then = (
        f"comes again in {length(n.postponed_by_s)}"
        if n.postponed
        else "the visit goes on without a kit, as the scenario says; the tool does not judge how"
    )
    ward.tell("entry", need.entry, "gives up after waiting {}; {}", length(need.wait_s), then)
    busy_s = need.don_s + need.room_s + need.doff_s
    if n.postponed:
        busy_s = 0
        again = new_need(ward, need, need.room_s, ward.now_s + n.postponed_by_s)
        ward.clock.process(due_again(ward, again))
    if wearer is not None:
        ward.clock.process(free_after(ward, wearer, busy_s))


def due_again(ward: World, need: Need) -> Process:
    """Let a postponed visit become due."""
    yield ward.clock.moment(Moment.DUE_AGAIN, need.row, need.due_s - ward.now_s)
    becomes_due(ward, need)
