"""The walk along the frozen chain, on fresh surges, and the verdict on single stocks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from surge_sim.sizing.anytime import FIRST_LOOK, anytime_verdict, play_on
from surge_sim.sizing.chain import ANYTIME, FAILS, LOOKS, PASSES, UNDECIDED, Chain, Link
from surge_sim.sizing.looks import Look, failed_at, looks, may_fail, may_pass, passed_at
from surge_sim.statistics.binomial import anytime_limits, lower_limit, upper_limit

if TYPE_CHECKING:
    from surge_sim.equipment.stock import Stock
    from surge_sim.sizing.ledger import Ledger

#: candidates played together when each may be looked at after any surge
_TOGETHER = 4


@dataclass(frozen=True)
class Step:
    """One candidate after its test."""

    link: Link
    surges: int
    passes: int
    verdict: str


def walk(ledger: Ledger, chain: Chain, ends_s: float | None = None) -> list[Step]:
    """Test the candidates in order and stop at the first that is not shown to pass.

    Parameters
    ----------
    ledger : Ledger
        Plays sample B.
    chain : Chain
        The frozen candidates.
    ends_s : float, optional
        Reading of ``time.monotonic`` after which no further look begins [s]; anytime tests
        only, where stopping is honest.

    Returns
    -------
    list of Step
        All tested candidates; those before the last one passed.
    """
    steps: list[Step] = []
    stocks = [link.stock for link in chain.links]
    for place, link in enumerate(chain.links):
        if link.test == ANYTIME:
            ledger.extend(stocks[place : place + _TOGETHER], min(FIRST_LOOK, chain.surges))
            rule = (chain.share, chain.level, chain.surges)
            play_on(ledger, [link.stock], *rule, ends_s=ends_s)
            verdict, surges, passes = anytime_verdict(ledger.kept(link.stock), *rule)
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


def fixed_verdict(
    passes: int, surges: int, share: float, alpha: float, low_alpha: float | None = None
) -> str:
    """Return what one-sided exact limits say about a stock played on a fixed number of surges.

    Parameters
    ----------
    passes, surges : int
        Surges on target, of how many.
    share : float
        Share of surges that a stock must keep [0..1].
    alpha : float
        Chance of a wrong ``fails``, at most.
    low_alpha : float, optional
        Chance of a wrong ``passes``, at most; without it, ``alpha``.

    Returns
    -------
    str
        ``passes``, ``fails`` or ``undecided``.
    """
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
    ledger: Ledger, stock: Stock, role: str, chain: Chain, low_alpha: float | None = None
) -> Evidence:
    """Judge one stock by exact limits at the looks that were fixed beforehand.

    It is played no further than it may still be decided; the looks share the chances of error.

    Parameters
    ----------
    ledger : Ledger
        Sample B.
    stock : Stock
        The stock that is judged.
    role : str
        What it is beside the answer: ``recommended``, ``one kit less``.
    chain : Chain
        Number of surges, share, chance of a wrong ``fails``.
    low_alpha : float, optional
        Chance of a wrong ``passes``: small where many stocks share it, because somebody may act
        on any of them. Each ``fails`` stands alone. Without it, the chance of the chain.

    Returns
    -------
    Evidence
        Verdict and one-sided limits at the last look that was played.
    """
    low_alpha = low_alpha or chain.alpha
    until_decided(ledger, [stock], chain, low_alpha)
    kept = ledger.kept(stock)[: chain.surges]
    look = failed_at(kept, chain.surges, chain.share, chain.alpha) or look_of(kept, chain)
    surges, passes = look.surges, int(kept[: look.surges].sum())
    verdict = fixed_verdict(
        passes, surges, chain.share, look.part * chain.alpha, look.part * low_alpha
    )
    low = lower_limit(passes, surges, look.part * low_alpha)
    high = upper_limit(passes, surges, look.part * chain.alpha)
    return Evidence(stock, role, surges, passes, verdict, low, high, LOOKS, low_alpha)


def anytime_evidence_for(
    ledger: Ledger,
    stock: Stock,
    role: str,
    chain: Chain,
    low_alpha: float,
    ends_s: float | None = None,
) -> Evidence:
    """Judge one stock by evidence that may be looked at after any surge.

    Parameters
    ----------
    ledger, stock, role, chain, low_alpha
        See :func:`evidence_for`; the chain says up to how many surges one looks on.
    ends_s : float, optional
        Reading of ``time.monotonic`` after which no further look begins [s].

    Returns
    -------
    Evidence
        Verdict of the first look that decides, with limits that hold wherever it stopped.
    """
    assert chain.look_on is not None
    rule = (chain.share, chain.alpha, chain.look_on, low_alpha)
    play_on(ledger, [stock], *rule, ends_s, "one item less")
    verdict, surges, passes = anytime_verdict(ledger.kept(stock), *rule)
    low, _ = anytime_limits(passes, surges, low_alpha)
    _, high = anytime_limits(passes, surges, chain.alpha)
    return Evidence(stock, role, surges, passes, verdict, low, high, ANYTIME, low_alpha)


def look_of(kept: NDArray[np.int64], chain: Chain) -> Look:
    """Return the look that the surges played so far have reached.

    Parameters
    ----------
    kept : ndarray of int, shape (surges played,)
        1 for every surge on target; at least those of the first look.
    chain : Chain
        Says how many surges there are at most.

    Returns
    -------
    Look
        The last look at no more surges than were played.
    """
    return [look for look in looks(chain.surges) if look.surges <= len(kept)][-1]


def step_evidence(step: Step, role: str, chain: Chain) -> Evidence:
    """Return what the walk saw of a candidate, with limits that hold wherever it stopped.

    Parameters
    ----------
    step : Step
        The candidate after its test.
    role : str
        What it is beside the answer: ``recommended``, ``candidate``, ``next candidate``.
    chain : Chain
        The frozen candidates, with the chance of error of the limits.

    Returns
    -------
    Evidence
        Verdict of the walk and one-sided limits.
    """
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
