"""One person's visit as SimPy tells it: need, wait, check, don, room, doff, hand in."""

from __future__ import annotations

from surge_sim.engine.log import Alarm, Count, Kind, NoEnd, Outcome, Way
from surge_sim.engine.reference import charging, line, turnaround
from surge_sim.engine.reference.ward import Answer, Kit, Need, Process, Ward, Wearer
from surge_sim.equipment.batteries import charge_after_wear, has_failed, seconds_to_reserve
from surge_sim.equipment.cleaning import BY_WEARER
from surge_sim.equipment.filters import (
    AfterFailedCheck,
    after_failed_check,
    repair_after_check,
    seconds_to_flow_loss,
)
from surge_sim.equipment.kits import (
    MOST_IN_VAIN,
    Keep,
    alarms_in_vain,
    busy_after_giving_up,
    kept_after_visit,
    luck_of,
    repair_after_wear,
    still_kept,
    wait_until_in_hand,
    wear,
)
from surge_sim.equipment.order import Moment
from surge_sim.equipment.supplies import PREFILTERS, TUBES, hoods_of_size
from surge_sim.units import NEVER_S

ALARM_COUNTS = {
    Alarm.BATTERY: Count.ALARMS_BATTERY,
    Alarm.FLOW: Count.ALARMS_FLOW,
    Alarm.FAILURE: Count.ALARMS_FAILURE,
    Alarm.BATTERY_FAILURE: Count.ALARMS_BATTERY_FAILURE,
}


def arrivals(ward: Ward) -> Process:
    """Let every entry of the trace become due in its turn."""
    for need in list(ward.needs):
        yield ward.clock.moment(Moment.DUE, need.row, need.due_s - ward.now_s)
        becomes_due(ward, need)


def becomes_due(ward: Ward, need: Need) -> None:
    """Begin, or wait for one's own visit before."""
    wearer = need.wearer
    if wearer is not None and wearer.busy:
        wearer.queue.append(need)
        ward.tell(Kind.WEARER_BUSY, wearer.number, entry=need.entry)
    else:
        begin(ward, need)


def begin(ward: Ward, need: Need) -> None:
    """Somebody is ready to go in: the need arises."""
    need.need_s = ward.now_s
    if need.wearer is not None:
        need.wearer.busy = True
    ward.clock.process(visit(ward, need))


def wearer_free(ward: Ward, wearer: Wearer) -> None:
    """Free for the next visit; a kit held past the end of the shift or round goes first."""
    on = round_goes_on(ward, wearer, wearer.round_s)
    if wearer.kit is not None and not still_kept(wearer.keeps, ward.now_s, wearer.shift_end_s, on):
        ward.clock.process(release(ward, wearer))
        return
    wearer.busy = False
    if wearer.queue:
        begin(ward, wearer.queue.popleft())


def round_goes_on(ward: Ward, wearer: Wearer, due_s: int) -> bool:
    """Whether the wearer's next visit was due at the same second as those before."""
    return bool(wearer.queue) and due_of_entry(ward, wearer.queue[0]) == due_s


def due_of_entry(ward: Ward, need: Need) -> int:
    """When the entry of a need became due first."""
    return ward.needs[need.entry].due_s


