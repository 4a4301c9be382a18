"""One person's visit: need, wait, check, don, room, doff, hand in."""

from __future__ import annotations

from numba import njit

from surge_sim.engine.compiled import charging, line, turnaround
from surge_sim.engine.compiled.basics import (
    INLINE,
    NONE,
    ONCE,
    ONE,
    OPTIONS,
    PREFILTERS,
    TUBES,
    ZERO,
    append,
    const,
    insert_behind,
    moment,
    pop_first,
    tell,
)
from surge_sim.engine.compiled.state import SHELF
from surge_sim.engine.log import Alarm, Count, Kind, Outcome, Way
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
from surge_sim.equipment.supplies import hoods_of_size
from surge_sim.units import NEVER_S

#: counts of alarms stand in the order of the alarms
ALARMS = const(Count.ALARMS_BATTERY - Alarm.BATTERY)
MOST_ALARMS_IN_VAIN = const(MOST_IN_VAIN)


@njit(**OPTIONS)
def first_need(s, e, row):
    """Lay out the first need of an entry."""
    lay_out(s, row, row, ZERO, e.due_s[row], e.room_s[row], e.urgent[row])
    s.needs[row].late = s.needs[row].urgent_late = 0
    s.needs[row].mark, s.needs[row].large_hood = e.mark[row], e.large_hood[row]


@njit(**INLINE)
def lay_out(s, row, entry, part, due_s, room_s, urgent):
    """Fill the record of a need that has just come up."""
    nd = s.needs[row]
    nd.entry, nd.part, nd.due_s, nd.room_s, nd.urgent = entry, part, due_s, room_s, urgent
    nd.need_s = nd.in_hand_s = nd.end_s = nd.blower = nd.battery = nd.level = nd.kit = -1
    nd.wait_s = nd.outcome = nd.alarm = nd.failed_checks = nd.worn_s = nd.rest_s = 0
    nd.waiting = nd.in_vain = nd.clocked = 0
    nd.next = nd.before = -1


@njit(**OPTIONS)
def becomes_due(s, f, e, need):
    """Begin, or wait for one's own visit before."""
    wearer = e.wearer[s.needs[need].entry]
    if wearer >= 0 and s.wearers[wearer].busy:
        tell(s, Kind.WEARER_BUSY, s.needs[need].entry, one=wearer)
        append(s.needs, s.ends, SHELF + len(f.life_ppm) + wearer, need)
    else:
        begin(s, f, e, need)


@njit(**OPTIONS)
def begin(s, f, e, need):
    """Somebody is ready to go in: the need arises."""
    nd = s.needs[need]
    nd.need_s = s.ward[0].now_s
    wearer = e.wearer[nd.entry]
    if wearer >= 0:
        s.wearers[wearer].busy = 1
    tell(s, Kind.NEEDS_KIT, nd.entry, one=nd.part, two=nd.room_s)
    line.want_kit(s, f, e, need)


@njit(**OPTIONS)
def wearer_free(s, f, e, wearer):
    """Free for the next visit; a kit held past the end of the shift or round goes first."""
    w = s.wearers[wearer]
    if w.kit >= 0:
        on = round_goes_on(s, f, e, wearer, w.round_s)
        kept = still_kept(w.keeps, s.ward[0].now_s, e.shift_end_s[wearer], on)
        if not kept and not release(s, f, wearer):
            return
    w.busy = 0
    queue = SHELF + len(f.life_ppm) + wearer
    if s.ends[queue, 0] >= 0:
        begin(s, f, e, pop_first(s.needs, s.ends, queue))


@njit(**INLINE)
def round_goes_on(s, f, e, wearer, due_s):
    """Whether the wearer's next visit was due at the same second as those before."""
    first = s.ends[SHELF + len(f.life_ppm) + wearer, 0]
    return first >= 0 and e.due_s[s.needs[first].entry] == due_s


