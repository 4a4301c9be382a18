"""What happened to one entry, kit or battery over a surge."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from surge_sim.demand.table import Demand
from surge_sim.engine.log import RunLog
from surge_sim.engine.play import play
from surge_sim.equipment.situation import Situation
from surge_sim.equipment.stock import Stock
from surge_sim.scenario.schema import Settings

Sort = Literal["entry", "kit", "battery"]


@dataclass(frozen=True)
class Story:
    """One surge as the reference engine played it, and the thing that is asked about."""

    sort: Sort
    #: from 0
    number: int
    settings: Settings
    situation: Situation
    #: with its events
    log: RunLog
    #: the thing was not asked for by number: it is the entry that waited longest
    waited_longest: bool = False

    @property
    def trace(self) -> Demand:
        """The surge's demand."""
        return self.situation.demand

    @property
    def stock(self) -> Stock:
        """How much equipment there is."""
        return self.situation.stock


def how_many(sort: Sort, situation: Situation) -> int:
    """Count the entries of a surge, or the kits or batteries in it, borrowed ones included."""
    if sort == "entry":
        return situation.demand.entries
    stock, timeline = situation.stock, situation.timeline
    if sort == "kit":
        return stock.kits + timeline.kits_come
    return stock.batteries + timeline.kits_come + timeline.batteries_come


def tell_story(
    settings: Settings, situation: Situation, sort: Sort = "entry", number: int | None = None
) -> Story:
    """Play one surge in the reference engine and keep all that happens.

    Parameters
    ----------
    settings : Settings
        Of the surge.
    situation : Situation
        What is played.
    sort : {"entry", "kit", "battery"}
        What the story is about.
    number : int, optional
        Which one, from 0, below `how_many`. Without a number: the entry that waited longest.

    Returns
    -------
    Story
    """
    log = play(*situation, engine="reference", events=True)
    which = longest_waiting(log, situation.demand.entries) if number is None else number
    return Story(sort, which, settings, situation, log, number is None)


def longest_waiting(log: RunLog, entries: int) -> int:
    """Return the entry whose needs waited longest in all; the first of equals, 0 without any."""
    waited_s = np.zeros(max(entries, 1), dtype=np.int64)
    np.add.at(waited_s, log.entry, log.wait_s)
    return int(np.argmax(waited_s))
