"""The walk along the frozen chain, on fresh surges, and the verdict on single stocks."""

from __future__ import annotations

import math
import time
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from surge_sim.sizing.chain import ANYTIME, LOOKS, Chain, Link
from surge_sim.sizing.items import ITEMS, order_of_choice
from surge_sim.sizing.looks import Look, failed_at, looks, may_fail, may_pass, passed_at
from surge_sim.statistics.binomial import (
    anytime_limits,
    least_passes,
    log_evidence_above,
    log_evidence_below,
    lower_limit,
    upper_limit,
)

if TYPE_CHECKING:
    from surge_sim.equipment.stock import Stock
    from surge_sim.scenario.goal import Prices
    from surge_sim.sizing.ledger import Ledger

PASSES, FAILS, UNDECIDED = "passes", "fails", "undecided"

#: candidates played together when each may be looked at after any surge
_TOGETHER = 4
#: first look of the anytime test; each later look has half as many surges again
_FIRST_LOOK = 100


@dataclass(frozen=True)
class Step:
    """One candidate after its test."""

    link: Link
    surges: int
    passes: int
    verdict: str


def walk(ledger: Ledger, chain: Chain, within_s: float | None = None) -> list[Step]:
    """Test the candidates in order and stop at the first that is not shown to pass.

    Parameters
    ----------
    ledger : Ledger
        Plays sample B.
    chain : Chain
        The frozen candidates.
    within_s : float, optional
        Stop looking after this time [s]; anytime tests only, where stopping is honest.

    Returns
    -------
    list of Step
        All tested candidates; those before the last one passed.
    """
    steps: list[Step] = []
    ends_s = None if within_s is None else time.monotonic() + within_s
    stocks = [link.stock for link in chain.links]
    for place, link in enumerate(chain.links):
        if link.test == ANYTIME:
            ledger.extend(stocks[place : place + _TOGETHER], min(_FIRST_LOOK, chain.surges))
            verdict, surges, passes = anytime_verdict(
                ledger, link.stock, chain.share, chain.level, chain.surges, ends_s
            )
            steps.append(Step(link, surges, passes, verdict))
        else:
            if not place:
                _test_in_order(ledger, stocks, chain)
            steps.append(_tested(ledger, link, chain))
        if steps[-1].verdict != PASSES:
            break
    return steps


def _test_in_order(ledger: Ledger, stocks: Sequence[Stock], chain: Chain) -> None:
    """Play candidates look by look until each is decided, or one before it can hardly pass.

    All together: one drawing of demand serves them all, and those that come to nothing are
    dropped early.
    """
    going = list(stocks)
    for look in looks(chain.surges):
        ledger.extend(going, look.surges)
        left = []
        for stock in going:
            kept = ledger.kept(stock)[: look.surges]
            if passed_at(kept, chain.surges, chain.share, chain.level):
                continue
            passes = int(kept.sum())
            if not may_pass(passes, look.surges, chain.surges, chain.share, chain.level):
                break
            left.append(stock)
        going = left
        if not going:
            return


def _tested(ledger: Ledger, link: Link, chain: Chain) -> Step:
    kept = ledger.kept(link.stock)[: chain.surges]
    look = passed_at(kept, chain.surges, chain.share, chain.level)
    if look is None:
        return Step(link, len(kept), int(kept.sum()), UNDECIDED)
    return Step(link, look.surges, int(kept[: look.surges].sum()), PASSES)


def trim(ledger: Ledger, chain: Chain, certified: Stock, prices: Prices) -> tuple[Stock, float]:
    """Leave lots out of the certified stock, one after the other, as long as the rest passes.

    The chance of error kept for the candidate is split between the items at every step: a test
    that passes hands its part on to the lots that may go next (Bretz, Maurer, Brannath and
    Posch, "A graphical approach to sequentially rejective multiple test procedures", Statistics
    in Medicine 28, 2009). Each is tested at the last look only; the part of the earlier ones is
    left unspent.

    Returns
    -------
    tuple
        The stock, and the level at which the stocks with one lot less were tested.
    """
    level, stock = chain.kept, certified
    while True:
        level /= max(len(chain.trims), 1)
        part = looks(chain.surges)[-1].part
        needed = least_passes(chain.surges, chain.share, part * level)
        items = [ITEMS[name] for name in chain.trims]
        less = [
            item.put(stock, item.of(stock) - item.lot(prices))
            for item in items
            if item.of(stock) >= item.lot(prices)
        ]
        until_decided(ledger, less, chain, level)
        passing = [
            other
            for other in less
            if ledger.played(other) >= chain.surges and ledger.passes(other, chain.surges) >= needed
        ]
        if not passing:
            return stock, level
        stock = min(passing, key=lambda other: order_of_choice(other, prices))