@njit(**OPTIONS)
def checked(s, f, e, work, kit):
    """The check has ended: put on; or a new prefilter and check again; or put aside."""
    k = s.kits[kit]
    need = k.need
    if turnaround.level_of(s, f, kit) < len(f.life_ppm):
        put_on(s, f, e, need, kit)
        return
    s.needs[need].failed_checks += 1
    s.counts[Count.FAILED_CHECKS] += 1
    follows = ZERO + after_failed_check(k.fresh, turnaround.is_there(s, f, PREFILTERS))
    tell(s, Kind.CHECK_FAILS, s.needs[need].entry, kit, one=follows)
    if follows != AfterFailedCheck.NEW_PREFILTER:
        if follows == AfterFailedCheck.LACKS_PREFILTER:
            turnaround.stock_out(s, PREFILTERS, kit)
        k.repair = repair_after_check(follows)
        fail(s, f, e, work, need, kit)
        line.want_kit(s, f, e, need)
        return
    turnaround.take_filter(s, f, PREFILTERS)
    turnaround.fit_prefilter(s, f, work, kit)
    k.fresh = 1
    s.counts[Count.CHECKS] += 1
    moment(s, Moment.CHECKED, kit, f.n[0].prefilter_change_s + f.n[0].check_s)


@njit(**OPTIONS)
def fail(s, f, e, work, need, kit):
    """Put a kit aside that failed its check; its wearer is first in line again."""
    k = s.kits[kit]
    charging.put_back(s, f, k.battery)
    k.battery = k.need = -1
    nd = s.needs[need]
    nd.kit = -1
    wearer = e.wearer[nd.entry]
    if wearer >= 0 and s.wearers[wearer].kit == kit:
        s.wearers[wearer].kit = -1
        turnaround.hand_in(s, f, kit, NONE)
        return
    turnaround.take_apart(s, k)
    turnaround.go_out(s, f, work, kit)


@njit(**OPTIONS)
def put_on(s, f, e, need, kit):
    """Kit in hand: how long it will be worn, and which alarm would end the visit."""
    n, nd, k, now_s = f.n[0], s.needs[need], s.kits[kit], s.ward[0].now_s
    level = turnaround.level_of(s, f, kit)
    nd.in_hand_s = now_s
    nd.wait_s = wait_until_in_hand(now_s, nd.need_s, n.check_s, k.fetched_s)
    nd.outcome = Outcome.SERVED
    nd.blower, nd.battery, nd.level = kit, k.battery, level
    line.note_late(s, f, need)
    don_s, doff_s = e.don_s[nd.entry], e.doff_s[nd.entry]
    reserve_s = seconds_to_reserve(s.batteries[k.battery].charge, f.run_time_s[level], n.reserve_s)
    flow_s = failure_s = battery_fault_s = NEVER_S
    if n.has_filters:
        flow_s = seconds_to_flow_loss(
            k.prefilter_run_s, k.prefilter_life_s, k.he_run_s, k.he_life_s, level,
            f.life_ppm,
        )  # fmt: skip
    if n.has_failures:
        failure_s = k.failure_life_s - k.failure_run_s
    if n.has_battery_failures:
        b = s.batteries[k.battery]
        battery_fault_s = b.failure_life_s - b.failure_run_s
    nd.alarm, nd.worn_s, nd.rest_s, rechecks = wear(
        don_s, nd.room_s, doff_s, n.check_s, n.recheck_first_s, n.recheck_every_s, reserve_s,
        flow_s, failure_s, battery_fault_s,
    )  # fmt: skip
    s.counts[Count.RECHECKS] += rechecks
    nd.end_s = now_s + nd.worn_s
    tell(s, Kind.PUTS_ON, nd.entry, kit, k.battery, level, nd.room_s, rechecks)
    moment(s, Moment.LEAVE, kit, nd.worn_s)


