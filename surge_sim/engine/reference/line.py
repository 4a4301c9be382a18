"""The line at the shelf: who is served next, what is missing, whose patience is over."""

from __future__ import annotations

from collections import deque

from surge_sim.demand.trace import NEVER_S
from surge_sim.engine.log import Count, Missing, Outcome, Use
from surge_sim.engine.reference import charging, turnaround, waiting
from surge_sim.engine.reference.things import Battery, Kit, Need
from surge_sim.engine.reference.words import charged, lacked, times
from surge_sim.engine.reference.world import Process, World
from surge_sim.equipment.order import Moment, may_swap, may_take
from surge_sim.equipment.supplies import HOODS, TUBES


def want_kit(ward: World, need: Need) -> bool:
    """Join the line; False when the wearer holds a kit whose battery still has the least run."""
    wearer = need.wearer
    held = wearer.kit if wearer is not None and not need.urgent else None
    if held is None:
        join(ward, need, ward.urgent_line if need.urgent else ward.routine_line)
        return True
    need.kit = held
    held.held = False
    if held.battery is not None:
        enough = held.battery.charge >= ward.numbers.least_charge[level_held(ward, held)]
        if ward.listener is not None:
            then = "goes on with it" if enough else "needs another battery"
            said = (held.number, held.battery.number, charged(ward, held.battery), then)
            ward.tell("entry", need.entry, "holds kit {} with battery {} ({}) and {}", *said)
        if enough:
            return False
        charging.put_back(ward, held.battery)
        held.battery = None
    join(ward, need, ward.swap_line)
    return True


def level_held(ward: World, kit: Kit) -> int:
    """Level at which a held kit will run, the highest if its check will fail."""
    return min(turnaround.level_of(ward, kit), len(ward.numbers.life_ppm) - 1)


def join(ward: World, need: Need, queue: deque[Need]) -> None:
    """Stand in line by (moment of the need, row): after a failed check that is mostly in front."""
    ward.usage.change(Use.ENTRIES_WAITING, 1, ward.now_s)
    waiting.begin(ward, need)
    need.waiting = True
    need.told = False
    need.turn = ward.clock.event()
    place = len(queue)
    while place and (need.need_s, need.row) < (queue[place - 1].need_s, queue[place - 1].row):
        place -= 1
    queue.insert(place, need)
    if need.patience_s < NEVER_S:
        left_s = need.need_s + need.patience_s - ward.now_s
        ward.clock.process(patience(ward, need, max(left_s, 0)))


def patience(ward: World, need: Need, delay_s: int) -> Process:
    """Mark a need whose patience is over; whether it is still served is settled after serving."""
    yield ward.clock.moment(Moment.PATIENCE_OVER, need.row, delay_s)
    if need.waiting:
        ward.impatient.append(need)


def settle_patience(ward: World) -> None:
    """Let those go whose patience is over and who were not served in this very second."""
    gone = [need for need in ward.impatient if need.waiting]
    ward.impatient.clear()
    for need in gone:
        if need.waiting:
            for queue in (ward.urgent_line, ward.swap_line, ward.routine_line):
                if need in queue:
                    queue.remove(need)
            _leave_line(ward, need)
            need.turn.succeed(False)  # type: ignore[union-attr]
    if gone:
        serve(ward)


def _leave_line(ward: World, need: Need) -> None:
    ward.usage.change(Use.ENTRIES_WAITING, -1, ward.now_s)
    waiting.end(ward, need, ward.now_s)
    need.waiting = False


def lacking(ward: World, need: Need) -> tuple[int, Battery | None]:
    """Say what the shelf lacks for an entry, and which battery it would get."""
    return _lacking(ward, 0 if need.urgent else ward.numbers.reserved)


def _lacking(ward: World, reserved: int) -> tuple[int, Battery | None]:
    n = ward.numbers
    mask = 0
    if not may_take(ward.kits_ready, reserved):
        mask |= Missing.BLOWER
    if not may_take(ward.ready_hoods, reserved):
        mask |= Missing.HOOD
    if not may_take(ward.ready_tubes, reserved):
        mask |= Missing.TUBE
    level = shelf_level(ward)
    battery = charging.fullest(ward)
    if (
        battery is None
        or charging.charge_now(ward, battery) < n.least_charge[level]
        or (reserved > 0 and not may_take(charging.usable_count(ward, level), reserved))
    ):
        mask |= Missing.BATTERY
    return mask, battery


def shelf_level(ward: World) -> int:
    """Level of the blower that is handed out next; the lowest when there is none."""
    kit = turnaround.first_on_shelf(ward)
    return 0 if kit is None else kit.shelf_level


def serve(ward: World) -> None:
    """Serve the line as far as the shelf goes: urgent, then battery swaps, then routine."""
    ward.mask = 0
    while ward.urgent_line:
        ward.mask, battery = lacking(ward, ward.urgent_line[0])
        if ward.mask:
            break
        hand_out(ward, ward.urgent_line.popleft(), battery)
    while ward.swap_line:
        battery = swap_battery(ward, ward.swap_line[0])
        if battery is None:
            ward.mask = ward.mask or int(Missing.BATTERY)
            break
        swap(ward, ward.swap_line.popleft(), battery)
    while ward.routine_line and not ward.urgent_line and not ward.swap_line:
        ward.mask, battery = lacking(ward, ward.routine_line[0])
        if ward.mask:
            break
        hand_out(ward, ward.routine_line.popleft(), battery)


