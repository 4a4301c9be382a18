"""The ward: everything that stands in it when the surge begins, and the settling of a second."""

from __future__ import annotations

from array import array
from collections import deque

from surge_sim.demand.table import Demand
from surge_sim.engine.draws import Exhausted, plain_work
from surge_sim.engine.events import VALUES, Kind
from surge_sim.engine.log import Count, Use
from surge_sim.engine.reference import charging, line, turnaround
from surge_sim.engine.reference.clock import Clock
from surge_sim.engine.reference.things import Battery, Kit, Need, Wearer
from surge_sim.engine.reference.usage import Usage
from surge_sim.equipment.causes import CAUSES
from surge_sim.equipment.chance import WorkArrays
from surge_sim.equipment.kits import batteries_to_be_away, kits_to_be_away, place_away
from surge_sim.equipment.numbers import Numbers


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
        events: array[int] | None = None,
    ) -> None:
        n = self.numbers = numbers.plain()
        self.events: array[int] | None = None
        self.trace = trace
        self.work = plain_work(work)
        self.most_rows = trace.entries + most_new_needs
        self.clock = Clock(self.settle)
        self.usage = Usage(n.horizon_s)
        self.counts = [0] * len(Count)
        #: from which second on the first in line lacked what
        self.missing: list[tuple[int, int]] = []
        self.mask = 0
        # by line (waiting.FRONT and SWAPS): by cause things missing, then seconds that it cost
        self.causes = [[0] * 2 * CAUSES, [0] * 2 * CAUSES]
        #: until when that was counted
        self.clocks_at_s = 0
        self.wake_s = -1
        self.needs: list[Need] = []
        self.unresolved = trace.entries
        # the lines, first in front, and those among them whose patience is over
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
        self.main_queue: deque[Kit] = deque()
        # spare parts by number of the supply; hoods and tubes: all that the unit owns
        self.spares = list(n.spares)
        self.spares[0], self.spares[1] = n.hoods, n.tubes
        self.on_order = [0, 0, 0, 0]
        # bays
        self.bay_queue: deque[Battery] = deque()
        self.bays_taken = 0
        self._put_in_place()
        #: what has happened since, a row of `WIDTH` numbers each; None: nobody asked for it
        self.events = events
        #: row of the first in line and what it lacked, by the last event of it
        self.first_told = (-1, 0)

    def _put_in_place(self) -> None:
        """Kits ready and batteries full; what may be borrowed later is still away."""
        n = self.numbers
        away = kits_to_be_away(n.kits_recalled, n.kits - n.kits_come, n.kits_come, n.kits_lent)
        batteries_away = batteries_to_be_away(away, n.batteries_come, n.batteries_lent)
        self.hoods_away = self.tubes_away = away
        self.ready_hoods, self.ready_tubes = n.hoods - away, n.tubes - away
        #: fewest of each part that were on the shelf after one was taken
        self.least_left = [self.ready_hoods, self.ready_tubes, *self.spares[2:]]
        self.shelf: list[deque[Kit]] = [deque() for _ in n.life_ppm]
        self.kits_ready = 0
        self.kits = [turnaround.new_kit(self, number) for number in range(n.kits)]
        # a stock may have fewer batteries than kits
        kits, batteries = n.kits - away, max(n.batteries - batteries_away, 0)
        for kit in self.kits[:kits]:
            self.usage.change(kit.state, 1, 0)
            turnaround.to_shelf(self, kit)
        own, come = n.kits - n.kits_come, n.kits_come + n.batteries_come
        self.kits_away = sorted(
            self.kits[kits:], key=lambda one: place_away(one.number, kits, own, n.kits)
        )
        for kit in self.kits_away:
            self.usage.change(kit.state, 1, 0)
            self.enter(kit, Use.KITS_AWAY)
        self.batteries = [Battery(number, n.capacity[number]) for number in range(n.batteries)]
        self.batteries_away = sorted(
            self.batteries[batteries:],
            key=lambda one: place_away(one.number, batteries, n.batteries - come, n.batteries),
        )
        self.usage.change(Use.BATTERIES_ON_SHELF, n.batteries, 0)
        for battery in self.batteries_away:
            self.place(battery, Use.BATTERIES_AWAY)

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
        battery.state = state
        self.usage.change(state, 1, self.now_s)

    def new_row(self) -> int:
        """Number of the row of a new need."""
        if len(self.needs) >= self.most_rows:
            raise Exhausted("new needs")
        return len(self.needs)

    def settle(self) -> None:
        """Take every decision of a second, in the written order."""
        turnaround.settle_away(self)
        line.serve(self)
        turnaround.start_wipe_downs(self)
        charging.fill_bays(self)
        turnaround.start_workshop(self)
        if self.clock.peek() > self.now_s:
            line.settle_patience(self)
        if self.clock.peek() > self.now_s:
            line.note_missing(self)
