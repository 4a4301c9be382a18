"""The lines at the shelf: the mechanics of standing in them, of serving, and of maximum wait."""

from __future__ import annotations

from collections import Counter

from surge_sim.engine.log import Count, Kind, Missing, Outcome, Use, Way
from surge_sim.engine.reference import charging, turnaround
from surge_sim.engine.reference.ward import Battery, Kit, Need, Process, Ward
from surge_sim.equipment.batteries import level_wanted, may_be_issued
from surge_sim.equipment.causes import CAUSES, Cause, battery_cause, part_cause, share_out
from surge_sim.equipment.filters import level_or_highest
from surge_sim.equipment.kits import (
    Repair,
    begins_to_lack,
    is_late,
    lets_pass,
    missing_parts,
    of_the_unit,
)
from surge_sim.equipment.order import Line, Moment, kept_back, line_to_join, served_next
from surge_sim.equipment.supplies import HOODS, LARGE_HOODS, TUBES, hoods_of_size
from surge_sim.units import NEVER_S

#: whoever holds a kit waits for a battery; all others for what the first in line lacks
FRONT, SWAPS = 0, 1

#: parts that a clean blower may stand ready for, each with its supply
_PARTS = (
    (Missing.HOOD, HOODS), (Missing.TUBE, TUBES), (Missing.LARGE_HOOD, LARGE_HOODS),
)  # fmt: skip

_PLACES = {
    Use.KITS_IN_USE: Cause.KIT_IN_USE,
    Use.KITS_WAITING_FOR_WIPE: Cause.KIT_WAITING_FOR_WIPE,
    Use.KITS_IN_WIPE_DOWN: Cause.KIT_IN_WIPE_DOWN,
    Use.KITS_DRYING: Cause.KIT_DRYING,
    Use.KITS_READY: Cause.KIT_RESERVED,
    Use.KITS_AWAY: Cause.KIT_AWAY,
}


def want_kit(ward: Ward, need: Need) -> bool:
    """Join a line; False when the wearer holds a kit whose battery may be used on."""
    held = need.wearer.kit if need.wearer is not None else None
    line = line_to_join(need.urgent, held is not None)
    if line != Line.SWAPS:
        join(ward, need, line)
        return True
    assert held is not None
    need.kit = held
    held.held = False
    battery = held.battery
    if battery is not None:
        least = ward.numbers.least_charge[level_held(ward, held)]
        enough = may_be_issued(battery.charge, least, 0, 0)
        things = {"entry": need.entry, "kit": held.number, "battery": battery.number}
        ward.tell(Kind.HOLDS_KIT, battery.charge, enough, **things)
        if enough:
            return False
        charging.put_back(ward, battery)
        held.battery = None
    join(ward, need, Line.SWAPS)
    return True


def level_held(ward: Ward, kit: Kit) -> int:
    """Level at which a held kit will run, the highest if its check will fail."""
    return level_or_highest(turnaround.level_of(ward, kit), len(ward.numbers.life_ppm))


def join(ward: Ward, need: Need, line: int) -> None:
    """Stand in line by (moment of the need, row): after a failed check that is mostly in front."""
    ward.tell(Kind.JOINS_LINE, line, need.need_s, need.row, entry=need.entry)
    ward.usage.change(Use.ENTRIES_WAITING, 1, ward.now_s)
    begin_waiting(ward, need)
    need.waiting = True
    need.turn = ward.clock.event()
    queue = ward.lines[line]
    place = len(queue)
    while place and (need.need_s, need.row) < (queue[place - 1].need_s, queue[place - 1].row):
        place -= 1
    queue.insert(place, need)
    if need.maximum_wait_s < NEVER_S:
        left_s = need.need_s + need.maximum_wait_s - ward.now_s
        ward.clock.process(maximum_wait(ward, need, max(left_s, 0)))


def maximum_wait(ward: Ward, need: Need, delay_s: int) -> Process:
    """Mark a need whose maximum wait is over; whether it is served is settled after serving."""
    yield ward.clock.moment(Moment.MAXIMUM_WAIT_OVER, need.row, delay_s)
    if need.waiting:
        ward.impatient.append(need)


