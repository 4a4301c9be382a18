"""The tables of a sizing, made a second time by playing each stock that it shows once more."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import product
from typing import Any

import numpy as np
import pandas as pd
from scipy import optimize, stats

from surge_sim import case_of
from surge_sim.engine.log import Count, Outcome
from surge_sim.engine.play import play
from surge_sim.equipment.stock import Stock
from surge_sim.randomness import Sample
from surge_sim.scenario.scenario import Scenario
from tests.shadow.cells import FEWEST, Near, differences, reaches, telling

Rows = list[dict[str, Any]]
#: names of the columns of a stock, and of its fields
ITEMS = {
    "kits": "kits", "batteries": "batteries", "bays": "bays", "crew": "extra_cleaners",
    "hoods": "extra_hoods", "tubes": "extra_tubes", "prefilters": "extra_prefilters",
    "main_filters": "extra_main_filters",
}  # fmt: skip
#: of a change that made no difference in any surge
GAIN_UNKNOWN = (-1.0, 1.0)


class Plays:
    """Surges of a scenario played with any stock, judged from their logs."""

    def __init__(self, scenario: Scenario, seed: int) -> None:
        self.scenario, self.seed = scenario, seed
        self.target, self.prices = scenario.settings.target, scenario.settings.prices
        self.traces: dict[tuple[Sample, int], Any] = {}
        self.known: dict[tuple[Sample, int, Stock], tuple[bool, float]] = {}

    def one(self, sample: Sample, surge: int, stock: Stock) -> tuple[bool, float]:
        """Return whether a surge kept the target, and its share of entries in time."""
        key = (sample, surge, stock)
        if key not in self.known:
            self.known[key] = self._judged(self.trace(sample, surge), stock)
        return self.known[key]

    def trace(self, sample: Sample, surge: int) -> Any:
        """Return a surge; any stock may take its stock's place."""
        if (sample, surge) not in self.traces:
            self.traces[sample, surge] = case_of(
                self.scenario, Stock(1, 1, 1), self.seed, surge, sample
            )
        return self.traces[sample, surge]

    def _judged(self, case: Any, stock: Stock) -> tuple[bool, float]:
        trace, target = case.demand, self.target
        log = play(*case._replace(stock=stock))
        served = log.outcome == Outcome.SERVED

        def on_time(wait: int) -> np.ndarray:
            late = ~(served & (log.wait_s <= wait))
            return np.bincount(log.entry, weights=late, minlength=trace.entries) == 0

        in_time = on_time(target.wait)
        kept = in_time.sum() >= target.share_of_entries * trace.entries - 1e-9
        if target.urgent is not None:
            soon = on_time(target.urgent.wait)[trace.urgent]
            kept &= soon.sum() >= target.urgent.share_of_entries * len(soon) - 1e-9
        alarms = log.counts[Count.ALARMS_BATTERY : Count.ALARMS_FAULT + 1].sum()
        if target.most_alarms_per_1000 is not None:
            kept &= 1_000 * alarms <= target.most_alarms_per_1000 * trace.entries + 1e-9
        if target.most_stock_outs is not None:
            first, last = Count.STOCK_OUTS_HOODS, Count.STOCK_OUTS_MAIN_FILTERS
            kept &= log.counts[first : last + 1].sum() <= target.most_stock_outs
        return bool(kept), float(in_time.mean()) if trace.entries else 1.0

    def kept(self, sample: Sample, stock: Stock, surges: int) -> np.ndarray:
        """Which of the first surges of a sample kept the target."""
        return np.array([self.one(sample, surge, stock)[0] for surge in range(surges)])

    def in_time(self, sample: Sample, stock: Stock, surges: int) -> np.ndarray:
        """Share of entries in time of the first surges of a sample."""
        return np.array([self.one(sample, surge, stock)[1] for surge in range(surges)])

    def cost(self, stock: Stock) -> float:
        """Price of the whole stock; bays come by whole chargers."""
        prices = self.prices
        return (
            stock.kits * prices.kit
            + stock.batteries * prices.battery
            + math.ceil(stock.bays / prices.bays_per_charger) * prices.charger
            + stock.extra_cleaners * prices.cleaner
            + stock.extra_hoods * prices.hood
            + stock.extra_tubes * prices.tube
            + stock.extra_prefilters * prices.prefilter
            + stock.extra_main_filters * prices.main_filter
        )


def lower(passes: int, surges: int, error: float) -> float:
    """Return the exact one-sided lower limit of a share."""
    return float(stats.beta.ppf(error, passes, surges - passes + 1)) if passes else 0.0