def visit(ward: Ward, need: Need) -> Process:
    """Play one need from beginning to end."""
    ward.tell(Kind.NEEDS_KIT, need.part, need.room_s, entry=need.entry)
    while True:
        waits = line.want_kit(ward, need)
        if waits:
            served = yield need.turn  # type: ignore[misc]
            if not served:
                give_up(ward, need)
                return
        fetched_s = ward.numbers.fetch_s if waits else 0
        passed = yield from check(ward, need, fetched_s)
        if passed:
            break
    kit = need.kit
    assert kit is not None
    put_on(ward, need, kit, fetched_s)
    yield ward.clock.moment(Moment.LEAVE, kit.number, need.worn_s)
    take_off(ward, need, kit)
    rest = rest_of(ward, need)
    wearer = need.wearer
    if wearer is None:
        bring_back(ward, kit)
        if rest is not None:
            begin(ward, rest)
        return
    if rest is not None:
        wearer.queue.appendleft(rest)
    # beside another kit that is kept, this one is not
    if wearer.kit is None or wearer.kit is kit:
        wearer.round_s = due_of_entry(ward, need)
        wearer.keeps = kept_after_visit(
            ward.numbers.kept, wearer.keeps if wearer.kit is kit else Keep.NOT, need.urgent,
            ward.now_s, wearer.shift_end_s, round_goes_on(ward, wearer, wearer.round_s), kit.repair,
            kit.has_hood and kit.has_tube,
        )  # fmt: skip
        if wearer.keeps:
            keep(ward, kit, wearer)
            return
        wearer.kit = None
    yield from hand_over(ward, kit, wearer)


def hand_over(ward: Ward, kit: Kit, wearer: Wearer) -> Process:
    """Bring a kit back; its wearer is free then, or where wearers wipe, once it is wiped down."""
    if ward.numbers.cleaning == BY_WEARER:
        kit.wiped = ward.clock.event()
        bring_back(ward, kit)
        yield kit.wiped
        wearer_free(ward, wearer)
    else:
        bring_back(ward, kit, wearer)


def check(ward: Ward, need: Need, fetched_s: int) -> Answer:
    """Check the kit once it is fetched; a new prefilter if no level passes; True if it passed."""
    kit = need.kit
    assert kit is not None
    fresh, delay_s = False, fetched_s + ward.numbers.check_s
    while True:
        ward.counts[Count.CHECKS] += 1
        yield ward.clock.moment(Moment.CHECKED, kit.number, delay_s)
        if turnaround.level_of(ward, kit) < len(ward.numbers.life_ppm):
            return True
        need.failed_checks += 1
        ward.counts[Count.FAILED_CHECKS] += 1
        follows = after_failed_check(fresh, turnaround.is_there(ward, PREFILTERS))
        ward.tell(Kind.CHECK_FAILS, follows, entry=need.entry, kit=kit.number)
        if follows != AfterFailedCheck.NEW_PREFILTER:
            if follows == AfterFailedCheck.LACKS_PREFILTER:
                turnaround.stock_out(ward, PREFILTERS, kit)
            kit.repair = repair_after_check(follows)
            fail(ward, need, kit)
            return False
        turnaround.take_filter(ward, PREFILTERS)
        turnaround.fit_prefilter(ward, kit)
        fresh = True
        delay_s = ward.numbers.prefilter_change_s + ward.numbers.check_s


def fail(ward: Ward, need: Need, kit: Kit) -> None:
    """Put a kit aside that failed its check; its wearer is first in line again."""
    assert kit.battery is not None
    charging.put_back(ward, kit.battery)
    kit.battery = None
    need.kit = None
    if need.wearer is not None and need.wearer.kit is kit:
        need.wearer.kit = None
        turnaround.hand_in(ward, kit)
        return
    turnaround.take_apart(ward, kit)
    turnaround.go_out(ward, kit)