def hand_out(ward: World, need: Need, battery: Battery | None) -> None:
    """Hand a complete kit to the first in line."""
    kit = turnaround.first_on_shelf(ward)
    assert kit is not None and battery is not None
    ward.shelf[kit.shelf_level].popleft()
    ward.kits_ready -= 1
    ward.ready_hoods -= 1
    ward.ready_tubes -= 1
    # what is reserved for urgent entries is as good as gone for this one
    reserved = 0 if need.urgent else ward.numbers.reserved
    for supply, ready in ((HOODS, ward.ready_hoods), (TUBES, ward.ready_tubes)):
        ward.least_left[supply] = min(ward.least_left[supply], ready - reserved)
    kit.has_hood = kit.has_tube = True
    ward.enter(kit, Use.KITS_IN_USE)
    need.kit = kit
    _give_battery(ward, need, kit, battery, "takes kit {} and battery {} ({})")


def swap_battery(ward: World, need: Need) -> Battery | None:
    """Return the battery that the first of the swaps may take, if any."""
    kit = need.kit
    assert kit is not None
    level = level_held(ward, kit)
    battery = charging.fullest(ward)
    if battery is None or charging.charge_now(ward, battery) < ward.numbers.least_charge[level]:
        return None
    urgent = len(ward.urgent_line)
    if urgent and not may_swap(charging.usable_count(ward, level), urgent):
        return None
    return battery


def swap(ward: World, need: Need, battery: Battery) -> None:
    """Give a fresh battery to a wearer who holds a kit."""
    kit = need.kit
    assert kit is not None
    ward.count(Count.BATTERY_SWAPS)
    _give_battery(ward, need, kit, battery, "gives the held kit {} battery {} ({})")


def _give_battery(ward: World, need: Need, kit: Kit, battery: Battery, how: str) -> None:
    charging.take_out(ward, battery)
    kit.battery = battery
    _leave_line(ward, need)
    if ward.listener is not None:
        full = charged(ward, battery)
        ward.tell("entry", need.entry, how, kit.number, battery.number, full)
        with_it = (need.entry, battery.number, full)
        ward.tell("kit", kit.number, "is in hand for entry {} with battery {} ({})", *with_it)
        goes = "goes with kit {} for entry {}, {}"
        ward.tell("battery", battery.number, goes, kit.number, need.entry, full)
    need.turn.succeed(True)  # type: ignore[union-attr]


def _tell_waiting(ward: World) -> None:
    """Tell of each who begins to wait, and what the first in line lacks when that changes."""
    line = [*ward.urgent_line, *ward.swap_line, *ward.routine_line]
    for ahead, need in enumerate(line[1:], start=1):
        if not need.told:
            need.told = True
            ward.tell("entry", need.entry, "waits in line, {} ahead", times(ahead, "need"))
    first = (line[0].row, ward.mask) if line else (-1, 0)
    if line and first != ward.told_first:
        line[0].told = True
        lacks = f"lacks {lacked(ward.mask)}"
        ordinary = not line[0].urgent and line[0].kit is None
        if ordinary and not _lacking(ward, 0)[0]:
            lacks = "leaves the last ones to urgent entries"
        ward.tell("entry", line[0].entry, "is first in line and {}", lacks)
    ward.told_first = first


def note_missing(ward: World) -> None:
    """Write down what the first in line lacks, and wake up when a battery holds enough."""
    if ward.listener is not None:
        _tell_waiting(ward)
    mask = ward.mask if ward.urgent_line or ward.swap_line or ward.routine_line else 0
    before = ward.missing[-1][1] if ward.missing else 0
    if mask != before:
        # without a clean blower to put it on, nobody knows that a part is short
        part = 0 if mask & Missing.BLOWER else mask
        part_before = 0 if before & Missing.BLOWER else before
        if part & Missing.HOOD and not part_before & Missing.HOOD:
            ward.count(Count.STOCK_OUTS_HOODS)
        if part & Missing.TUBE and not part_before & Missing.TUBE:
            ward.count(Count.STOCK_OUTS_TUBES)
        if ward.missing and ward.missing[-1][0] == ward.now_s:
            ward.missing.pop()
        if mask != (ward.missing[-1][1] if ward.missing else 0):
            ward.missing.append((ward.now_s, mask))
    wanted = wanted_levels(ward, mask)
    waiting.note(ward, mask, *wanted)
    moments = [charging.next_enough_s(ward, level) for level in wanted if level is not None]
    wake_s = min((at_s for at_s in moments if at_s >= 0), default=-1)
    if wake_s >= 0 and wake_s != ward.wake_s:
        ward.wake_s = wake_s
        ward.clock.moment(Moment.TICK, 0, wake_s - ward.now_s)


def wanted_levels(ward: World, mask: int) -> tuple[int | None, int | None]:
    """Levels for which the first in line, and the first of the swaps, want a battery."""
    swaps = None
    if ward.swap_line:
        kit = ward.swap_line[0].kit
        assert kit is not None
        swaps = level_held(ward, kit)
    if not mask & Missing.BATTERY:
        return None, swaps
    return (shelf_level(ward) if ward.urgent_line or swaps is None else swaps), swaps


def note_late(ward: World, need: Need) -> None:
    """Count an entry once when one of its needs was not served in time."""
    n = ward.numbers
    served = need.outcome == Outcome.SERVED
    if not (served and need.wait_s <= n.wait_s) and not ward.entry_late[need.entry]:
        ward.entry_late[need.entry] = True
        ward.late += 1
    urgent_late = need.urgent and not (served and need.wait_s <= n.urgent_wait_s)
    if urgent_late and not ward.entry_urgent_late[need.entry]:
        ward.entry_urgent_late[need.entry] = True
        ward.urgent_late += 1
