"""How long the rest of a sizing takes: at the speed measured here, renewed while it runs."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from surge_sim.sizing.method import Plan

#: parts of a sizing, in order
CHOOSE, CERTIFY, LESS, LEAST_COST, COMPARE = (
    "choose", "certify", "one item less", "least cost", "compare",
)  # fmt: skip
#: plays from which a speed is taken
_ENOUGH_PLAYS = 50
#: how many times more plays choosing takes for each item beyond two
_EACH_MORE_ITEM = 5
#: surges of a comparison of single items, and stocks that it plays
_COMPARED, _CHANGES = 64, 12


@dataclass
class Forecast:
    """How much each part of a sizing has to play, and how fast this goes here."""

    #: to draw a surge, and to play it once, in one process [s]
    draw_s: float = 0.0
    play_s: float = 0.0
    #: processes
    at_once: int = 1
    say: Callable[[str], None] = lambda text: None
    clock: Callable[[], float] = time.perf_counter
    #: parts to come: surges drawn, plays at least and at most
    ahead: dict[str, tuple[float, float, float]] = field(default_factory=dict)
    #: parts that are done [s]
    laps: dict[str, float] = field(default_factory=dict)
    _began: float = 0.0

    def begin(self, plan: Plan, parts: int) -> None:
        """Lay the parts out from what is asked for; plays are counted as they usually are."""
        self._began = self.clock()
        items = len(plan.vary)
        usual = 10 * _EACH_MORE_ITEM ** max(items - 2, 0)
        drawn, certify = plan.choose * (2 if parts else 1), plan.certify
        self.ahead = {
            CHOOSE: (drawn, plan.choose * usual, plan.choose * (3 * usual + 2 * parts)),
            CERTIFY: (2 * certify, 2 * certify, 8 * certify),
            LESS: (certify, certify, (items + 2) * certify),
            LEAST_COST: (certify, certify, 4 * certify),
            COMPARE: (2 * _COMPARED, _CHANGES * _COMPARED, 2 * _CHANGES * _COMPARED),
        }
        self.say(f"likely to take {self._left()}")

    def renew(self, surges: int, plays: int, left: int, began_s: float) -> None:
        """Count what choosing has left from its first surges, and how long those took.

        Parameters
        ----------
        surges, plays : int
            Surges turned round so far, and their plays.
        left : int
            Surges yet to be turned round.
        began_s : float
            Reading of the clock when the first ones began [s].
        """
        self._speed(surges, plays, began_s)
        more = plays / max(surges, 1) * left
        self.ahead[CHOOSE] = (left, 0.8 * more, 1.2 * more)
        self.say(f"{self._left()} left")

    def done(self, part: str, plays: int) -> None:
        """Note that a part is done after so many plays, and say what is left at their speed."""
        drawn, _, _ = self.ahead.pop(part, (0.0, 0.0, 0.0))
        self._speed(drawn, plays, self._began)
        now = self.clock()
        self.laps[part] = now - self._began
        self._began = now
        if self.ahead:
            self.say(f"{self._left()} left")

    def _speed(self, drawn: float, plays: int, began_s: float) -> None:
        """Take the speed of the plays just done for that of those to come."""
        if plays >= _ENOUGH_PLAYS:
            spent = (self.clock() - began_s) * self.at_once
            self.play_s = max((spent - drawn * self.draw_s) / plays, 0.1 * spent / plays)

    def _left(self) -> str:
        """Return the time that the parts to come are likely to take, in words."""
        drawn, least, most = (sum(column) for column in zip(*self.ahead.values(), strict=True))
        low, high = (
            spoken((drawn * self.draw_s + plays * self.play_s) / self.at_once)
            for plays in (least, most)
        )
        return low if low == high else f"{low} to {high}"


def spoken(seconds: float) -> str:
    """Return a time in words that promise no more than is known: ``40 s``, ``3 min``."""
    if seconds < 90:
        return f"{max(round(seconds, -1 if seconds > 15 else 0), 1):.0f} s"
    return f"{seconds / 60:.0f} min" if seconds < 5400 else f"{seconds / 3600:.1f} h"