def settle_maximum_wait(ward: Ward) -> None:
    """Let those go whose maximum wait is over and who were not served in this very second."""
    gone = [need for need in ward.impatient if need.waiting]
    ward.impatient.clear()
    for need in gone:
        if need.waiting:
            for queue in ward.lines:
                if need in queue:
                    queue.remove(need)
            _leave_line(ward, need)
            ward.tell(Kind.RENEGES, ward.now_s - need.need_s, entry=need.entry)
            need.turn.succeed(False)  # type: ignore[union-attr]
    if gone:
        serve(ward)


def _leave_line(ward: Ward, need: Need) -> None:
    ward.usage.change(Use.ENTRIES_WAITING, -1, ward.now_s)
    end_waiting(ward, need, ward.now_s)
    need.waiting = False


def serve(ward: Ward) -> None:
    """Serve the lines as far as the shelf goes."""
    ward.mask, stuck = 0, -1
    while True:
        line = served_next(*map(bool, ward.lines), stuck)  # type: ignore[call-arg]
        if line == Line.NOBODY:
            return
        need = ward.lines[line][0]
        back = kept_back(line, len(ward.lines[Line.URGENT]), ward.numbers.reserved)
        mask, battery = lacking(ward, need, line, back)
        first_lacks = mask
        if lets_pass(mask) and (other := first_of_other_size(ward, need, line)) is not None:
            lacks, battery = lacking(ward, other, line, back)
            mask, need = (mask | lacks, need) if lacks else (0, other)
        if mask:
            if not ward.mask:
                ward.mask, ward.first_lacks = mask, first_lacks
            stuck = line
            continue
        assert battery is not None
        ward.lines[line].remove(need)
        if line == Line.SWAPS:
            ward.counts[Count.BATTERY_SWAPS] += 1
        else:
            need.kit = take_kit(ward, need, back)
        give_battery(ward, need, battery, line)


def first_of_other_size(ward: Ward, first: Need, line: int) -> Need | None:
    """Return the first behind the first in a line who needs a hood of the other size."""
    return next((one for one in ward.lines[line] if one.large_hood != first.large_hood), None)


def lacking(ward: Ward, need: Need, line: int, back: int) -> tuple[int, Battery | None]:
    """Say what the first in a line lacks, and which battery it would get."""
    if line == Line.SWAPS:
        assert need.kit is not None
        level, mask = level_held(ward, need.kit), 0
    else:
        level = shelf_level(ward)
        hoods = ward.ready_large_hoods if need.large_hood else ward.ready_hoods
        mask = missing_parts(ward.kits_ready, hoods, ward.ready_tubes, back, need.large_hood)
    usable = charging.usable(ward, level)
    battery = charging.first_by_rank(ward, need, usable)
    charge = -1 if battery is None else charging.charge_now(ward, battery)
    if not may_be_issued(charge, ward.numbers.least_charge[level], len(usable), back):
        mask |= Missing.BATTERY
    return mask, battery


def shelf_level(ward: Ward) -> int:
    """Level of the blower that is handed out next; the lowest when there is none."""
    kit = turnaround.first_on_shelf(ward)
    return 0 if kit is None else kit.shelf_level


def take_kit(ward: Ward, need: Need, back: int) -> Kit:
    """Take a blower, a hood of the wearer's size and a tube from the shelf."""
    kit = turnaround.first_on_shelf(ward)
    assert kit is not None
    ward.shelf[kit.shelf_level].popleft()
    ward.kits_ready -= 1
    hoods = hoods_of_size(need.large_hood)
    turnaround.to_shelf_of(ward, hoods, -1)
    ward.ready_tubes -= 1
    # what is kept back is as good as gone for this one
    ready = ward.ready_large_hoods if need.large_hood else ward.ready_hoods
    for supply, left in ((hoods, ready), (TUBES, ward.ready_tubes)):
        ward.least_left[supply] = min(ward.least_left[supply], left - back)
    kit.has_hood = kit.has_tube = True
    kit.large_hood = need.large_hood
    ward.enter(kit, Use.KITS_IN_USE)
    return kit


