"""Who waits behind whom and where the batteries are, followed from event to event."""

from __future__ import annotations

from bisect import insort
from collections.abc import Iterator

from surge_sim.engine.log import Event, Kind, Use
from surge_sim.equipment.situation import Situation
from surge_sim.report.rounding import counted, listed

#: what kits wait for, by the number of the way to wipe down
_WIPED_BY = ("a free place", "a cleaner", "the next central round")
#: where batteries are, in the order in which it is told
_PLACES = {
    Use.BATTERIES_IN_USE: "in use",
    Use.BATTERIES_COOLING: "cooling down",
    Use.BATTERIES_IN_BAY: "in bays",
    Use.BATTERIES_WAITING_FOR_BAY: "waiting for a bay",
    Use.BATTERIES_ON_SHELF: "on the shelf",
    Use.BATTERIES_OUT: "out of service",
}
_LEAVING = (Kind.TAKES_KIT, Kind.TAKES_BATTERY, Kind.RENEGES)


class Queues:
    """The lines at the shelf, the queue for the wipe-down, and the one for a charger bay."""

    def __init__(self, situation: Situation) -> None:
        self.situation = situation
        #: each as (line, moment of the need, row, entry)
        self.line: list[tuple[int, ...]] = []
        self.place: dict[int, tuple[int, ...]] = {}
        self.kits: list[int] = []
        self.batteries: list[int] = []
        #: where each battery is
        self.where = dict.fromkeys(range(situation.stock.batteries), int(Use.BATTERIES_ON_SHELF))
        # of whom it is not yet told that they wait
        self.new_entries: set[int] = set()
        self.new_kits: set[int] = set()
        self.new_batteries: set[int] = set()

    def follow(self, event: Event) -> None:
        """Move whoever the event moves."""
        if event.kind == Kind.JOINS_LINE:
            self.place[event.entry] = (*event.values[:3], event.entry)
            insort(self.line, self.place[event.entry])
            self.new_entries.add(event.entry)
        elif event.kind in _LEAVING:
            self.line.remove(self.place.pop(event.entry))
            self.new_entries.discard(event.entry)
        elif event.kind == Kind.KIT_MOVES:
            self._move(event, event.kit, self.kits, self.new_kits, Use.KITS_WAITING_FOR_WIPE)
        elif event.kind == Kind.BATTERY_MOVES:
            self.where[event.battery] = event.value("state")
            waiting = Use.BATTERIES_WAITING_FOR_BAY
            self._move(event, event.battery, self.batteries, self.new_batteries, waiting)

    def _move(
        self, event: Event, number: int, queue: list[int], new: set[int], waiting: Use
    ) -> None:
        if event.value("state") == waiting:
            # a battery whose bay fails goes before all who wait
            front = event.value("was") == Use.BATTERIES_IN_BAY
            queue.insert(0 if front else len(queue), number)
            new.add(number)
        elif event.value("was") == waiting:
            queue.remove(number)
            new.discard(number)

    def waited_s(self, event: Event) -> int:
        """Return how long the entry that now takes something has waited since its request [s]."""
        _, need_s, *_ = self.place[event.entry]
        return event.second - need_s

    def batteries_words(self) -> str:
        """Say where the batteries are: ``7 in use, 8 in bays and 1 waiting for a bay``."""
        places = list(self.where.values())
        return listed(
            [f"{places.count(at)} {said}" for at, said in _PLACES.items() if at in places]
        )

    def begin_to_wait(self) -> Iterator[tuple[str, int, str]]:
        """Tell of each who has begun to wait, behind how many; of the first in line others do."""
        for ahead, (*_, entry) in enumerate(self.line if self.new_entries else ()):
            if ahead and entry in self.new_entries:
                yield "entry", entry, f"waits in line, {counted(ahead, 'request')} ahead"
        for ahead, kit in enumerate(self.kits if self.new_kits else ()):
            if kit in self.new_kits:
                wanted = _WIPED_BY[self.situation.unit.rules.cleaning]
                yield "kit", kit, f"waits for {wanted}, {ahead} ahead of it"
        for ahead, battery in enumerate(self.batteries if self.new_batteries else ()):
            if battery in self.new_batteries:
                bays = self.situation.stock.bays
                yield "battery", battery, f"waits for one of {bays} bays, {ahead} ahead of it"
        for new in (self.new_entries, self.new_kits, self.new_batteries):
            new.clear()