@njit(**OPTIONS)
def leave(s, f, e, work, kit):
    """The visit has ended: take off, keep or hand in; the rest of it is a new need."""
    need = s.kits[kit].need
    take_off(s, f, e, work, need, kit)
    rest = rest_of(s, f, e, need)
    s.kits[kit].need = -1
    wearer = e.wearer[s.needs[need].entry]
    if wearer < 0:
        bring_back(s, f, kit, NONE)
        if rest >= 0:
            begin(s, f, e, rest)
        return
    if rest >= 0:
        insert_behind(s.needs, s.ends, SHELF + len(f.life_ppm) + wearer, rest, NONE)
    k, w = s.kits[kit], s.wearers[wearer]
    if w.kit < 0 or w.kit == kit:
        w.round_s = e.due_s[s.needs[need].entry]
        w.keeps = kept_after_visit(
            f.n[0].kept, w.keeps if w.kit == kit else ZERO, s.needs[need].urgent, s.ward[0].now_s,
            e.shift_end_s[wearer], round_goes_on(s, f, e, wearer, w.round_s), k.repair,
            k.has_hood and k.has_tube,
        )  # fmt: skip
        if w.keeps:
            keep(s, f, e, kit, wearer)
            return
        w.kit = -1
    if bring_back(s, f, kit, wearer):
        wearer_free(s, f, e, wearer)


@njit(**INLINE)
def take_off(s, f, e, work, need, kit):
    """Kit off: run-hours, drain and damage."""
    n, nd, k = f.n[0], s.needs[need], s.kits[kit]
    tell(
        s, Kind.TAKES_OFF, nd.entry, kit, k.battery, nd.worn_s, nd.alarm, nd.rest_s, nd.room_s
    )  # fmt: skip
    b = s.batteries[k.battery]
    b.charge = charge_after_wear(b.charge, nd.worn_s, f.run_time_s[nd.level])
    if n.has_filters:
        k.prefilter_run_s += nd.worn_s
        k.he_run_s += nd.worn_s
    if n.has_failures:
        k.failure_run_s += nd.worn_s
        k.repair = repair_after_wear(k.repair, k.failure_run_s, k.failure_life_s)
    if n.has_battery_failures:
        b.failure_run_s += nd.worn_s
        if has_failed(b.failure_run_s, b.failure_life_s):
            charging.send_out(s, f, work, k.battery)
            k.battery = -1
    luck = luck_of(nd.entry, nd.part)
    if e.hood_torn[luck] and k.has_hood:
        k.has_hood = 0
        turnaround.throw_away(s, f, kit, ONE * hoods_of_size(k.large_hood), ZERO)
    if e.tube_torn[luck] and k.has_tube:
        k.has_tube = 0
        turnaround.throw_away(s, f, kit, TUBES, ZERO)


@njit(**OPTIONS)
def rest_of(s, f, e, need):
    """Return the new need that an alarm leaves behind, if there was one."""
    nd = s.needs[need]
    if not nd.alarm:
        return -1
    if nd.entry >= f.n[0].entries_before:
        s.counts[ALARMS + nd.alarm] += 1
    rest = new_need(s, need, nd.rest_s, s.ward[0].now_s)
    if rest >= 0:
        s.needs[rest].in_vain = alarms_in_vain(nd.in_vain, nd.room_s - nd.rest_s)
        if s.needs[rest].in_vain >= MOST_ALARMS_IN_VAIN and not s.ward[0].no_end:
            s.ward[0].no_end = 1 + need
            return -1
    return rest


@njit(**OPTIONS)
def keep(s, f, e, kit, wearer):
    """Keep a kit for the shift or the round: a short wipe, and the wearer is free."""
    w = s.wearers[wearer]
    w.kit = kit
    line.hold(s, kit)
    s.counts[Count.SHORT_WIPES] += 1
    tell(s, Kind.KIT_HELD, kit=kit, one=wearer, two=w.keeps)
    moment(s, Moment.WEARER_FREE, wearer, f.n[0].wipe_between_visits_s)
    shift_end_s = e.shift_end_s[wearer]
    if w.keeps == Keep.SHIFT and not w.shift_end_awaited and shift_end_s < NEVER_S:
        w.shift_end_awaited = 1
        moment(s, Moment.SHIFT_END, wearer, shift_end_s - s.ward[0].now_s)


@njit(**OPTIONS)
def shift_end(s, f, e, wearer):
    """Hand the held kit in at the end of the shift, unless it is in use just then."""
    if s.wearers[wearer].kit >= 0 and not s.wearers[wearer].busy:
        wearer_free(s, f, e, wearer)