def put_on(ward: Ward, need: Need, kit: Kit, fetched_s: int) -> None:
    """Kit in hand: how long it will be worn, and which alarm would end the visit."""
    n = ward.numbers
    battery = kit.battery
    assert battery is not None
    runs_at = turnaround.level_of(ward, kit)
    need.in_hand_s = ward.now_s
    need.wait_s = wait_until_in_hand(ward.now_s, need.need_s, n.check_s, fetched_s)
    need.outcome = Outcome.SERVED
    need.blower, need.battery, need.level = kit.number, battery.number, runs_at
    line.note_late(ward, need)
    reserve_s = seconds_to_reserve(battery.charge, n.run_time_s[runs_at], n.reserve_s)
    flow_s = failure_s = battery_fault_s = NEVER_S
    if n.has_filters:
        flow_s = seconds_to_flow_loss(
            kit.prefilter_run_s, kit.prefilter_life_s, kit.he_run_s, kit.he_life_s, runs_at,
            n.life_ppm,
        )  # fmt: skip
    if n.has_failures:
        failure_s = kit.failure_life_s - kit.failure_run_s
    if n.has_battery_failures:
        battery_fault_s = battery.failure_life_s - battery.failure_run_s
    need.alarm, need.worn_s, need.rest_s, rechecks = wear(
        need.don_s, need.room_s, need.doff_s, n.check_s, n.recheck_first_s, n.recheck_every_s,
        reserve_s, flow_s, failure_s, battery_fault_s,
    )  # fmt: skip
    ward.counts[Count.RECHECKS] += rechecks
    need.end_s = ward.now_s + need.worn_s
    things = {"entry": need.entry, "kit": kit.number, "battery": battery.number}
    ward.tell(Kind.PUTS_ON, runs_at, need.room_s, rechecks, **things)


def take_off(ward: Ward, need: Need, kit: Kit) -> None:
    """Kit off: run-hours, drain and damage."""
    n = ward.numbers
    battery = kit.battery
    assert battery is not None
    things = {"entry": need.entry, "kit": kit.number, "battery": battery.number}
    ward.tell(Kind.TAKES_OFF, need.worn_s, need.alarm, need.rest_s, need.room_s, **things)
    battery.charge = charge_after_wear(battery.charge, need.worn_s, n.run_time_s[need.level])
    if n.has_filters:
        kit.prefilter_run_s += need.worn_s
        kit.he_run_s += need.worn_s
    if n.has_failures:
        kit.failure_run_s += need.worn_s
        kit.repair = repair_after_wear(kit.repair, kit.failure_run_s, kit.failure_life_s)
    if n.has_battery_failures:
        battery.failure_run_s += need.worn_s
        if has_failed(battery.failure_run_s, battery.failure_life_s):
            charging.send_out(ward, battery)
            kit.battery = None
    if need.hood_torn and kit.has_hood:
        kit.has_hood = False
        turnaround.throw_away(ward, kit, hoods_of_size(kit.large_hood))
    if need.tube_torn and kit.has_tube:
        kit.has_tube = False
        turnaround.throw_away(ward, kit, TUBES)


def rest_of(ward: Ward, need: Need) -> Need | None:
    """Return the new need that an alarm leaves behind, if there was one."""
    if not need.alarm:
        return None
    if need.entry >= ward.numbers.entries_before:
        ward.counts[ALARM_COUNTS[Alarm(need.alarm)]] += 1
    rest = new_need(ward, need, need.rest_s, ward.now_s)
    rest.in_vain = alarms_in_vain(need.in_vain, need.room_s - need.rest_s)
    if rest.in_vain >= MOST_IN_VAIN:
        raise NoEnd(ward.now_s, need.entry, need.alarm, need.blower, need.battery)
    return rest


def keep(ward: Ward, kit: Kit, wearer: Wearer) -> None:
    """Keep a kit for the shift or the round: a short wipe, and the wearer is free."""
    wearer.kit = kit
    kit.held = True
    ward.counts[Count.SHORT_WIPES] += 1
    ward.tell(Kind.KIT_HELD, wearer.number, wearer.keeps, kit=kit.number)
    ward.clock.process(free_after(ward, wearer, ward.numbers.wipe_between_visits_s))
    waits = wearer.keeps == Keep.SHIFT and not wearer.shift_end_awaited
    if waits and wearer.shift_end_s < NEVER_S:
        wearer.shift_end_awaited = True
        ward.clock.process(shift_end(ward, wearer))


def free_after(ward: Ward, wearer: Wearer, delay_s: int) -> Process:
    """Free the wearer after a while."""
    yield ward.clock.moment(Moment.WEARER_FREE, wearer.number, delay_s)
    wearer_free(ward, wearer)


