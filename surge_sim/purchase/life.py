"""What it costs to own a stock over some years, with what the simulation says is used up.

Capital (bought now, and replaced later) and running cost stay apart, and so does the time of
those who wait, which nobody pays. Each line is a number of things times a price. Present and
proposed stock stand side by side. Prices do not rise, and no residual value is counted.

What is bought now is paid at the start, all else at the end of the year in which it falls. The net
present value is the sum of what is paid in year j over (1 + interest) ^ j: the definition of
textbooks on finance, for example Brealey, Myers & Allen, Principles of Corporate Finance, chapter
on present values (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from surge_sim.equipment.stock import ITEMS, PARTS
from surge_sim.errors import ScenarioError
from surge_sim.purchase.things import Thing, replacements, things_of
from surge_sim.statistics.intervals import quantile_over_surges
from surge_sim.units import DAY_S, duration_text

if TYPE_CHECKING:
    from surge_sim.purchase.sized import Sized
    from surge_sim.scenario.life_file import LifeInputs

#: the two stocks, in the order of columns
STOCKS = ("in_hand", "proposed")
#: sorts of lines: paid at the start, when a life is over, as things are used up, each year in any
#: case, and the time of those who wait
BOUGHT, REPLACED, USED_UP, YEARLY, WAITING = "bought", "replaced", "used up", "yearly", "waiting"
#: what is used up: column of what is used per surge, name of its price in the file
_USED_UP = {
    "wipes": "wipe", "hoods": "hood", "large_hoods": "large_hood", "tubes": "tube",
    "prefilters": "prefilter", "he_filters": "he_filter", "repairs": "repair",
}  # fmt: skip


class Line(NamedTuple):
    """One line of cost: how many, at which price."""

    line: str
    #: `BOUGHT`, `REPLACED`, `USED_UP`, `YEARLY` or `WAITING`
    sort: str
    unit: str
    #: None: none is known, and the line is not counted
    price: float | None
    source: str
    #: with the stock in hand, and with the proposed one: in all where bought or replaced, else in a
    #: year
    numbers: tuple[float, float]


@dataclass(frozen=True, eq=False)
class Life:
    """The life of present and proposed stock, as tables of cells."""

    inputs: LifeInputs
    #: one row per thing that is replaced: how many, and how long they last
    things: pd.DataFrame = field(repr=False)
    #: one row per thing and year in which some are replaced, and what falls due just after the end
    replaced: pd.DataFrame = field(repr=False)
    #: one row per line of cost
    lines: pd.DataFrame = field(repr=False)
    #: one row per year; year 0 is the start
    years: pd.DataFrame = field(repr=False)
    #: one row per sum
    totals: pd.DataFrame = field(repr=False)
    #: what is used up in one surge, in money: one row per surge, and its spread
    by_surge: pd.DataFrame = field(repr=False)
    one_surge: pd.DataFrame = field(repr=False)

    @property
    def tables(self) -> dict[str, pd.DataFrame]:
        """Its tables by name."""
        return {
            "life": self.totals,
            "life_lines": self.lines,
            "life_years": self.years,
            "life_things": self.things,
            "life_replaced": self.replaced,
            "life_one_surge": self.one_surge,
            "life_by_surge": self.by_surge,
        }

    @property
    def unpriced(self) -> list[str]:
        """Lines that are not counted, as no price is known."""
        lines = self.lines
        return [str(one) for one in lines["line"][lines["price"].isna()]]


def life_of(
    sized: Sized,
    inputs: LifeInputs,
    used: tuple[pd.DataFrame, ...],
    hours_waited: tuple[pd.Series, ...],
) -> Life:
    """Work out the life of present and proposed stock.

    Parameters
    ----------
    sized : Sized
        The two stocks, and prices.
    inputs : LifeInputs
        Years, lives, prices.
    used : tuple of DataFrame
        What is used in each surge with the stock in hand and with the proposed one, from
        :func:`surge_sim.purchase.use.used_per_surge`.
    hours_waited : tuple of Series
        Hours waited in each surge with either [h].
    """
    file = inputs.file
    years = int(file.years.value)
    yearly = tuple(_per_year(inputs, mine, used[1]) for mine in used)
    things = things_of(sized, file, tuple(one["full_charges"] for one in yearly))
    waited = tuple(float(one.mean()) * file.surges_per_year.value for one in hours_waited)
    lines = [
        *_bought(sized),
        *(_replaced(one, years) for one in things),
        *_running(sized, inputs, yearly, file.surges_per_year.value),
        *_yearly(inputs, things),
        *_waiting(inputs, waited),
    ]
    of_one = _running(sized, inputs, (_ONE, _ONE), 1.0)
    per_surge = [line for line in of_one if line.price is not None]
    parts = {
        name: {
            line.line: _cells(line, mine) * line.numbers[place] * (line.price or 0.0)
            for line in per_surge
        }
        for place, (name, mine) in enumerate(zip(STOCKS, used, strict=True))
    }
    costs = {
        name: sum(parts[name].values(), np.zeros(len(mine)))
        for name, mine in zip(STOCKS, used, strict=True)
    }
    course = _course(lines, things, years, None if file.interest is None else file.interest.value)
    return Life(
        inputs=inputs,
        things=_rounded(pd.DataFrame([one.row() for one in things])),
        replaced=_rounded(replacements(things, years)),
        lines=_rounded(_lines_table(lines, years, parts)),
        years=_rounded(course),
        totals=_rounded(
            pd.concat(
                [_totals(course, years), _in_a_year(lines, costs, file.surges_per_year.value)],
                ignore_index=True,
            )
        ),
        by_surge=_rounded(pd.DataFrame({"surge": used[1]["surge"], **costs})),
        one_surge=_rounded(_spread(costs, sized)),
    )


#: one of everything
_ONE: Mapping[str, float] = dict.fromkeys([*_USED_UP, "battery_replacements", "wiping_hours"], 1.0)


def _cells(line: Line, used: pd.DataFrame) -> np.ndarray:
    """Return how many of a line are used in each surge; extra cleaners come to each."""
    return used[line.line].to_numpy(float) if line.line in used else np.ones(len(used))


def check_fit(sized: Sized, inputs: LifeInputs) -> None:
    """Refuse more surges than have room in a year."""
    horizon_s, rate = sized.scenario.settings.horizon, inputs.file.surges_per_year.value
    if rate * horizon_s > 366 * DAY_S:
        lasts = duration_text(horizon_s)
        found = f"come to more than a year: each lasts {lasts}"
        right = f"Write {math.floor(366 * DAY_S / horizon_s * 100) / 100:g} per year or less."
        raise ScenarioError([inputs.tree.fault(("surges_per_year", "value"), found, right)])


def _per_year(inputs: LifeInputs, mine: pd.DataFrame, usual: pd.DataFrame) -> dict[str, float]:
    """Return what is used in a year: in surges, and outside as much an entry as `usual` tells.

    Ordinary use is the same with either stock, as nobody is short of kits then.
    """
    file, entries = inputs.file, float(usual["entries"].sum())
    ordinary = 0.0 if file.ordinary_entries is None else file.ordinary_entries.value
    found = {}
    for name in mine.columns.drop("surge"):
        in_surges = float(mine[name].mean()) * file.surges_per_year.value
        an_entry = float(usual[name].sum()) / entries if entries else 0.0
        found[str(name)] = in_surges + an_entry * ordinary
    return found


def _bought(sized: Sized) -> Iterator[Line]:
    """Yield what is bought now; the price of extra cleaners comes again with each surge."""
    prices = sized.scenario.settings.prices
    for name, item in ITEMS.items():
        more = max(item.of(sized.proposed) - item.of(sized.in_hand), 0)
        if name != "cleaners" and more:
            lots = math.ceil(more / item.lot(prices))
            label = "chargers" if name == "bays" else name
            price = item.lot_price(prices)
            yield Line(f"{label}_bought", BOUGHT, label, price, _SCENARIO, (0.0, float(lots)))


_SCENARIO = "prices of the scenario"


def _replaced(thing: Thing, years: int) -> Line:
    numbers = tuple(float(thing.replaced_by(place, years, years)) for place in (0, 1))
    return Line(
        f"{thing.name}_replaced", REPLACED, thing.name, thing.price, thing.source,
        (numbers[0], numbers[1]),
    )  # fmt: skip


def _running(
    sized: Sized, inputs: LifeInputs, used: tuple[Mapping[str, float], ...], surges: float
) -> Iterator[Line]:
    """Yield what use costs, of the numbers that are used with either stock in so many surges."""
    prices, file = sized.scenario.settings.prices, inputs.file
    for name, of_one in _USED_UP.items():
        given = getattr(file.prices, of_one)
        in_scenario = float(getattr(prices, of_one)) if name in PARTS else 0.0
        price = in_scenario or None if given is None else float(given.value)
        source = _SCENARIO if given is None else given.source
        numbers = used[0][name], used[1][name]
        if any(numbers):
            yield Line(name, USED_UP, name, price, source if price is not None else "", numbers)
    failed = used[0]["battery_replacements"], used[1]["battery_replacements"]
    if any(failed):
        yield Line(
            "battery_replacements", USED_UP, "batteries", prices.battery or None, _SCENARIO, failed
        )
    cleaning, hours = file.labour.cleaning, (used[0]["wiping_hours"], used[1]["wiping_hours"])
    if any(hours):
        price, source = (None, "") if cleaning is None else (cleaning.value, cleaning.source)
        yield Line("wiping_hours", USED_UP, "h", price, source, hours)
    if sized.proposed.extra_cleaners or sized.in_hand.extra_cleaners:
        # paid for each surge, however many there are in a year
        numbers = (sized.in_hand.extra_cleaners * surges, sized.proposed.extra_cleaners * surges)
        yield Line("cleaners", USED_UP, "cleaners", prices.cleaner, _SCENARIO, numbers)


def _yearly(inputs: LifeInputs, things: list[Thing]) -> Iterator[Line]:
    """Yield what is paid each year, surge or not."""
    counts = {one.name: one.counts for one in things} | {"years": (1, 1)}
    per = {"kit": "kits", "battery": "batteries", "charger": "chargers", "year": "years"}
    for one in inputs.file.yearly:
        numbers = counts[per[one.per]]
        yield Line(
            one.name, YEARLY, per[one.per], one.price, one.source,
            (float(numbers[0]), float(numbers[1])),
        )  # fmt: skip


def _waiting(inputs: LifeInputs, hours: tuple[float, ...]) -> Iterator[Line]:
    given = inputs.file.labour.waiting
    price, source = (None, "") if given is None else (given.value, given.source)
    yield Line("hours_waited", WAITING, "h", price, source, (hours[0], hours[1]))


def _lines_table(
    lines: list[Line], years: int, parts: Mapping[str, Mapping[str, np.ndarray]]
) -> pd.DataFrame:
    """Return the lines as a table; `parts` is what is used up in each surge, in money."""
    rows = []
    for line in lines:
        times = 1 if line.sort in (BOUGHT, REPLACED) else years
        costs = tuple(
            None if line.price is None else one * line.price * times for one in line.numbers
        )
        more = None if costs[0] is None or costs[1] is None else costs[1] - costs[0]
        row = {
            "line": line.line, "kind": line.sort, "unit": line.unit, "price": line.price,
            "source": line.source,
        }  # fmt: skip
        row |= {f"number_{name}": one for name, one in zip(STOCKS, line.numbers, strict=True)}
        row |= {f"cost_{name}": one for name, one in zip(STOCKS, costs, strict=True)}
        in_one: dict[str, float | str | None] = {
            f"one_surge_{name}": float(parts[name][line.line].mean())
            if line.sort == USED_UP and line.line in parts[name]
            else None
            for name in STOCKS
        }
        rows.append(row | {"difference": more} | in_one)
    return pd.DataFrame(rows)


def _course(
    lines: list[Line], things: list[Thing], years: int, interest: float | None
) -> pd.DataFrame:
    """Return what is paid in each year with either stock, one row a year from 0."""
    table = pd.DataFrame({"year": np.arange(years + 1)})
    table["discount_factor"] = (
        np.nan if interest is None else (1.0 + interest) ** -table["year"].to_numpy(float)
    )
    later = (table["year"] > 0).to_numpy(float)
    for place, name in enumerate(STOCKS):
        of_sort = {
            sort: sum(one.numbers[place] * (one.price or 0.0) for one in lines if one.sort == sort)
            for sort in (BOUGHT, USED_UP, YEARLY, WAITING)
        }
        total = sum(
            np.array([one.replaced_by(place, year, years) for year in range(years + 1)]) * one.price
            for one in things
        )
        table[f"bought_{name}"] = of_sort[BOUGHT] * (1.0 - later)
        table[f"replaced_{name}"] = np.diff(total, prepend=0.0)
        table[f"running_{name}"] = (of_sort[USED_UP] + of_sort[YEARLY]) * later
        table[f"waiting_{name}"] = of_sort[WAITING] * later
        paid = table[[f"{sort}_{name}" for sort in (BOUGHT, REPLACED, "running")]].sum(axis=1)
        table[f"paid_{name}"] = paid
        table[f"present_value_{name}"] = paid * table["discount_factor"]
    return table


def _totals(course: pd.DataFrame, years: int) -> pd.DataFrame:
    """Return the sums that are told: of capital, running cost and waiting, with either stock."""
    rows = []
    sums = course.sum(min_count=1)
    told: tuple[tuple[str, tuple[str, ...], float], ...] = (
        ("bought", (BOUGHT,), 1), ("replaced", (REPLACED,), 1),
        ("capital", (BOUGHT, REPLACED), 1), ("running_per_year", ("running",), 1 / years),
        ("running", ("running",), 1), ("paid", ("paid",), 1),
        ("present_value", ("present_value",), 1), ("waiting_per_year", (WAITING,), 1 / years),
    )  # fmt: skip
    for total, names, times in told:
        found = [float(sums[[f"{one}_{name}" for one in names]].sum(skipna=False)) * times
                 for name in STOCKS]  # fmt: skip
        rows.append(_sum(total, found))
    return pd.DataFrame(rows)


def _sum(name: str, found: list[float]) -> dict[str, float | str]:
    return {
        "sum": name,
        **dict(zip(STOCKS, found, strict=True)),
        "difference": found[1] - found[0],
    }


def _in_a_year(
    lines: list[Line], costs: Mapping[str, np.ndarray], surges_per_year: float
) -> pd.DataFrame:
    """Return what the running cost of a year is made of: surges, ordinary use, what is agreed."""
    parts: dict[str, list[float]] = {"in_surges": [], "in_ordinary_use": [], "agreed": []}
    for place, name in enumerate(STOCKS):
        used, agreed = (
            sum(one.numbers[place] * (one.price or 0.0) for one in lines if one.sort == sort)
            for sort in (USED_UP, YEARLY)
        )
        in_surges = surges_per_year * float(costs[name].mean())
        # the difference of equal sums is 0
        for part, value in zip(parts, (in_surges, round(used - in_surges, 6), agreed), strict=True):
            parts[part].append(value)
    return pd.DataFrame([_sum(f"{part}_per_year", values) for part, values in parts.items()])


def _spread(costs: Mapping[str, np.ndarray], sized: Sized) -> pd.DataFrame:
    """Return what is used up in one surge, in money, with its spread over surges."""
    share = sized.scenario.settings.target.share_of_surges
    rows = []
    for name, values in costs.items():
        enough = quantile_over_surges(values, share)
        rows.append(
            {
                "stock": name, "surges": len(values), "mean": values.mean(),
                "least": values.min(), "median": np.median(values), "most": values.max(),
                "share_of_surges": share, "enough": enough.estimate,
            }
        )  # fmt: skip
    return pd.DataFrame(rows)


def _rounded(table: pd.DataFrame) -> pd.DataFrame:
    """Round each number to six digits, as everywhere in a case."""
    table = table.copy()
    for name in table.select_dtypes("float").columns:
        table[name] = [
            None if pd.isna(one) else float(f"{one:.6g}") for one in table[name].tolist()
        ]
        table[name] = table[name].astype(float)
    return table
