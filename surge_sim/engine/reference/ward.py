"""The ward: the things in it, each with its state, its clock, and the record of where things are.

Names of fields are those of the compiled engine.
"""

from __future__ import annotations

from array import array
from collections import deque
from collections.abc import Callable, Generator
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import simpy

from surge_sim.demand.table import Demand
from surge_sim.engine.log import VALUES, Count, Exhausted, IntArray, Kind, Use
from surge_sim.equipment.causes import CAUSES
from surge_sim.equipment.chance import WorkArrays
from surge_sim.equipment.kits import Keep, Repair
from surge_sim.equipment.numbers import Numbers
from surge_sim.equipment.order import SUPPLIES, Moment, moment_rank
from surge_sim.equipment.supplies import HOODS, LARGE_HOODS, TUBES
from surge_sim.units import HOUR_S

#: a story told in SimPy
Process = Generator[simpy.Event, Any, None]
#: a part of a story that ends with an answer
Answer = Generator[simpy.Event, Any, bool]

#: SimPy keeps priorities 0 and 1 for the start and the waking of processes
_FIRST_RANK = 2


@dataclass(eq=False)
class Kit:
    """A blower and what is on it. `state` is one of the KITS_ uses."""

    number: int
    state: Use = Use.KITS_READY
    shelf_level: int = 0
    prefilter_no: int = 0
    prefilter_run_s: int = 0
    prefilter_life_s: int = 0
    main_no: int = 0
    he_run_s: int = 0
    he_life_s: int = 0
    failure_no: int = 0
    failure_run_s: int = 0
    failure_life_s: int = 0
    repair: int = Repair.NOTHING
    has_hood: bool = False
    #: whether that hood is a large one
    large_hood: bool = False
    has_tube: bool = False
    battery: Battery | None = None
    #: kept for the shift by a wearer who is between two visits
    held: bool = False
    #: succeeds when its wearer has wiped it down
    wiped: simpy.Event | None = None


@dataclass(eq=False)
class Battery:
    """A battery. `state` is one of the BATTERIES_ uses."""

    number: int
    charge: int
    state: Use = Use.BATTERIES_ON_SHELF
    #: since when it is there
    since_s: int = 0
    #: when its charge begins, when it is full, and how often it was put into a bay
    in_bay_s: int = 0
    full_s: int = 0
    charges: int = 0
    #: when it has cooled
    cool_s: int = 0
    failure_no: int = 0
    failure_run_s: int = 0
    failure_life_s: int = 0


@dataclass(eq=False)
class Wearer:
    """A named wearer: one visit at a time, perhaps with a kit held for the shift."""

    number: int
    shift_end_s: int
    busy: bool = False
    kit: Kit | None = None
    #: for how long that is kept, see `Keep`, and when its round became due
    keeps: int = Keep.NOT
    round_s: int = -1
    shift_end_awaited: bool = False
    queue: deque[Need] = field(default_factory=deque)


@dataclass(eq=False)
class Need:
    """One need: an entry's first, the rest of a visit, or a postponed visit."""

    row: int
    entry: int
    part: int
    due_s: int
    room_s: int
    don_s: int
    doff_s: int
    maximum_wait_s: int
    urgent: bool
    wearer: Wearer | None
    hood_torn: bool
    tube_torn: bool
    large_hood: bool
    need_s: int = -1
    wait_s: int = 0
    in_hand_s: int = -1
    end_s: int = -1
    outcome: int = 0
    alarm: int = 0
    blower: int = -1
    battery: int = -1
    level: int = -1
    failed_checks: int = 0
    worn_s: int = 0
    rest_s: int = 0
    #: alarms in a row, before this need, that left the visit where it was
    in_vain: int = 0
    #: seconds waited in line, by cause; while it waits, less what its line's clock showed then
    waited_s: list[int] = field(default_factory=lambda: [0] * CAUSES)
    #: which clock that is, see `waiting`
    clock: int = 0
    kit: Kit | None = None
    waiting: bool = False
    #: succeeds with True when served, with False when maximum_wait is over
    turn: simpy.Event | None = None


