"""The best service for a sum of money: which mix, when the target may be too dear."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING

import numpy as np

from surge_sim.sizing.items import ITEMS, order_of_choice, stock_cost, stock_words
from surge_sim.statistics.binomial import clopper_pearson

if TYPE_CHECKING:
    from surge_sim.equipment.stock import Stock
    from surge_sim.scenario.goal import Prices
    from surge_sim.sizing.ledger import Ledger
    from surge_sim.sizing.space import Axis

#: surges with which mixes are compared while the search narrows
_ROUGH = 40
#: mixes that are compared again on all choosing surges
_FINALISTS = 6


@dataclass(frozen=True)
class BudgetChoice:
    """The mix that serves best for the money, judged on fresh surges."""

    budget: float
    stock: Stock
    cost: float
    surges: int
    passes: int
    low: float
    high: float
    #: mean over surges of the share of entries in time
    share_in_time: float


@dataclass(frozen=True)
class TooLittle:
    """A sum that does not pay for what is held fixed, so that no stock can be named."""

    budget: float
    #: price of what is held fixed
    fixed: float


def best_for_budget(
    rough: Ledger,
    fresh: Ledger,
    bases: Sequence[Stock],
    axes: Sequence[Axis],
    prices: Prices,
    budget: float,
    choose: int,
    certify: int,
    confidence: float = 0.95,
) -> BudgetChoice | TooLittle:
    """Search the mixes that spend the budget, then judge the best one on fresh surges.

    Parameters
    ----------
    rough : Ledger
        Sample A, played in full.
    fresh : Ledger
        Sample B, played in full.
    bases : sequence of Stock
        What does not vary, without more spare parts and with them; its price counts.
    axes : sequence of Axis
        Whole axes; the cheapest item takes what money the others leave.
    prices : Prices
        What things cost.
    budget : float
        For the whole stock.
    choose, certify : int
        Surges to compare the last mixes on, and to judge the best one on.
    confidence : float
        Of the interval of the share of surges on target.

    Returns
    -------
    BudgetChoice or TooLittle
    """
    axes = sorted(axes, key=lambda axis: ITEMS[axis.item].lot_price(prices))
    seen: dict[Stock, float] = {}
    for base in dict.fromkeys(bases):
        seen |= _mixes(rough, base, axes, prices, budget, min(_ROUGH, choose))
    if not seen:
        return TooLittle(budget, min(stock_cost(_bare(base, axes), prices) for base in bases))
    finalists = sorted(seen, key=lambda stock: seen[stock], reverse=True)[:_FINALISTS]
    rough.extend(finalists, choose, "best mix")
    best = min(
        finalists,
        key=lambda stock: (
            -rough.passes(stock),
            -round(float(np.nanmean(rough.share_in_time(stock))), 6),
            order_of_choice(stock, prices),
        ),
    )
    fresh.extend([best], certify, "judging")
    passes = fresh.passes(best, certify)
    low, high = clopper_pearson(passes, certify, confidence)
    share = float(np.nanmean(fresh.share_in_time(best)[:certify]))
    return BudgetChoice(budget, best, stock_cost(best, prices), certify, passes, low, high, share)


def budget_words(
    found: BudgetChoice | TooLittle,
    share: float,
    currency: str,
    recommended: float | None = None,
    plays: str = "surges",
) -> str:
    """Say what a sum of money does, and plainly where it does not reach the target.

    Parameters
    ----------
    found : BudgetChoice or TooLittle
        What was found.
    share : float
        Share of surges [0..1] that the target asks for.
    currency : str
        Of the prices.
    recommended : float, optional
        Price of the recommended stock; None: no stock keeps the target.
    plays : str
        What plays are called.

    Returns
    -------
    str
        Sentences.
    """
    money = f"{found.budget:,.10g} {currency}"
    if isinstance(found, TooLittle):
        return f"{money} buys no stock: what is held fixed alone costs {found.fixed:,.10g}."
    text = (
        f"the best whole stock for it, what is in hand not counted, is {stock_words(found.stock)} "
        f"({found.cost:,.10g}): {found.passes:,} of {found.surges:,} {plays} on target, "
        f"{100 * found.share_in_time:.3g} % of entries in time."
    )
    if found.low >= share:
        return f"{money} reaches the target: {text}"
    costs = f" (the recommended stock costs {recommended:,.10g})" if recommended else ""
    if found.high < share:
        most = ""
        if found.high:
            needed = f"{100 * share:g} % are needed"
            most = f" At most {100 * found.high:.3g} % of {plays} are on target; {needed}."
        return f"{money} does NOT reach the target{costs}: {text}{most}"
    return f"{money} is not shown to reach the target{costs}: {text}"


def _mixes(
    rough: Ledger,
    base: Stock,
    axes: Sequence[Axis],
    prices: Prices,
    budget: float,
    surges: int,
) -> dict[Stock, float]:
    """Narrow the mixes of one base down; return all that were tried, with entries in time."""

    def mix(values: Sequence[int]) -> Stock | None:
        stock = base
        for axis, value in zip(axes[1:], values, strict=True):
            stock = ITEMS[axis.item].put(stock, value)
        return _fill_up(stock, axes[0], prices, budget)

    centre = [_most(base, axes, axis, prices, budget) // 2 for axis in axes[1:]]
    strides = [max(value // 2, axis.step) for value, axis in zip(centre, axes[1:], strict=True)]
    points = 5 if len(axes) <= 2 else 3
    seen: dict[Stock, float] = {}
    while True:
        grids = []
        for middle, stride, axis in zip(centre, strides, axes[1:], strict=True):
            around = [middle + stride * k for k in range(-(points // 2), points // 2 + 1)]
            snapped = {value // axis.step * axis.step for value in around}
            grids.append(sorted(value for value in snapped if axis.low <= value <= axis.high))
        mixes = {values: mix(values) for values in product(*grids)}
        real = {values: stock for values, stock in mixes.items() if stock is not None}
        if not real:
            return seen
        rough.extend(list(real.values()), surges, "best mix")
        for stock in real.values():
            seen[stock] = float(np.nanmean(rough.share_in_time(stock)))
        best_values = max(real, key=lambda values: seen[real[values]])
        moved, centre = centre != list(best_values), list(best_values)
        if not moved and all(
            stride <= axis.step for stride, axis in zip(strides, axes[1:], strict=True)
        ):
            return seen
        strides = [
            max(stride // 2, axis.step) for stride, axis in zip(strides, axes[1:], strict=True)
        ]


def _fill_up(stock: Stock, axis: Axis, prices: Prices, budget: float) -> Stock | None:
    """Buy as many of one item as the money left allows; None: too dear already."""
    item = ITEMS[axis.item]
    low, high = 0, len(axis) - 1
    if stock_cost(item.put(stock, axis.low), prices) > budget + 1e-9:
        return None
    while low < high:
        middle = (low + high + 1) // 2
        if stock_cost(item.put(stock, axis.value(middle)), prices) <= budget + 1e-9:
            low = middle
        else:
            high = middle - 1
    return item.put(stock, axis.value(low))


def _most(base: Stock, axes: Sequence[Axis], axis: Axis, prices: Prices, budget: float) -> int:
    """Return how many of one item the whole budget buys with none of the others."""
    filled = _fill_up(_bare(base, axes), axis, prices, budget)
    return axis.low if filled is None else ITEMS[axis.item].of(filled)


def _bare(base: Stock, axes: Sequence[Axis]) -> Stock:
    """Return what is held fixed, with the least of everything else."""
    for axis in axes:
        base = ITEMS[axis.item].put(base, axis.low)
    return base
