"""The story of one entry, kit or battery over a surge, told by the reference engine."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np

from surge_sim.demand.trace import Demand
from surge_sim.engine.log import RunLog
from surge_sim.engine.play import narrate
from surge_sim.equipment.case import Case
from surge_sim.equipment.stock import Stock
from surge_sim.scenario.events import Disruption
from surge_sim.scenario.schema import Settings

Sort = Literal["entry", "kit", "battery"]


class Sentence(NamedTuple):
    """Something that happened at a second of the surge."""

    at_s: int
    said: str
    #: told of the whole unit, not of the thing itself
    of_unit: bool = False


@dataclass(frozen=True)
class Story:
    """What happened to one thing over one surge."""

    sort: Sort
    #: from 0
    number: int
    #: in order of time, disruptions of the unit among them
    sentences: tuple[Sentence, ...]
    settings: Settings
    case: Case
    log: RunLog
    #: the thing was not asked for by number: it is the entry that waited longest
    waited_longest: bool = False

    @property
    def trace(self) -> Demand:
        """The surge's demand."""
        return self.case.demand

    @property
    def stock(self) -> Stock:
        """How much equipment there is."""
        return self.case.stock


def how_many(sort: Sort, case: Case) -> int:
    """Count the entries of a surge, or the kits or batteries in it, borrowed ones included."""
    if sort == "entry":
        return case.demand.entries
    own = case.stock.kits if sort == "kit" else case.stock.batteries
    return own + case.timeline.can_come


def tell_story(
    settings: Settings, case: Case, sort: Sort = "entry", number: int | None = None
) -> Story:
    """Play one surge in the reference engine and keep what it tells of one thing.

    Parameters
    ----------
    settings : Settings
        Of the surge.
    case : Case
        What is played.
    sort : {"entry", "kit", "battery"}
        What the story is about.
    number : int, optional
        Which one, from 0, below `how_many`. Without a number: the entry that waited longest.

    Returns
    -------
    Story
    """
    told: defaultdict[int, list[Sentence]] = defaultdict(list)

    def listen(at_s: int, what: str, which: int, said: str) -> None:
        if what == sort and number in (None, which):
            told[which].append(Sentence(at_s, said))

    log = narrate(*case, listener=listen, begin=told.clear)
    which = longest_waiting(log, case.demand.entries) if number is None else number
    own = told[which]
    # nothing of the unit before or after an entry's own story
    first_s, last_s = 0, case.demand.closing_s
    if sort == "entry" and own:
        first_s, last_s = own[0].at_s, own[-1].at_s
    unit = [one for one in unit_sentences(case.timeline.changes) if first_s <= one.at_s <= last_s]
    sentences = sorted([*unit, *own], key=lambda one: one.at_s)
    return Story(sort, which, tuple(sentences), settings, case, log, number is None)


def longest_waiting(log: RunLog, entries: int) -> int:
    """Return the entry whose needs waited longest in all; the first of equals, 0 without any."""
    waited_s = np.zeros(max(entries, 1), dtype=np.int64)
    np.add.at(waited_s, log.entry, log.wait_s)
    return int(np.argmax(waited_s))


def unit_sentences(changes: Sequence[Disruption]) -> list[Sentence]:
    """Tell when each change begins and ends."""
    found = []
    for event in changes:
        name = _named(event)
        found.append(Sentence(event.at, f"{name} begins", True))
        found.append(Sentence(event.at + event.lasts, f"{name} is over", True))
    return found


def _named(event: Disruption) -> str:
    return {
        "power cut": "a power cut",
        "charger failure": "a failure of chargers",
        "cleaners absent": "absence of cleaners",
        "extra cleaners": "the time of extra cleaners",
        "kits withdrawn": "the withdrawal of kits",
        "kits borrowed": "the loan of kits",
        "delivery missed": "a time without deliveries",
        "extra patients": "a time of extra patients",
        "bad filters": "a run of bad filters",
    }[event.what]