def give_battery(ward: Ward, need: Need, battery: Battery, line: int) -> None:
    """Put the battery in; the kit is fetched, and checked."""
    kit = need.kit
    assert kit is not None
    swap = line == Line.SWAPS
    values: tuple[int, ...] = ()
    if ward.events is not None:
        level = level_held(ward, kit) if swap else kit.shelf_level
        values = charging.compared(ward, need, battery, level)
    charging.take_out(ward, battery)
    kit.battery = battery
    _leave_line(ward, need)
    kind = Kind.TAKES_BATTERY if swap else Kind.TAKES_KIT
    things = {"entry": need.entry, "kit": kit.number, "battery": battery.number}
    ward.tell(kind, *values, **things)
    if need.large_hood and not swap:
        ward.tell(Kind.TAKES_LARGE_HOOD, **things)
    if ward.numbers.fetch_s:
        ward.tell(Kind.KIT_CARRIED, ward.numbers.fetch_s, Way.FETCHED, **things)
    need.turn.succeed(True)  # type: ignore[union-attr]


def note_missing(ward: Ward) -> None:
    """Write down what the first in line lacks, and wake up when a battery holds enough."""
    first = next((queue[0] for queue in ward.lines if queue), None)
    mask = ward.mask if first is not None else 0
    _tell_first(ward, first, mask)
    before = ward.missing[-1][1] if ward.missing else 0
    if mask != before:
        for part, supply in _PARTS:
            if begins_to_lack(part, mask, before):
                turnaround.stock_out(ward, supply)
        if ward.missing and ward.missing[-1][0] == ward.now_s:
            ward.missing.pop()
        if mask != (ward.missing[-1][1] if ward.missing else 0):
            ward.missing.append((ward.now_s, mask))
    swap_level, swaps = -1, ward.lines[Line.SWAPS]
    if swaps and swaps[0].kit is not None:
        swap_level = level_held(ward, swaps[0].kit)
    lacks, urgent = mask & Missing.BATTERY, bool(ward.lines[Line.URGENT])
    wanted = level_wanted(lacks, urgent, swap_level, shelf_level(ward)), swap_level
    note_causes(ward, mask, *wanted)
    moments = [charging.next_enough_s(ward, level) for level in wanted if level >= 0]
    wake_s = min((at_s for at_s in moments if at_s >= 0), default=-1)
    if wake_s >= 0 and wake_s != ward.wake_s:
        ward.wake_s = wake_s
        ward.clock.moment(Moment.TICK, 0, wake_s - ward.now_s)


def _tell_first(ward: Ward, first: Need | None, mask: int) -> None:
    """Tell what the first in line lacks when it, or that, is another than before."""
    mask = ward.first_lacks if mask else 0
    told, ward.first_told = ward.first_told, (-1 if first is None else first.row, mask)
    if ward.events is None or first is None or told == ward.first_told:
        return
    routine = not first.urgent and first.kit is None
    reserved = routine and not lacking(ward, first, Line.ROUTINE, 0)[0]
    ward.tell(Kind.FIRST_IN_LINE, mask, reserved, entry=first.entry)


def note_late(ward: Ward, need: Need) -> None:
    """Count an entry of the surge once when one of its needs was not served in time."""
    if need.entry < ward.numbers.entries_before:
        return
    n, served = ward.numbers, need.outcome == Outcome.SERVED
    if is_late(served, need.wait_s, n.wait_s) and not ward.entry_late[need.entry]:
        ward.entry_late[need.entry] = True
        ward.late += 1
    urgent_late = need.urgent and is_late(served, need.wait_s, n.urgent_wait_s)
    if urgent_late and not ward.entry_urgent_late[need.entry]:
        ward.entry_urgent_late[need.entry] = True
        ward.urgent_late += 1


# --- what those in line wait for: each missing thing is somewhere, for some cause -------------