class _Change(simpy.Event):
    """A change that comes at its moment, in its place within the second."""

    def __init__(self, clock: Clock, rank: int, delay_s: int) -> None:
        super().__init__(clock)
        self._ok = True
        self._value = None
        place: Any = _FIRST_RANK + rank
        clock.schedule(self, priority=place, delay=delay_s)


class Clock(simpy.Environment):
    """Whole seconds; `settle` is called whenever a second has no change left."""

    def __init__(self, settle: Callable[[], None]) -> None:
        super().__init__(initial_time=0)
        self._settle = settle

    def moment(self, kind: Moment, number: int, delay_s: int) -> simpy.Event:
        """Return an event that comes after `delay_s`, in its place within that second."""
        return _Change(self, moment_rank(int(kind), number), delay_s)

    def play_until(self, end_s: int, done: Callable[[], bool]) -> None:
        """Play every second up to and including `end_s`, or until `done`."""
        while self.peek() <= end_s:
            self.step()
            if self.peek() > self.now:
                self._settle()
                if self.peek() > self.now and done():
                    return


class Usage:
    """Counts by state, their item-seconds per hour of the horizon, and their peaks."""

    def __init__(self, horizon_s: int) -> None:
        self.horizon_s = horizon_s
        hours = -(-horizon_s // HOUR_S)
        self.now_there = [0] * len(Use)
        self.since_s = [0] * len(Use)
        self.in_hour = [0] * len(Use)
        self.hour = self.hour_end_s = 0
        self.area: IntArray = np.zeros((len(Use), hours), dtype=np.int64)
        self.peak: IntArray = np.zeros(len(Use), dtype=np.int64)

    def change(self, use: Use, by: int, now_s: int) -> None:
        """Add `by` things to a state; what they add by the end of the hour is counted at once."""
        if now_s >= self.hour_end_s:
            self.next_hours(now_s)
        self.note_peak(use, now_s)
        self.now_there[use] += by
        self.in_hour[use] += by * max(self.hour_end_s - now_s, 0)

    def note_peak(self, use: Use, now_s: int) -> None:
        """A number that lasts no time makes no peak."""
        now_s = min(now_s, self.horizon_s)
        if now_s > self.since_s[use]:
            self.peak[use] = max(self.peak[use], self.now_there[use])
            self.since_s[use] = now_s

    def begin_peaks(self, now_s: int) -> None:
        """Forget the most that there were until now."""
        self.peak[:] = 0
        self.since_s = [now_s] * len(Use)

    def next_hours(self, now_s: int) -> None:
        """Write down the hours that are over; begin each with what it adds if nothing changes."""
        while now_s >= self.hour_end_s and self.hour_end_s < self.horizon_s:
            self.write_hour()
            from_s = self.hour_end_s
            self.hour = from_s // HOUR_S
            self.hour_end_s = min(from_s + HOUR_S, self.horizon_s)
            self.in_hour = [there * (self.hour_end_s - from_s) for there in self.now_there]

    def write_hour(self) -> None:
        """Write down the item-seconds of the hour."""
        self.area[:, self.hour] = self.in_hour


class Ward:
    """State of the whole unit at one moment; what acts on it is in the other modules.

    It can be stopped after any second (`clock.play_until`), looked into and changed.
    """

    def __init__(
        self,
        trace: Demand,
        numbers: Numbers,
        work: WorkArrays,
        most_new_needs: int,
        settle: Callable[[Ward], None],
    ) -> None:
        n = self.numbers = numbers.plain()
        #: what has happened, a row of `WIDTH` numbers each; None: nobody asked for it
        self.events: array[int] | None = None
        #: row of the first in line and what it lacked, by the last event of it
        self.first_told = (-1, 0)
        self.trace = trace
        # as lists, quicker to read from Python
        self.work = WorkArrays(*(np.asarray(array).tolist() for array in work))
        self.most_rows = trace.entries + most_new_needs
        self.clock = Clock(lambda: settle(self))
        self.usage = Usage(n.horizon_s)
        self.counts = [0] * len(Count)
        #: from which second on the first in line lacked what
        self.missing: list[tuple[int, int]] = []
        #: what those lack who could be next, and what the first in line lacks
        self.mask = self.first_lacks = 0
        # by line (FRONT and SWAPS of `line`): by cause things missing, then seconds that it cost
        self.causes = [[0] * 2 * CAUSES, [0] * 2 * CAUSES]
        #: until when that was counted
        self.clocks_at_s = 0
        self.wake_s = -1
        self.needs: list[Need] = []
        # the lines, first in front, and those among them whose maximum wait is over
        self.lines: tuple[deque[Need], deque[Need], deque[Need]] = deque(), deque(), deque()
        self.impatient: list[Need] = []
        self.wearers = [Wearer(w, end_s) for w, end_s in enumerate(trace.shift_end_s.tolist())]
        # late entries
        self.entry_late = [False] * trace.entries
        self.entry_urgent_late = [False] * trace.entries
        self.late = self.urgent_late = 0
        # wipe-down and workshop
        self.wipe_queue: deque[Kit] = deque()
        self.wipes_started = self.wiping = 0
        self.prefilter_queue: deque[Kit] = deque()
        self.he_queue: deque[Kit] = deque()
        # spare parts by number of the supply; hoods of both sizes and tubes: all that the unit owns
        self.spares = list(n.spares)
        self.spares[HOODS], self.spares[TUBES] = n.hoods, n.tubes
        self.spares[LARGE_HOODS] = n.large_hoods
        self.on_order = [0] * SUPPLIES
        # bays
        self.bay_queue: deque[Battery] = deque()
        self.bays_taken = 0
        # the shelf, by level; parts that are ready, and the fewest of each after one was taken
        self.shelf: list[deque[Kit]] = [deque() for _ in n.life_ppm]
        self.kits_ready = self.ready_hoods = self.ready_tubes = self.ready_large_hoods = 0
        self.least_left = list(self.spares)
        # what there is, and what is away, where the last one comes first
        self.kits = [Kit(number) for number in range(n.kits)]
        self.batteries = [Battery(number, n.capacity[number]) for number in range(n.batteries)]
        self.kits_away: list[Kit] = []
        self.batteries_away: list[Battery] = []
        self.hoods_away = self.tubes_away = 0

    @property
    def now_s(self) -> int:
        """The present second."""
        return self.clock.now  # type: ignore[return-value]

    def tell(
        self,
        kind: Kind,
        *values: int,
        entry: int = -1,
        kit: int = -1,
        battery: int = -1,
        second: int | None = None,
    ) -> None:
        """Note what happens, if anybody asked for it; for the values see `MEANINGS`."""
        if self.events is not None:
            at_s = self.now_s if second is None else second
            rest = (0,) * (VALUES - len(values))
            self.events.extend((at_s, kind, entry, kit, battery, *values, *rest))

    def drawn(self, table: object, generation: int, number: int) -> int:
        """Read a draw that belongs to a blower or a battery."""
        if generation >= len(table):  # type: ignore[arg-type]
            raise Exhausted("lives")
        value: int = table[generation][number]  # type: ignore[index]
        return value

    def count(self, what: int, by: int = 1) -> None:
        """Count something."""
        self.counts[what] += by

    def enter(self, kit: Kit, state: Use, for_s: int = 0) -> None:
        """Move a kit to another state, for so long if that is known."""
        self.tell(Kind.KIT_MOVES, kit.state, state, for_s, kit.repair, kit=kit.number)
        self.usage.change(kit.state, -1, self.now_s)
        kit.state = state
        self.usage.change(state, 1, self.now_s)

    def place(self, battery: Battery, state: Use, for_s: int = 0, unpowered_s: int = 0) -> None:
        """Move a battery to another state."""
        values = battery.state, state, battery.charge, for_s, unpowered_s
        self.tell(Kind.BATTERY_MOVES, *values, battery=battery.number)
        self.usage.change(battery.state, -1, self.now_s)
        battery.state, battery.since_s = state, self.now_s
        self.usage.change(state, 1, self.now_s)

    def new_row(self) -> int:
        """Number of the row of a new need."""
        if len(self.needs) >= self.most_rows:
            raise Exhausted("new needs")
        return len(self.needs)
