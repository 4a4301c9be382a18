"""Sample B: what fresh surges showed of each stock, and the one verdict that follows.

The limits of a share are those of a test by betting (:mod:`surge_sim.sizing.betting`): one may
look after any surge, stop early, and go on later.

Confirmed: the lower limit has reached the share that is asked for, and so has that of every
dearer stock of the chain. The chain was fixed beforehand and is tested from its dear end, each
stock at the whole alpha, ending at the first that is not confirmed: so all confirmed stocks hold
together (Hsu and Berger, "Stepwise confidence intervals without multiplicity adjustment" (title in
part, from memory), Journal of the American Statistical Association 94, 1999). Not met: the upper
limit is below the share; that holds for each stock by itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from surge_sim.equipment.stock import within
from surge_sim.randomness import Sample
from surge_sim.sizing.betting import by_block, decided_at, limits
from surge_sim.sizing.player import Seen

if TYPE_CHECKING:
    from surge_sim.equipment.stock import Stock
    from surge_sim.sizing.player import Player, Row, Work

CONFIRMED, NOT_MET, UNDECIDED = "confirmed", "not met", "undecided"
#: nothing is decided before so many surges; then it may be after any of them
FIRST_LOOK = 100
#: candidates that are played together up to then
_TOGETHER = 4


def looks(most: int) -> list[int]:
    """Return how many surges are played before the next are: an eighth more each time."""
    found = [min(FIRST_LOOK, most)]
    while found[-1] < most:
        found.append(min(found[-1] + max(found[-1] // 8, 1), most))
    return found


@dataclass(frozen=True)
class PlayTask:
    """Play one surge with some stocks; picklable."""

    player: Player
    stocks: tuple[Stock, ...]
    whole: bool

    def __call__(self, number: int) -> list[Row] | list[bool]:
        """Return a row of each stock, or only whether it kept the target."""
        surge = self.player.surge(Sample.CONFIRM, number)
        if self.whole:
            return [surge.row(stock) for stock in self.stocks]
        return [surge.kept(stock) for stock in self.stocks]


@dataclass(frozen=True)
class Entry:
    """What is known of one stock: the only source of every line, table and figure about it."""

    stock: Stock
    surges: int
    passes: int
    #: one-sided limits of the true share of surges on target, each at the chance of error alpha
    low: float
    high: float
    verdict: str
    #: whether it is shown to meet the target by itself
    above: bool
    #: surges on target in each block of the bet, of how many
    blocks: tuple[tuple[int, int], ...]
    #: why it was played
    test: str


@dataclass
class Ledger:
    """Plays of sample B by stock, always of its first surges."""

    player: Player
    share: float
    alpha: float
    most: int
    work: Work
    #: the single play of a recorded period says all
    alike: bool = False
    plays: int = 0
    _kept: dict[Stock, NDArray[np.bool_]] = field(default_factory=dict)
    _rows: dict[Stock, NDArray[np.int64]] = field(default_factory=dict)
    _test: dict[Stock, str] = field(default_factory=dict)
    _confirmed: list[Stock] = field(default_factory=list)

    def play(self, stocks: Sequence[Stock], surges: int, test: str) -> None:
        """Play stocks that have fewer surges up to so many."""
        for begin in sorted({len(self._kept.get(stock, ())) for stock in stocks}):
            alike = [one for one in stocks if len(self._kept.get(one, ())) == begin]
            if begin >= surges:
                continue
            task = PlayTask(self.player, tuple(dict.fromkeys(alike)), False)
            found = np.array(self.work(task, range(begin, surges), test), dtype=bool)
            self.plays += found.size
            for stock, kept in zip(task.stocks, found.T, strict=True):
                self._test.setdefault(stock, test)
                old = self._kept.get(stock, np.zeros(0, dtype=bool))
                self._kept[stock] = np.concatenate([old, kept])

    def play_whole(self, stocks: Sequence[Stock], test: str) -> None:
        """Play stocks to the end of the surges of the first look."""
        lacking = tuple(one for one in dict.fromkeys(stocks) if one not in self._rows)
        if not lacking:
            return
        task = PlayTask(self.player, lacking, True)
        found = self.work(task, range(looks(self.most)[0]), test)
        self.plays += len(found) * len(lacking)
        for place, stock in enumerate(lacking):
            rows = np.array([one[place] for one in found])
            self._rows[stock] = rows
            kept = rows[:, Seen.ON_TARGET].astype(bool)
            if len(self._kept.get(stock, ())) < len(kept):
                self._kept[stock] = kept
                self._test.setdefault(stock, test)

    def walk(self, chain: Sequence[Stock]) -> None:
        """Test stocks from the dear end, up to the first that is not confirmed."""
        for place, stock in enumerate(chain):
            if stock not in self._kept:
                # some together, as each surge is then drawn only once
                self.play(chain[place : place + _TOGETHER], looks(self.most)[0], "candidate")
            if not self.decide(stock, "candidate").above:
                break
            self._confirmed.append(stock)

    def decide(self, stock: Stock, test: str) -> Entry:
        """Play a stock until it is decided, or the surges run out."""
        for look in looks(self.most):
            self.play([stock], look, test)
            entry = self.entry(stock)
            if entry.above or entry.verdict == NOT_MET:
                break
        return self.entry(stock)

    def entry(self, stock: Stock) -> Entry:
        """Return what is known of a stock; surges that were played after it was decided are not
        counted.
        """  # noqa: D205
        kept = self._kept.get(stock, np.zeros(0, dtype=bool))
        if self.alike:
            surges, above, below = len(kept), bool(kept.all()), not kept.all()
        else:
            first = looks(self.most)[0]
            surges, above, below = decided_at(kept, self.share, self.alpha, first)
        kept = kept[:surges]
        blocks = by_block(kept)
        low, high = limits(blocks, self.share, self.alpha)
        if self.alike and surges:
            low = high = float(kept.all())
        verdict = UNDECIDED
        # one play of a recorded period in which nothing is random decides by itself
        if stock in self._confirmed or (self.alike and surges and above):
            verdict = CONFIRMED
        elif below:
            verdict = NOT_MET
        return Entry(
            stock, surges, int(kept.sum()), low, high, verdict, above, blocks,
            self._test.get(stock, ""),
        )  # fmt: skip

    @property
    def entries(self) -> list[Entry]:
        """What is known of every stock that was played."""
        return [self.entry(stock) for stock in sorted(self._kept)]

    @property
    def recommended(self) -> Stock | None:
        """The last stock of the chain that was confirmed; None if none was."""
        return self._confirmed[-1] if self._confirmed else None

    def rows(self, stock: Stock) -> NDArray[np.int64]:
        """Return the whole plays of a stock, shape (surges of the first look, SEEN)."""
        return self._rows[stock]

    def monotonicity_violations(self) -> tuple[int, int]:
        """Return in how many surges more stock missed what less kept, of how many compared."""
        longest = max(map(len, self._kept.values()), default=0)
        compared, hurt = np.zeros(longest, dtype=bool), np.zeros(longest, dtype=bool)
        for less, poor in self._kept.items():
            for more, rich in self._kept.items():
                if less != more and within(less, more):
                    both = min(len(poor), len(rich))
                    compared[:both] = True
                    hurt[:both] |= poor[:both] & ~rich[:both]
        return int(hurt.sum()), int(compared.sum())