def begin_waiting(ward: Ward, need: Need) -> None:
    """Begin to wait in line."""
    _let_pass(ward, ward.now_s)
    need.clock = FRONT if need.kit is None else SWAPS
    clock_s = ward.causes[need.clock][CAUSES:]
    need.waited_s = [a - b for a, b in zip(need.waited_s, clock_s, strict=True)]


def end_waiting(ward: Ward, need: Need, now_s: int) -> None:
    """Wait in line no longer."""
    _let_pass(ward, now_s)
    clock_s = ward.causes[need.clock][CAUSES:]
    need.waited_s = [a + b for a, b in zip(need.waited_s, clock_s, strict=True)]


def _let_pass(ward: Ward, now_s: int) -> None:
    """Put the time since the last change down to the causes there were."""
    for causes in ward.causes:
        before_s = sum(causes[CAUSES:])
        share_out(causes, 0, CAUSES, before_s, now_s - ward.clocks_at_s)  # type: ignore[arg-type]
    ward.clocks_at_s = now_s


def note_causes(ward: Ward, mask: int, front_level: int, swap_level: int) -> None:
    """Note where everything is that is missing from now on.

    Parameters
    ----------
    ward : Ward
        As it is when a second is settled.
    mask : int
        What the first in line lacks, see `Missing`; 0 when nobody waits.
    front_level, swap_level : int
        Levels for which the first in line, and the first who holds a kit, lack a battery,
        or -1.
    """
    _let_pass(ward, ward.now_s)
    front = Counter[int]()
    if mask & Missing.BLOWER:
        front += _kits(ward)
    else:
        if mask & Missing.HOOD:
            front[part_cause(Missing.HOOD, ward.on_order[HOODS])] = 1
        if mask & Missing.TUBE:
            front[part_cause(Missing.TUBE, ward.on_order[TUBES])] = 1
        if mask & Missing.LARGE_HOOD:
            front[part_cause(Missing.LARGE_HOOD, ward.on_order[LARGE_HOODS])] = 1
    if front_level >= 0:
        front += _batteries(ward, front_level)
    swaps = _batteries(ward, swap_level) if swap_level >= 0 else Counter[int]()
    for causes, found in zip(ward.causes, (front, swaps), strict=True):
        causes[:CAUSES] = [found[cause] for cause in range(CAUSES)]


def _kits(ward: Ward) -> Counter[int]:
    found = Counter[int](_kit(ward, kit) for kit in ward.kits)
    n = ward.numbers
    found[Cause.KIT_AWAY] = of_the_unit(len(ward.kits_away), n.kits_come - n.kits_lent)
    return +found or Counter({Cause.NO_KIT: 1})


def _kit(ward: Ward, kit: Kit) -> Cause:
    if kit.state != Use.KITS_OUT:
        return Cause.KIT_HELD if kit.held else _PLACES[kit.state]
    if kit in ward.prefilter_queue:
        return Cause.KIT_LACKS_PREFILTER
    if kit in ward.he_queue:
        return Cause.KIT_LACKS_HE_FILTER
    return Cause.KIT_IN_REPAIR if kit.repair == Repair.FAILURE else Cause.KIT_GETTING_FILTER


def _batteries(ward: Ward, level: int) -> Counter[int]:
    found = Counter[int](_battery(ward, battery, level) for battery in ward.batteries)
    n = ward.numbers
    not_lent = n.kits_come - n.kits_lent + n.batteries_come - n.batteries_lent
    found[Cause.BATTERY_AWAY] = of_the_unit(len(ward.batteries_away), not_lent)
    return +found or Counter({Cause.NO_BATTERY: 1})


def _battery(ward: Ward, battery: Battery, level: int) -> int:
    n = ward.numbers
    if battery.state == Use.BATTERIES_AWAY:
        return Cause.BATTERY_AWAY
    return battery_cause(
        battery.state,
        charging.charge_now(ward, battery),
        n.capacity[battery.number],
        n.least_charge[level],
        charging.is_free(ward, battery),
        bool(n.has_power),
    )