def upper(passes: int, surges: int, error: float) -> float:
    """Return the exact one-sided upper limit of a share."""
    return float(stats.beta.isf(error, passes + 1, surges - passes)) if passes < surges else 1.0


class SizeBooks:
    """Second accounts of one sizing whose stocks are looked at once, after all surges."""

    def __init__(
        self,
        plays: Plays,
        in_hand: Stock,
        vary: tuple[str, ...],
        confidence: float,
        choose: int,
        certify: int,
    ) -> None:
        self.plays, self.in_hand, self.vary, self.confidence = plays, in_hand, vary, confidence
        self.choose, self.certify = choose, certify
        self.error = 1 - confidence
        self.share = plays.target.share_of_surges

    def stock(self, row: dict[str, Any]) -> Stock:
        """Return the stock of a row; what it does not name is as in hand."""
        fields = {field: int(row[field]) for field in ITEMS.values() if field in row}
        fields |= {field: int(row[name]) for name, field in ITEMS.items() if name in row}
        return replace(self.in_hand, **fields)

    def columns(self, stock: Stock, row: dict[str, Any]) -> dict[str, Any]:
        """Return the counts of a stock as the columns of a row say them."""
        fields = {name: getattr(stock, field) for name, field in ITEMS.items()}
        fields |= {field: getattr(stock, field) for field in ITEMS.values()}
        fields["spare_batteries"] = max(stock.batteries - stock.kits, 0)
        return {name: value for name, value in fields.items() if name in row}

    def chosen_share(self, stock: Stock) -> float:
        """Share of the choosing surges on target."""
        return float(self.plays.kept(Sample.CHOOSE, stock, self.choose).mean())

    def box(self, stock: Stock) -> Iterator[Stock]:
        """Every stock within the limits; what does not vary is as given."""
        limits = self.plays.scenario.settings.limits
        chargers = range(0, limits.bays + 1, self.plays.prices.bays_per_charger)
        for bays in chargers if "bays" in self.vary else [stock.bays]:
            for kits, batteries in product(range(limits.kits + 1), range(limits.batteries + 1)):
                yield replace(stock, kits=kits, batteries=batteries, bays=bays)

    def richer(self, stock: Stock) -> Iterator[Stock]:
        """Every other stock within the limits with no less of anything."""
        return (one for one in self.box(stock) if one != stock and at_least(one, stock))

    def searched_share(self, stock: Stock, seen: float) -> Any:
        """Return that share as the search reads it, which takes more stock never to hurt.

        Where more did hurt a surge, the share lies between that of surges which all richer
        stocks serve too, and that of those which any poorer one serves.
        """
        share = self.chosen_share(stock)
        if abs(seen - share) < 1e-5:
            return share
        richer = np.ones(self.choose, dtype=bool)
        poorer = np.zeros(self.choose, dtype=bool)
        for other in self.box(stock):
            if at_least(other, stock):
                richer &= self.plays.kept(Sample.CHOOSE, other, self.choose)
            if at_least(stock, other):
                poorer |= self.plays.kept(Sample.CHOOSE, other, self.choose)
        assert richer.mean() < poorer.mean(), "more stock never hurts here, so there is one share"
        return Near(float(richer.mean()), float(poorer.mean()))

    def verdict(self, passes: int, surges: int, error: float) -> str:
        """What so many surges show of a stock."""
        if lower(passes, surges, error) >= self.share:
            return "passes"
        return "fails" if upper(passes, surges, self.error) < self.share else "undecided"

    def evidence(self, seen: Rows, recommended: Stock) -> Rows:
        """Each stock that was judged, on its fresh surges."""
        rows = []
        for row in seen:
            stock, surges = self.stock(row), int(row["surges"])
            assert surges == self.certify, "these cases are looked at once"
            passes = int(self.plays.kept(Sample.CERTIFY, stock, surges).sum())
            # many stocks at once share the chance of error; none has more than all of it
            assert row["low_confidence"] >= self.confidence - 1e-9
            error = 1 - row["low_confidence"]
            rows.append(
                {
                    **self.columns(stock, row),
                    "role": self._role(row, stock, recommended),
                    "cost": self.plays.cost(stock),
                    "test": "looks fixed beforehand",
                    "share": passes / surges,
                    "low_alone": lower(passes, surges, self.error),
                    "low": Near(*sorted(lower(passes, surges, one) for one in _around(error))),
                    "high": upper(passes, surges, self.error),
                    "low_confidence": row["low_confidence"],
                    "surges": surges,
                    "surges_on_target": passes,
                    "verdict": self.verdict(passes, surges, error),
                }
            )
        return rows

    def _role(self, row: dict[str, Any], stock: Stock, recommended: Stock) -> str:
        if stock == recommended:
            return "recommended"
        less = {
            "one kit less": replace(recommended, kits=recommended.kits - 1),
            "one battery less": replace(recommended, batteries=recommended.batteries - 1),
            "one bay less": replace(recommended, bays=recommended.bays - 1),
            "one charger less": replace(
                recommended,
                bays=max(recommended.bays - self.plays.prices.bays_per_charger, 0),
            ),
        }
        fits = [name for name, one in less.items() if one == stock]
        return row["role"] if row["role"] in fits else "candidate"

    def chain(self, seen: Rows) -> Rows:
        """The frozen candidates, and how far they were tested."""
        rows = []
        for row in seen:
            stock, surges = self.stock(row), int(row["surges"])
            passes = int(self.plays.kept(Sample.CERTIFY, stock, surges).sum())
            # the walk asks whether a candidate passes; what does not is left open here
            passed = lower(passes, surges, self.error) >= self.share if surges else False
            verdict = "passes" if passed else "undecided" if surges else "not reached"
            rows.append(
                {
                    **self.columns(stock, row),
                    "cost": self.plays.cost(stock),
                    "share_of_choosing_surges": self.searched_share(
                        stock, row["share_of_choosing_surges"]
                    ),
                    "test": "looks fixed beforehand",
                    "surges": surges,
                    "surges_on_target": passes,
                    "verdict": verdict,
                }
            )
        return rows

    def frontier(self, seen: Rows, certified: list[Stock]) -> Rows:
        """Stocks of which nothing can be left out."""
        rows = []
        for row in seen:
            stock = self.stock(row)
            sure = any(at_least(stock, one) for one in certified)
            rows.append(
                {
                    **self.columns(stock, row),
                    "cost": self.plays.cost(stock),
                    "share": self.searched_share(stock, row["share"]),
                    "status": "certified" if sure else "estimated",
                }
            )
        return rows

    def band(self, seen: Rows, certified: list[Stock], failed: list[Stock]) -> Rows:
        """What is known of each stock of the plane that was searched."""
        rows = []
        for row in seen:
            stock, state = self.stock(row), "undecided"
            if any(at_least(stock, one) for one in certified):
                state = "certified"
            elif any(at_least(one, stock) for one in failed):
                state = "fails"
            searched = not pd.isna(row["share"])
            share = self.searched_share(stock, row["share"]) if searched else None
            rows.append({**self.columns(stock, row), "state": state, "share": share})
        return rows

    def needed(self, seen: Rows, recommended: Stock) -> Rows:
        """Share of choosing surges that each number of an item serves, the rest as recommended."""
        return [
            {
                "item": row["item"],
                "number": row["number"],
                "share_of_surges": self.searched_share(
                    replace(recommended, **{ITEMS[row["item"]]: int(row["number"])}),
                    row["share_of_surges"],
                ),
            }
            for row in seen
        ]

    def needed_quantiles(
        self, seen: Rows, recommended: Stock, searched: dict[str, tuple[int, int]]
    ) -> Rows:
        """How many of an item serve a share of the choosing surges, with limits."""
        rows = []
        for row in seen:
            item = row["item"]
            cells = self._quantiles(self.needs(recommended, item, *searched[item]), row)
            if any(differences("", pd.DataFrame([row]), [cells])):
                # where more stock hurts, the search may read a surge in more than one way
                cells = self._quantiles(self.needs(recommended, item, *searched[item], True), row)
            rows.append(cells)
        return rows

    def _quantiles(
        self, needs: tuple[np.ndarray, np.ndarray], row: dict[str, Any]
    ) -> dict[str, Any]:
        most, least = needs
        share = row["share_of_surges"]
        low_end, high_end = (order_statistics(one, share, self.confidence) for one in (least, most))
        cells = {
            name: _between(low, high)
            for name, low, high in zip(("needed", "low", "high"), low_end, high_end, strict=True)
        }
        fewer = row["or_fewer"] if (most != least).any() else low_end[0] == least.min()
        return {"item": row["item"], "share_of_surges": share, "or_fewer": fewer, **cells}

    def needs(
        self, stock: Stock, item: str, lowest: int, most: int, widely: bool = False
    ) -> tuple[np.ndarray, np.ndarray]:
        """Return how many of an item each choosing surge needs; inf: more than was searched.

        From that number on all serve it; and the first that does. They differ only where more
        stock hurts; ``widely`` looks at what all richer and any poorer stocks do.
        """
        step = self.plays.prices.bays_per_charger if item == "bays" else 1
        numbers = np.array([*range(lowest, most + 1, step), np.inf])
        surely, maybe = [], []
        for number in numbers[:-1]:
            one = replace(stock, **{ITEMS[item]: int(number)})
            kept = self.plays.kept(Sample.CHOOSE, one, self.choose)
            surely.append(kept.copy())
            maybe.append(kept.copy())
            for other in self.box(stock) if widely else ():
                if at_least(other, one):
                    surely[-1] &= self.plays.kept(Sample.CHOOSE, other, self.choose)
                if at_least(one, other):
                    maybe[-1] |= self.plays.kept(Sample.CHOOSE, other, self.choose)
        everybody = np.ones(self.choose, dtype=bool)
        first = np.array([*maybe, everybody]).argmax(axis=0)
        from_there_on = np.logical_and.accumulate(np.array([*surely, everybody])[::-1])[::-1]
        return numbers[from_there_on.argmax(axis=0)], numbers[first]

    def other_shares(self, seen: Rows, band: pd.DataFrame) -> Rows:
        """The cheapest stock of the plane for other shares of surges."""
        rows = []
        shares = band["share"].fillna(-1).to_numpy()
        costs = np.array([self.plays.cost(self.stock(one)) for one in band.to_dict("records")])
        for row in seen:
            stock = self.stock(row)
            enough = shares >= row["share_of_surges"] - 1e-6
            assert self.chosen_share(stock) >= row["share_of_surges"] - 1e-6
            rows.append(
                {
                    "share_of_surges": row["share_of_surges"],
                    **self.columns(stock, row),
                    "cost": costs[enough].min(),
                }
            )
            assert self.plays.cost(stock) == costs[enough].min()
        return rows

    def more_stock(self, seen: Rows) -> Rows:
        """Surges that more stock hurt or helped, of those that both were played on."""
        rows = []
        for row in seen:
            less, more = (self.from_words(row[name]) for name in ("less", "more"))
            surges = int(row["surges"])
            assert at_least(more, less) and more != less
            # the search for the least cost plays some stocks on some of the surges only
            everywhere = surges == self.certify
            poor, rich = (
                self.plays.kept(Sample.CERTIFY, one, self.certify) for one in (less, more)
            )
            hurt, helped = int((poor & ~rich).sum()), int((rich & ~poor).sum())
            rows.append(
                {
                    "less": row["less"], "more": row["more"], "surges": surges,
                    "hurt": hurt if everywhere else Near(0, hurt),
                    "helped": helped if everywhere else Near(0, helped),
                }
            )  # fmt: skip
        return rows

    def from_words(self, words: str) -> Stock:
        """`5 kits, 6 batteries, 2 bays` as a stock."""
        counts = dict(part.split(" ", 1)[::-1] for part in words.split(", "))
        names = {"kit": "kits", "battery": "batteries", "bay": "bays"}
        named = {names.get(name, name): int(count) for name, count in counts.items()}
        return replace(
            self.in_hand, **{name: named[name] for name in ("kits", "batteries", "bays")}
        )

    def next_items(self, seen: Rows, begin: Stock, surges: int) -> Rows:
        """What each change of a stock brings on the fresh surges."""
        rows: Rows = []
        above: Any = None
        before = self.plays.kept(Sample.CERTIFY, begin, surges)
        share_before = self.plays.in_time(Sample.CERTIFY, begin, surges)
        for row in seen:
            stock = self.stock(row)
            after = self.plays.kept(Sample.CERTIFY, stock, surges)
            gain = self.plays.in_time(Sample.CERTIFY, stock, surges) - share_before
            price = self.plays.cost(stock) - self.plays.cost(begin)
            gained, lost = int((after & ~before).sum()), int((before & ~after).sum())
            low, high = self._gain_limits(gain)
            net = (gained - lost) / surges
            tango = difference_limits(gained, lost, surges, self.confidence)
            by_surges = sign_test(gained, lost) <= self.error
            kind = _kind(begin, stock)
            rows.append(
                {
                    **self.columns(stock, row),
                    "change": change_words(begin, stock),
                    "kind": kind,
                    "price": price,
                    "surges_gained": gained,
                    "surges_lost": lost,
                    "surges_gain": net,
                    "surges_low": tango[0],
                    "surges_high": tango[1],
                    "entries_gain": gain.mean(),
                    "entries_low": low,
                    "entries_high": high,
                    "per_money": gain.mean() / price if price else None,
                    "tells": bool(by_surges or low > 0 or high < 0),
                    "apart": self._apart(above, (kind, gain, price)),
                }
            )
            above = (kind, gain, price)
        return rows

    def _gain_limits(self, gain: np.ndarray) -> tuple[float, float]:
        """Limits of the mean of differences, each from -1 to 1."""
        ones = np.ones(len(gain))
        if telling(gain, ones) < FEWEST:
            # a change that hardly ever made a difference has no spread to judge by
            return GAIN_UNKNOWN
        down, up = reaches(gain, ones, self.confidence)
        return gain.mean() - down, gain.mean() + up

    def _apart(self, above: Any, row: Any) -> bool | None:
        """Whether the gain per money can be told apart from that of the row above."""
        if above is None or above[0] != row[0] or not above[2] or not row[2]:
            return None
        low, high = self._gain_limits(above[1] / above[2] - row[1] / row[2])
        return bool(low > 0 or high < 0)