@njit(**OPTIONS)
def release(s, f, wearer):
    """Hand a held kit in at last; return whether its wearer is free already."""
    kit = s.wearers[wearer].kit
    s.wearers[wearer].kit, s.wearers[wearer].busy = -1, 1
    line.let_go(s, kit)
    tell(s, Kind.KIT_RELEASED, kit=kit, one=wearer, two=s.wearers[wearer].keeps)
    return bring_back(s, f, kit, wearer)


@njit(**OPTIONS)
def bring_back(s, f, kit, wearer):
    """Bring a kit and its battery back; return whether its wearer is free at once.

    The wearer is free when the kit is back, or, where wearers wipe, when it is wiped down.
    """
    k, bring_back_s = s.kits[kit], f.n[0].bring_back_s
    wipes = f.n[0].cleaning == BY_WEARER
    k.carrier, k.wiper, k.brought = (NONE if wipes else wearer), (wearer if wipes else NONE), 0
    if bring_back_s:
        tell(s, Kind.KIT_CARRIED, kit=kit, one=bring_back_s, two=Way.BACK)
        moment(s, Moment.CARRIED, kit, bring_back_s)
        return False
    hand_in_all(s, f, kit)
    return not wipes


@njit(**OPTIONS)
def hand_in_all(s, f, kit):
    """Hand in the battery, and the kit as soon as it is at the place of the wipe-down."""
    k, to_cleaning_s = s.kits[kit], f.n[0].to_cleaning_s
    k.brought = 1
    if k.battery >= 0:
        charging.put_back(s, f, k.battery)
        k.battery = -1
    if to_cleaning_s:
        tell(s, Kind.KIT_CARRIED, kit=kit, one=to_cleaning_s, two=Way.TO_CLEANING)
        moment(s, Moment.CARRIED, kit, to_cleaning_s)
    else:
        turnaround.hand_in(s, f, kit, k.wiper)


@njit(**OPTIONS)
def carried(s, f, e, kit):
    """Carried back: hand it in, and the carrier is free; or carried on to the wipe-down."""
    k = s.kits[kit]
    if k.brought:
        turnaround.hand_in(s, f, kit, k.wiper)
        return
    hand_in_all(s, f, kit)
    if k.carrier >= 0:
        wearer_free(s, f, e, k.carrier)


@njit(**OPTIONS)
def new_need(s, before, room_s, due_s):
    """Add a need that follows from another."""
    ward, nd = s.ward[0], s.needs[before]
    row = ward.needs
    if row >= len(s.needs):
        ward.exhausted = 1
        return -1
    ward.needs = row + 1
    lay_out(s, row, nd.entry, nd.part + 1, due_s, room_s, nd.urgent)
    return row


@njit(**ONCE)
def settle_maximum_wait(s, f, e):
    """Let those go whose maximum wait is over and who were not served in this very second."""
    ward, gone = s.ward[0], False
    for i in range(ward.impatient):
        if s.needs[s.impatient[i]].waiting:
            line.leave_line(s, f, s.impatient[i])
            nd = s.needs[s.impatient[i]]
            tell(s, Kind.RENEGES, nd.entry, one=ward.now_s - nd.need_s)
            give_up(s, f, e, s.impatient[i])
            gone = True
    ward.impatient = 0
    if gone:
        line.serve(s, f)


@njit(**OPTIONS)
def give_up(s, f, e, need):
    """The maximum wait is over: the visit leaves the queue, or is postponed."""
    n, nd, ward = f.n[0], s.needs[need], s.ward[0]
    wearer = e.wearer[nd.entry]
    if nd.kit >= 0:
        line.hold(s, nd.kit)
    nd.outcome = Outcome.RENEGED
    nd.wait_s = ward.now_s - nd.need_s
    line.note_late(s, f, need)
    don_s, doff_s = e.don_s[nd.entry], e.doff_s[nd.entry]
    busy_s = busy_after_giving_up(n.postponed, don_s, nd.room_s, doff_s)
    if n.postponed:
        again = new_need(s, need, nd.room_s, ward.now_s + n.postponed_by_s)
        if again >= 0:
            moment(s, Moment.DUE_AGAIN, again, n.postponed_by_s)
    if wearer >= 0:
        moment(s, Moment.WEARER_FREE, wearer, busy_s)