def shift_end(ward: Ward, wearer: Wearer) -> Process:
    """Hand the held kit in at the end of the shift, unless it is in use just then."""
    yield ward.clock.moment(Moment.SHIFT_END, wearer.number, wearer.shift_end_s - ward.now_s)
    if wearer.kit is not None and not wearer.busy:
        wearer_free(ward, wearer)


def release(ward: Ward, wearer: Wearer) -> Process:
    """Hand a held kit in at last."""
    kit = wearer.kit
    assert kit is not None
    wearer.kit = None
    wearer.busy = True
    kit.held = False
    ward.tell(Kind.KIT_RELEASED, wearer.number, wearer.keeps, kit=kit.number)
    yield from hand_over(ward, kit, wearer)


def bring_back(ward: Ward, kit: Kit, wearer: Wearer | None = None) -> None:
    """Bring a kit and its battery back; the wearer who is named is free then."""
    if ward.numbers.bring_back_s:
        ward.tell(Kind.KIT_CARRIED, ward.numbers.bring_back_s, Way.BACK, kit=kit.number)
        ward.clock.process(carry_back(ward, kit, wearer))
    else:
        hand_in_all(ward, kit, wearer)


def carry_back(ward: Ward, kit: Kit, wearer: Wearer | None) -> Process:
    """Carry a kit to where kits and batteries are handed in."""
    yield ward.clock.moment(Moment.CARRIED, kit.number, ward.numbers.bring_back_s)
    hand_in_all(ward, kit, wearer)


def hand_in_all(ward: Ward, kit: Kit, wearer: Wearer | None) -> None:
    """Hand in the battery, and the kit as soon as it is at the place of the wipe-down."""
    if kit.battery is not None:
        charging.put_back(ward, kit.battery)
        kit.battery = None
    if ward.numbers.to_cleaning_s:
        ward.tell(Kind.KIT_CARRIED, ward.numbers.to_cleaning_s, Way.TO_CLEANING, kit=kit.number)
        ward.clock.process(carry_to_cleaning(ward, kit))
    else:
        turnaround.hand_in(ward, kit)
    if wearer is not None:
        wearer_free(ward, wearer)


def carry_to_cleaning(ward: Ward, kit: Kit) -> Process:
    """Carry a kit to the place of the wipe-down."""
    yield ward.clock.moment(Moment.CARRIED, kit.number, ward.numbers.to_cleaning_s)
    turnaround.hand_in(ward, kit)


def new_need(ward: Ward, before: Need, room_s: int, due_s: int) -> Need:
    """Add a need that follows from another."""
    row = ward.new_row()
    luck = luck_of(before.entry, before.part + 1)
    need = Need(
        row, before.entry, before.part + 1, due_s, room_s, before.don_s, before.doff_s,
        before.maximum_wait_s, before.urgent, before.wearer, bool(ward.trace.hood_torn[luck]),
        bool(ward.trace.tube_torn[luck]), before.large_hood,
    )  # fmt: skip
    ward.needs.append(need)
    return need


def give_up(ward: Ward, need: Need) -> None:
    """The maximum wait is over: the visit leaves the queue, or is postponed."""
    n, wearer = ward.numbers, need.wearer
    if need.kit is not None:
        need.kit.held = True
    need.outcome = Outcome.RENEGED
    need.wait_s = ward.now_s - need.need_s
    line.note_late(ward, need)
    busy_s = busy_after_giving_up(n.postponed, need.don_s, need.room_s, need.doff_s)
    if n.postponed:
        again = new_need(ward, need, need.room_s, ward.now_s + n.postponed_by_s)
        ward.clock.process(due_again(ward, again))
    if wearer is not None:
        ward.clock.process(free_after(ward, wearer, busy_s))


def due_again(ward: Ward, need: Need) -> Process:
    """Let a postponed visit become due."""
    yield ward.clock.moment(Moment.DUE_AGAIN, need.row, need.due_s - ward.now_s)
    becomes_due(ward, need)