def until_decided(ledger: Ledger, stocks: Sequence[Stock], chain: Chain, low_alpha: float) -> None:
    """Play stocks on the certifying surges, but each no longer than it may still be decided.

    It ends early when it is shown to fail, or can hardly be shown to fail or to pass any more.
    One that seems to pass is played on all of them: it may become the recommended one.

    Parameters
    ----------
    ledger : Ledger
        Sample B.
    stocks : sequence of Stock
        Played together.
    chain : Chain
        Number of surges, share, chance of a wrong ``fails``.
    low_alpha : float
        Chance of a wrong ``passes``.
    """
    going, share, most = list(stocks), chain.share, chain.surges
    for look in looks(most):
        ledger.extend(going, look.surges, "one item less")
        left = []
        for stock in going:
            kept = ledger.kept(stock)[: look.surges]
            passes = int(kept.sum())
            open_still = may_pass(passes, look.surges, most, share, low_alpha) or may_fail(
                passes, look.surges, most, share, chain.alpha
            )
            if open_still and not failed_at(kept, most, share, chain.alpha):
                left.append(stock)
        going = left


def anytime_verdict(
    ledger: Ledger,
    stock: Stock,
    share: float,
    alpha: float,
    most: int,
    ends_s: float | None = None,
    low_alpha: float | None = None,
) -> tuple[str, int, int]:
    """Play a stock until the evidence decides, or the surges (or the time) run out.

    Returns
    -------
    tuple
        Verdict, surges looked at, passes among them. Each of ``passes`` and ``fails`` is wrong
        with chance alpha at most, however often one looks.
    """
    bar, above = -math.log(alpha), -math.log(low_alpha or alpha)
    look = min(_FIRST_LOOK, most)
    while True:
        ledger.extend([stock], look)
        passes = ledger.passes(stock, look)
        if log_evidence_above(passes, look, share) >= above:
            return PASSES, look, passes
        if log_evidence_below(passes, look, share) >= bar:
            return FAILS, look, passes
        if look >= most or (ends_s is not None and time.monotonic() > ends_s):
            return UNDECIDED, look, passes
        look = min(look + look // 2, most)


def fixed_verdict(
    passes: int, surges: int, share: float, alpha: float, low_alpha: float | None = None
) -> str:
    """Return what one-sided exact limits say about a stock played on a fixed number of surges."""
    if lower_limit(passes, surges, low_alpha or alpha) >= share:
        return PASSES
    if upper_limit(passes, surges, alpha) < share:
        return FAILS
    return UNDECIDED


@dataclass(frozen=True)
class Evidence:
    """What sample B says about one stock."""

    stock: Stock
    role: str
    surges: int
    passes: int
    verdict: str
    #: share of surges on target: at least ``low``, at most ``high``, each so surely
    low: float
    high: float
    test: str
    #: chance that the lower limit is too high
    low_alpha: float


def evidence_for(
    ledger: Ledger,
    stock: Stock,
    role: str,
    chain: Chain,
    most: int | None = None,
    low_alpha: float | None = None,
) -> Evidence:
    """Judge one stock by exact limits at its looks, or look on up to ``most`` surges.

    Without ``most`` a stock is played no further than it may still be decided; the looks share
    the chances of error.

    ``low_alpha`` is the chance of a wrong ``passes``: small where many stocks share it,
    because somebody may act on any of them. Each ``fails`` stands alone.
    """
    low_alpha = low_alpha or chain.alpha
    if most is not None and most > chain.surges:
        verdict, surges, passes = anytime_verdict(
            ledger, stock, chain.share, chain.alpha, most, low_alpha=low_alpha
        )
        test = ANYTIME
        low, _ = anytime_limits(passes, surges, low_alpha)
        _, high = anytime_limits(passes, surges, chain.alpha)
    else:
        until_decided(ledger, [stock], chain, low_alpha)
        kept, test = ledger.kept(stock)[: chain.surges], LOOKS
        look = failed_at(kept, chain.surges, chain.share, chain.alpha) or look_of(kept, chain)
        surges, passes = look.surges, int(kept[: look.surges].sum())
        verdict = fixed_verdict(
            passes, surges, chain.share, look.part * chain.alpha, look.part * low_alpha
        )
        low = lower_limit(passes, surges, look.part * low_alpha)
        high = upper_limit(passes, surges, look.part * chain.alpha)
    return Evidence(stock, role, surges, passes, verdict, low, high, test, low_alpha)


def look_of(kept: NDArray[np.int64], chain: Chain) -> Look:
    """Return the look that the surges played so far have reached."""
    return [look for look in looks(chain.surges) if look.surges <= len(kept)][-1]


def step_evidence(step: Step, role: str, chain: Chain) -> Evidence:
    """Return what the walk saw of a candidate, with limits that hold wherever it stopped."""
    if step.link.test == ANYTIME:
        low, high = anytime_limits(step.passes, step.surges, chain.alpha)
    else:
        part = next(look.part for look in looks(chain.surges) if look.surges == step.surges)
        low = lower_limit(step.passes, step.surges, part * chain.alpha)
        high = upper_limit(step.passes, step.surges, part * chain.alpha)
    return Evidence(
        step.link.stock, role, step.surges, step.passes, step.verdict, low, high, step.link.test,
        chain.alpha,
    )  # fmt: skip