def sign_test(gained: int, lost: int) -> float:
    """Return the exact two-sided chance of so uneven a change."""
    changed = gained + lost
    return float(stats.binomtest(gained, changed).pvalue) if changed else 1.0


def difference_limits(
    gained: int, lost: int, surges: int, confidence: float
) -> tuple[float, float]:
    """Return the limits of a change in a share, both stocks played on the same surges.

    Tango's score interval (Statistics in Medicine 17, 1998; formulas from memory), which touches
    0 where the exact sign test cannot tell the two apart.
    """
    z, net = float(stats.norm.ppf(0.5 + confidence / 2)), (gained - lost) / surges

    def score(change: float) -> float:
        a, c = 2 * surges, -lost * change * (1 - change)
        b = -gained - lost + (2 * surges - gained + lost) * change
        rest = (math.sqrt(max(b * b - 4 * a * c, 0)) - b) / (2 * a)
        spread = surges * (2 * rest + change * (1 - change))
        return (gained - lost - surges * change) / math.sqrt(max(spread, 1e-300))

    low = optimize.brentq(lambda one: score(one) - z, -1 + 1e-12, net) if net > -1 else -1.0
    high = optimize.brentq(lambda one: score(one) + z, net, 1 - 1e-12) if net < 1 else 1.0
    if sign_test(gained, lost) > 1 - confidence:
        low, high = min(low, 0.0), max(high, 0.0)
    return float(low), float(high)


