"""The tree of an exercise: from each decision one stretch of the surge for every choice."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from surge_sim.drill.branches import Surge
from surge_sim.drill.line import ahead_of
from surge_sim.drill.orders import Order, orders
from surge_sim.drill.outcome import InAll, Stretch, in_all, longest_waiting_entry, stretch
from surge_sim.drill.seen import Seen, seen
from surge_sim.engine.log import EventLog, RunLog
from surge_sim.engine.play import play
from surge_sim.equipment.situation import Situation
from surge_sim.scenario.exercise import Choices
from surge_sim.statistics.target import as_judged
from surge_sim.units import DAY_S, HOUR_S, MINUTE_S

#: what is to be seen is looked at so often at most, and at one of these distances [s]
_MOST_LOOKS = 720
_DISTANCES_S = (
    MINUTE_S, 2 * MINUTE_S, 5 * MINUTE_S, 10 * MINUTE_S, 15 * MINUTE_S, 30 * MINUTE_S, HOUR_S,
    2 * HOUR_S, 4 * HOUR_S, DAY_S,
)  # fmt: skip


@dataclass(frozen=True)
class EntryStory:
    """The story of one entry: the one that waited longest of those that began and ended here."""

    entry: int
    #: over all its needs [s]
    waited_s: int
    #: its events only
    events: EventLog
    situation: Situation
    #: seconds in which it joined the line, and how many were served before it then
    ahead: Mapping[int, int] = field(default_factory=dict)


@dataclass(frozen=True)
class Branch:
    """One stretch: from a decision, or the start, until the next one, or the end."""

    #: made before it; () is the stretch before the first decision
    choices: Choices
    from_s: int
    to_s: int
    #: when it is looked at [s]; the last time is `to_s`, or the end of the exercise
    at_s: tuple[int, ...]
    seen: Seen
    #: what is on order then
    orders: tuple[tuple[Order, ...], ...]
    stretch: Stretch
    #: None where nobody came and was done in it
    story: EntryStory | None


def distance_s(length_s: int) -> int:
    """Return how far apart the looks at an exercise are [s]."""
    enough = (one for one in _DISTANCES_S if length_s <= _MOST_LOOKS * one)
    return next(enough, -(-length_s // _MOST_LOOKS))


class Tree:
    """The branches of one simulated surge; each is played when it is asked for, once."""

    def __init__(self, surge: Surge) -> None:
        self.surge = surge
        self.exercise = surge.exercise
        self._branches: dict[Choices, Branch] = {}
        self._in_all: dict[Choices, InAll] = {}

    def branch(self, choices: Choices) -> Branch:
        """Return the stretch that follows these choices."""
        if choices not in self._branches:
            # what is chosen later changes nothing of it
            self._play((*choices, *(0 for _ in self.exercise.moments[len(choices) :])))
        return self._branches[choices]

    def in_all(self, choices: Choices) -> InAll:
        """Return what came of the whole surge with all choices made."""
        if choices not in self._in_all:
            self._play(choices)
        return self._in_all[choices]

    def whole(self) -> None:
        """Play every path."""
        for choices in self.exercise.paths:
            self.in_all(choices)

    def _play(self, choices: Choices) -> None:
        situation = self.surge.situation(choices)
        target = self.surge.settings.target
        log = as_judged(situation, play(*situation, events=True), target)
        self._in_all[choices] = in_all(situation.demand, log, target)
        for made in range(len(choices) + 1):
            if choices[:made] not in self._branches:
                self._branches[choices[:made]] = self._branch(choices[:made], situation, log)

    def _branch(self, choices: Choices, situation: Situation, log: RunLog) -> Branch:
        moments, length_s = self.exercise.moments, self.exercise.file.length
        made = len(choices)
        from_s = moments[made - 1].at if made else 0
        is_last = made == len(moments)
        to_s = situation.demand.closing_s if is_last else moments[made].at
        shown_to_s = length_s if is_last else to_s
        every_s = distance_s(length_s)
        first_s = from_s // every_s * every_s + every_s
        at_s = (from_s, *range(first_s, shown_to_s, every_s), shown_to_s)
        return Branch(
            choices,
            from_s,
            to_s,
            at_s,
            seen(situation, log, at_s),
            orders(situation, log, at_s),
            stretch(situation.demand, log, self.surge.settings.target, from_s, to_s),
            _story(situation, log, from_s, to_s),
        )


def _story(situation: Situation, log: RunLog, from_s: int, to_s: int) -> EntryStory | None:
    entry = longest_waiting_entry(log, from_s, to_s)
    if entry is None:
        return None
    assert log.events is not None
    waited_s = int(log.wait_s[log.entry == entry].sum())
    mine = log.events[log.events[:, 2] == entry]
    return EntryStory(entry, waited_s, mine, situation, ahead_of(log.events, entry))
