"""The answer of a sizing: what is recommended, how sure that is, and what to read beside it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import pandas as pd

from surge_sim.cautions import CAUTION_IN_SHORT
from surge_sim.demand.replay import Replay
from surge_sim.equipment.stock import PLENTY, Stock
from surge_sim.scenario.gear import Supplies
from surge_sim.scenario.goal import Prices, Target
from surge_sim.sizing.alone import low_alone
from surge_sim.sizing.budget import BudgetChoice, TooLittle
from surge_sim.sizing.certify import Evidence, Step
from surge_sim.sizing.chain import Chain
from surge_sim.sizing.choose import Choice
from surge_sim.sizing.items import EXTRA, ITEMS, parts_of, stock_cost, stock_words, within
from surge_sim.sizing.least_cost import LeastCost
from surge_sim.sizing.monotone import Harm
from surge_sim.sizing.next_item import NextItems
from surge_sim.sizing.parts import NO_PARTS, Box
from surge_sim.sizing.parts_table import parts_table
from surge_sim.statistics.binomial import quantile_limits
from surge_sim.statistics.tables import without_limits

#: shares of surges for which the stock needed is listed
NEEDED_SHARES = (0.5, 0.8, 0.9, 0.95, 0.99)


@dataclass(frozen=True)
class Beside:
    """A stock or a claim shown beside the answer, judged on the same fresh surges."""

    what: str
    stock: Stock
    surges: int
    passes: int
    low: float
    high: float


@dataclass(frozen=True)
class SizeResult:
    """Everything that a sizing found."""

    name: str
    seed: int
    target: Target
    prices: Prices
    vary: tuple[str, ...]
    confidence: float
    in_hand: Stock
    recommended: Stock
    cost: float
    choice: Choice
    chain: Chain
    steps: tuple[Step, ...]
    evidence: tuple[Evidence, ...]
    least_cost: LeastCost
    harm: Harm
    next_in_hand: NextItems | None = None
    next_recommended: NextItems | None = None
    arithmetic: Beside | None = None
    central: Beside | None = None
    budget: BudgetChoice | TooLittle | None = None
    plays: int = 0
    #: plays that the same numbers of surges would take with every stock of the box
    grid_plays: int = 0
    seconds: dict[str, float] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    #: the scenario's title
    title: str = ""
    #: items that make a difference in the scenario; those not in `vary` were held fixed
    could_vary: tuple[str, ...] = ("kits", "batteries", "bays")
    #: a recorded period that was played; None for drawn surges
    replay: Replay | None = None
    #: what people wait for with the stock in hand, as the table `waiting_for` of a run
    waiting_in_hand: pd.DataFrame | None = None
    #: what sample A asks of each part that can run out
    box: Box = NO_PARTS
    #: stock-outs by surge and part, of the stock in hand and the recommended one, shape (surges, 4)
    short_in_hand: Any = None
    short: Any = None
    #: the scenario's shelf of parts
    shelf: Supplies | None = None

    def __repr__(self) -> str:
        """Return the answer in a few lines, with the caution; the rest is in the tables."""
        best = self.evidence[0]
        kept = f"It kept the target in {best.passes:,} of {best.surges:,}"
        how_sure = (
            f"{kept} fresh surges; at least {100 * self.target.share_of_surges:g} % of such surges "
            f"keep it, with {100 * self.confidence:g} % confidence."
            if self.replay is None
            else f"{kept} plays of one recorded period; random variation is not covered."
        )
        return "\n".join(
            [
                f"Sizing of {self.name}, seed {self.seed}: {stock_words(self.recommended)} for "
                f"{self.cost:,.10g} {self.prices.currency}.",
                how_sure,
                "Tables: evidence_table, chain_table, frontier_table, band_table, needed_table, "
                f"needed_curve, promises_table{', parts_table' if self.box.names else ''}.",
                CAUTION_IN_SHORT,
            ]
        )

    @property
    def evidence_table(self) -> pd.DataFrame:
        """One row per judged stock: the recommended one, one item less each, the chain.

        ``low`` is the limit by which it is judged, with ``low_confidence``; ``low_alone`` is its
        limit if no other were tested, with the confidence of ``high`` and the same for all.
        """
        rows = [
            {
                "role": entry.role,
                **stock_columns(entry.stock),
                "cost": stock_cost(entry.stock, self.prices),
                "test": entry.test,
                "share": entry.passes / entry.surges,
                "low_alone": low_alone(entry, self.chain) if entry.low_alpha else entry.low,
                "low": entry.low,
                "high": entry.high,
                "low_confidence": 1.0 - entry.low_alpha,
                # pandas prints the first and the last columns of a wide table
                "surges": entry.surges,
                "surges_on_target": entry.passes,
                "verdict": entry.verdict,
            }
            for entry in self.evidence
        ]
        return _with_extras(rows)

    @property
    def chain_table(self) -> pd.DataFrame:
        """One row per candidate of the frozen chain, in order."""
        tested = {step.link.stock: step for step in self.steps}
        rows = []
        for link in self.chain.links:
            step = tested.get(link.stock)
            rows.append(
                {
                    **stock_columns(link.stock),
                    "cost": link.cost,
                    "share_of_choosing_surges": link.share_chosen,
                    "test": link.test,
                    "surges": step.surges if step else 0,
                    "surges_on_target": step.passes if step else 0,
                    "verdict": step.verdict if step else "not reached",
                }
            )
        return _with_extras(rows)

    @property
    def frontier_table(self) -> pd.DataFrame:
        """Stocks of which nothing can be left out, with what is known of each.

        ``status``: ``certified`` (passed on fresh surges, or has at least as much of everything
        as one that did) or ``estimated`` (by sample A, and not shown to fail).
        """
        certified = self.certified
        rows = []
        for bare in self.choice.frontier(self.target.share_of_surges, self.failed):
            stock = parts_of(bare, self.recommended)
            sure = any(within(passed, stock) for passed in certified)
            rows.append(self._frontier_row(stock, "certified" if sure else "estimated"))
        if not any(row["status"] == "certified" for row in rows):
            rows.append(self._frontier_row(self.recommended, "certified"))
        table = _with_extras(rows)
        names = list(stock_columns(self.recommended))
        return table.sort_values(names).drop_duplicates(names).reset_index(drop=True)

    @property
    def certified(self) -> list[Stock]:
        """Stocks that passed their test on fresh surges."""
        passed = [step.link.stock for step in self.steps if step.verdict == "passes"]
        return sorted({*passed, self.recommended})

    @property
    def failed(self) -> list[Stock]:
        """Stocks that were shown to fail; those of the least cost lean on what richer ones did."""
        shown = {entry.stock for entry in self.evidence if entry.verdict == "fails"}
        return sorted(shown.union(self.least_cost.failed))

    @property
    def band_table(self) -> pd.DataFrame:
        """What is known of every stock in the plane of the ladder and the first other item.

        The rest is as recommended, and columns say how many that is. ``state``: ``certified``
        (at least as much of everything as a stock that passed), ``fails`` (no more of anything
        than one that failed), or ``undecided``; ``share`` is the estimate of sample A.
        """
        space = self.choice.space
        if not space.axes:
            return pd.DataFrame(columns=["kits", "batteries", "state", "share"])
        ladder, axis = space.ladder, space.axes[0]
        plane = (ladder.item, axis.item)
        held = {name: ITEMS[name].of(self.recommended) for name in self.held_in_band(*plane)}
        rows = []
        for across in range(len(axis)):
            for rung in range(len(ladder)):
                stock = ITEMS[axis.item].put(self.recommended, axis.value(across))
                stock = ITEMS[ladder.item].put(stock, ladder.value(rung))
                state = "undecided"
                if any(within(passed, stock) for passed in self.certified):
                    state = "certified"
                elif any(within(stock, poor) for poor in self.failed):
                    state = "fails"
                numbers = {ladder.item: ladder.value(rung), axis.item: axis.value(across)}
                rows.append(
                    {**numbers, **held, "state": state, "share": self.choice.share_of(stock)}
                )
        return pd.DataFrame(rows)

    def held_in_band(self, ladder: str, across: str) -> list[str]:
        """Return the items that every stock of a plane has in the recommended number.

        Extras that do not vary and of which there are none are left out.
        """
        always = {"kits", "batteries", "bays", *self.vary}
        return [
            name
            for name, item in ITEMS.items()
            if name not in (ladder, across) and (name in always or item.of(self.recommended))
        ]

    @property
    def needed_table(self) -> pd.DataFrame:
        """How many of each item served which share of surges, the rest as recommended.

        Quantiles over the surges of sample A with distribution-free limits; empty where a
        number lies outside the box that was searched.
        """
        rows = []
        for name in self.vary:
            needed, beyond = self.needed(name)
            for share in NEEDED_SHARES:
                low, middle, high = quantile_limits(needed, share, self.confidence)
                if len(needed) == 1:
                    low = high = None  # one play of a recorded period has no limits
                rows.append(
                    {
                        "item": name,
                        "share_of_surges": share,
                        "or_fewer": bool(middle == needed.min()),
                        "needed": None if middle == beyond else middle,
                        "low": None if low == beyond else low,
                        "high": None if high == beyond else high,
                    }
                )
        return pd.DataFrame(rows).astype({"needed": "Int64", "low": "Int64", "high": "Int64"})

    @property
    def needed_curve(self) -> pd.DataFrame:
        """Share of the choosing surges that each number of an item serves, the rest as recommended.

        One row per item that varies and number that was searched, from the least that any surge
        needs.
        """
        space = self.choice.space
        steps = {axis.item: axis.step for axis in (space.ladder, *space.axes)}
        rows = []
        for name in self.vary:
            needed, beyond = self.needed(name)
            for number in range(int(needed.min()), int(beyond), steps[name]):
                share = float((needed <= number).mean())
                rows.append({"item": name, "number": number, "share_of_surges": share})
        return pd.DataFrame(rows, columns=["item", "number", "share_of_surges"])

    @property
    def parts_table(self) -> pd.DataFrame:
        """One row per part that can run out; see :mod:`surge_sim.sizing.parts_table`."""
        if self.shelf is None or self.short is None:
            return pd.DataFrame()
        table = parts_table(
            self.box, self.shelf, self.recommended, self.prices, self.target.share_of_surges,
            self.confidence, self.short_in_hand, self.short,
        )  # fmt: skip
        # a recorded period says nothing about others, so there are no limits
        return table if self.replay is None else without_limits(table)

    @property
    def promises_table(self) -> pd.DataFrame:
        """Cheapest stock for other shares of surges: estimates of sample A, no simulation."""
        rows = []
        for share in NEEDED_SHARES:
            stock = self.cheapest(share)
            if stock is not None:
                cost = stock_cost(stock, self.prices)
                rows.append({"share_of_surges": share, **stock_columns(stock), "cost": cost})
        return _with_extras(rows)

    def needed(self, name: str) -> tuple[Any, int]:
        """Return how many of an item each choosing surge needs, the rest as recommended.

        Returns
        -------
        tuple
            Array of shape (surges,), and the number that stands for "more than was searched".
        """
        return needed_of(self.choice, self.recommended, name)

    def cheapest(self, share_of_surges: float, prices: Prices | None = None) -> Stock | None:
        """Return the cheapest stock for another share of surges or other prices: an estimate.

        It leans on the choosing surges alone and flatters a little; nothing is simulated.
        """
        stock = self.choice.cheapest(share_of_surges, prices)
        return None if stock is None else self.box.put(stock, share_of_surges)

    def _frontier_row(self, stock: Stock, status: str) -> dict[str, Any]:
        return {
            **stock_columns(stock),
            "cost": stock_cost(stock, self.prices),
            "share": self.choice.share_of(stock),
            "status": status,
        }


def stock_columns(stock: Stock) -> dict[str, int]:
    """Return the counts of a stock as columns; extras only where there are any."""
    columns = {
        "kits": stock.kits,
        "batteries": stock.batteries,
        "spare_batteries": stock.spare_batteries,
        "bays": stock.bays,
    }
    for name in EXTRA:
        if 0 < ITEMS[name].of(stock) < PLENTY:
            columns[ITEMS[name].field] = ITEMS[name].of(stock)
    return columns


def _with_extras(rows: list[dict[str, Any]]) -> pd.DataFrame:
    """Return rows of stocks as a table; one without the extras of another has 0 of them."""
    table = pd.DataFrame(rows)
    extras = [ITEMS[name].field for name in EXTRA if ITEMS[name].field in table]
    return table.fillna(dict.fromkeys(extras, 0)).astype(dict.fromkeys(extras, "int64"))


def needed_of(choice: Choice, stock: Stock, name: str) -> tuple[Any, int]:
    """Return how many of one item each surge needs, the rest as in ``stock``; see SizeResult."""
    import numpy as np

    space = choice.space
    place = []
    for axis in space.axes:
        index = (ITEMS[axis.item].of(stock) - axis.low) // axis.step
        place.append(min(max(index, 0), len(axis) - 1))
    numbers = np.arange(int(np.prod(space.shape, dtype=np.int64))).reshape(space.shape)
    if name == space.ladder.item:
        line = int(numbers[tuple(place)])
        beyond = space.ladder.high + space.ladder.step
        return choice.least[:, line] * space.ladder.step + space.ladder.low, beyond
    which = [axis.item for axis in space.axes].index(name)
    axis = space.axes[which]
    along = list(place)
    along[which] = slice(None)  # type: ignore[call-overload]
    lines = numbers[tuple(along)]
    rung = (ITEMS[space.ladder.item].of(stock) - space.ladder.low) // space.ladder.step
    serves = choice.least[:, lines] <= rung
    # closed lines were not played; the first open one stands for them
    serves &= np.array([space.is_open(int(line)) for line in lines])
    # more stock never hurts much: count the lines that do not serve
    first = np.where(serves.any(axis=1), serves.argmax(axis=1), len(axis))
    return first * axis.step + axis.low, axis.high + axis.step