def at_least(stock: Stock, other: Stock) -> bool:
    """Whether a stock has no less of anything."""
    return all(getattr(stock, field) >= getattr(other, field) for field in ITEMS.values())


def change_words(begin: Stock, stock: Stock) -> str:
    """`+1 kit +2 bays`: what is added or left out."""
    one = {"kits": "kit", "batteries": "battery", "bays": "bay"}
    said = []
    for name, singular in one.items():
        gap = getattr(stock, name) - getattr(begin, name)
        if gap:
            said.append(f"{gap:+d} {singular if abs(gap) == 1 else name}")
    return " ".join(said)


def _kind(begin: Stock, stock: Stock) -> str:
    gaps = [getattr(stock, field) - getattr(begin, field) for field in ITEMS.values()]
    if sum(gap != 0 for gap in gaps) == 2:
        return "pair"
    return "more" if sum(gaps) > 0 else "less"


def _around(error: float) -> tuple[float, float]:
    """The chance of error is read from a confidence with six digits."""
    return (max(error - 1e-6, 1e-9), error + 1e-6)


def _between(low: float | None, high: float | None) -> Any:
    """Return a cell for what lies between two numbers; inf: more than was searched."""
    ends = [None if end is None or math.isinf(end) else end for end in (low, high)]
    if ends[0] == ends[1]:
        return ends[0]
    return Near(ends[0], math.inf if ends[1] is None else ends[1])


def order_statistics(
    values: np.ndarray, share: float, confidence: float
) -> tuple[float, float | None, float | None]:
    """Return a quantile of some values, and limits between which the true one lies."""
    ordered, count, tail = np.sort(values), len(values), (1 - confidence) / 2
    middle = float(ordered[max(math.ceil(share * count - 1e-9), 1) - 1])
    below = int(stats.binom.ppf(tail, count, share))
    above = int(stats.binom.isf(tail, count, share))
    low = float(ordered[below - 1]) if below >= 1 else None
    return middle, low, float(ordered[above]) if above < count else None
