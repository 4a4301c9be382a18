"""The pictures of a case's page: every surge with both stocks, and the course of a surge."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, NamedTuple

import pandas as pd

from surge_sim.purchase.course import BY_DAY
from surge_sim.report.phrases import plays_name
from surge_sim.report.rounding import date_of_day, number
from surge_sim.report.svg import Frame, band, chart, frame, line, x_axis, y_axis

if TYPE_CHECKING:
    from surge_sim.demand.replay import Replay
    from surge_sim.purchase.case import PurchaseCase

#: states in the order in which they lie on one another: name on the page, and class of its look
STATES = {
    "kits": {
        "kits in use": ("in use", "use"),
        "kits drying": ("contact or drying time", "rest"),
        "kits in wipe-down": ("in wipe-down", "work"),
        "kits waiting for wipe-down": ("waiting for a wipe-down", "wait"),
        "kits out of service": ("in repair or for a filter", "out"),
    },
    "batteries": {
        "batteries in use": ("in use", "use"),
        "batteries in bay": ("in a bay", "rest"),
        "batteries cooling": ("cooling down", "work"),
        "batteries waiting for bay": ("waiting for a bay", "wait"),
        "batteries out of service": ("failed, not replaced", "out"),
    },
}
#: the state of things that are free, and of those that are not in the unit
_FREE = {"kits": "kits ready", "batteries": "batteries on shelf"}
_AWAY = {"kits": "kits away", "batteries": "batteries away"}
STOCKS = {"in_hand": "Stock in hand", "proposed": "As requested"}


class Picture(NamedTuple):
    """A chart, what it says in a sentence, and the numbers in it."""

    svg: str
    caption: str
    heads: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()


def pairs_pictures(case: PurchaseCase) -> dict[str, Picture]:
    """Draw each surge once with both stocks, for some measures; the key is a picture's name."""
    same, plays = case.same_surges, plays_name(case.replay)
    entries = same["entries"].clip(lower=1)
    allowed = 100 * (1 - case.target.service_level)
    late = {stock: 100 * same[f"{stock}_late"] / entries for stock in STOCKS}
    found = {"Late entries": _pairs(late, plays, " %", allowed)}
    others = {"worst_day_late": ("Late entries on the worst day", " %", 100.0)}
    others["hours_waited"] = ("Hours waited, all people together", "", 1.0)
    if same[[f"{stock}_urgent_late" for stock in STOCKS]].to_numpy().any():
        others["urgent_late"] = ("Late urgent entries", "", 1.0)
    else:
        others["longest_wait"] = ("Longest wait, minutes", "", 1.0)
    for measure, (name, unit, times) in others.items():
        values = {stock: times * same[f"{stock}_{measure}"] for stock in STOCKS}
        found[name] = _pairs(values, plays, unit)
    return found


def _pairs(
    values: dict[str, pd.Series], plays: str, unit: str, limit: float | None = None
) -> Picture:
    """Draw one mark for each surge and stock; a limit is a dotted line."""
    table = pd.DataFrame(values).sort_values(list(STOCKS), ignore_index=True)
    most = max(float(table.to_numpy().max()), 1.3 * (limit or 0), 1.0)
    area = frame(len(table) + 1, most, unit=unit)
    parts = [*y_axis(area, unit=unit), *x_axis(area, [], f"{plays}, sorted")]
    lines, now, then = "", "", ""
    for place, (one, other) in enumerate(zip(*table.T.to_numpy(), strict=True), 1):
        x, top, low = area.x(place), area.y(one), area.y(other)
        lines += f"M{x} {top}V{low}"
        now += f"M{x - 2.4:g} {top - 2.4:g}l4.8 4.8m0 -4.8l-4.8 4.8"
        then += f"M{x} {low}h0"
    parts += [f'<path class="pair" d="{lines}"/>']
    if limit is not None:
        y = area.y(limit)
        parts += [
            f'<path class="limit" d="M{area.left:g} {y}H{area.x(area.most_x)}"/>',
            f'<text x="{area.left + 6:g}" y="{y - 5:g}" class="start">at most {limit:g} %</text>',
        ]
    parts += [f'<path class="now cross" d="{now}"/>', f'<path class="then dot" d="{then}"/>']
    less, more = ((table["proposed"] < table["in_hand"]), (table["proposed"] > table["in_hand"]))
    same = len(table) - int(less.sum()) - int(more.sum())
    caption = (
        f"As requested: lower in {less.sum():,} {plays}, the same in {same:,}, higher in "
        f"{more.sum():,}. Median {number(float(table['in_hand'].median()))}{unit} in hand, "
        f"{number(float(table['proposed'].median()))}{unit} as requested."
    )
    return Picture(chart(area, caption, parts), caption)


class Course:
    """Draws the course of a surge; all charts have the same days."""

    def __init__(self, case: PurchaseCase) -> None:
        settings = case.scenario.settings
        self._start: datetime = settings.start
        self._hours = settings.horizon / 3_600
        self._table = case.course
        self._stock = {"in_hand": case.sized.in_hand, "proposed": case.sized.proposed}
        self._rooms = None if settings.rooms is None else settings.rooms.count
        self._replay: Replay | None = case.replay
        self.by_day = self._hours > BY_DAY

    @property
    def has_rooms(self) -> bool:
        """Whether there are patients to count."""
        return bool(self._of("both", "rooms")["mean"].gt(0).any())

    def people(self) -> Picture:
        """Draw how many people wait at the door, with both stocks."""
        tables = {stock: self._of(stock, "people") for stock in STOCKS}
        most = max(float(one["p90"].max()) for one in tables.values())
        most = max(most, *(float(one["mean"].max()) for one in tables.values()), 1.0)
        area = frame(self._hours, most)
        parts = [*y_axis(area), *self._days(area)]
        said = []
        for (stock, table), look in zip(tables.items(), ("now", "then"), strict=True):
            x = self._x(table)
            parts.append(band(area, x, table["p10"], table["p90"], f"{look} band"))
            parts.append(line(area, list(zip(x, table["mean"], strict=True)), f"{look} line"))
            worst = table.iloc[int(table["mean"].to_numpy().argmax())]
            said.append(
                f"{number(worst['mean'])} on day {worst['hour'] // 24 + 1:.0f} "
                f"({STOCKS[stock].lower()})"
            )
        span = "the worst hour of each day" if self.by_day else "each hour"
        caption = (
            f"People waiting at the door in {span}: lines are means over {self._plays}, bands "
            f"hold 8 of 10 of them. Most on average: {said[0]}; {said[1]}."
        )
        columns = {
            f"{name}: {what}": tables[stock][column]
            for stock, name in STOCKS.items()
            for what, column in (("mean", "mean"), ("8 of 10 from", "p10"), ("to", "p90"))
        }
        return Picture(
            chart(area, caption, parts), caption, *self._numbers(tables["in_hand"], columns)
        )

    def rooms(self) -> Picture:
        """Draw how many patients lie in isolation rooms; no stock moves that."""
        table = self._of("both", "rooms")
        x, most = self._x(table), float(table["p90"].max())
        area = frame(self._hours, max(most, self._rooms or 0, 1.0), whole=True)
        parts = [*y_axis(area, whole=True), *self._days(area)]
        parts.append(band(area, x, table["p10"], table["p90"], "both band"))
        parts.append(line(area, list(zip(x, table["mean"], strict=True)), "both line"))
        said = ""
        if self._rooms is not None:
            parts.append(line(area, [(0, self._rooms), (self._hours, self._rooms)], "limit"))
            said = f" The dotted line is the number of rooms, {self._rooms:,}."
        span = "the fullest hour of each day" if self.by_day else "each hour"
        caption = (
            f"Patients in isolation rooms in {span}: the line is the mean over {self._plays}, the "
            f"band holds 8 of 10 of them.{said}"
        )
        columns = {"mean": table["mean"], "8 of 10 from": table["p10"], "to": table["p90"]}
        return Picture(chart(area, caption, parts), caption, *self._numbers(table, columns))

    def things(self, thing: str) -> list[Picture]:
        """Draw where kits or batteries are: a picture of each stock, drawn to the same scale."""
        tables = {stock: self._by_state(stock, thing) for stock in STOCKS}
        most = max(float(one["there"].max()) for one in tables.values())
        return [self._stack(thing, stock, tables[stock], most) for stock in STOCKS]

    def shown_states(self, thing: str) -> list[tuple[str, str]]:
        """Return name and look of the states that occur with one of the stocks."""
        return [
            named
            for state, named in STATES[thing].items()
            if self._table.loc[self._table["state"] == state, "mean"].gt(0).any()
        ]

    def _stack(self, thing: str, stock: str, table: pd.DataFrame, most: float) -> Picture:
        area = frame(self._hours, most, whole=True)
        parts, x = [*y_axis(area, whole=True), *self._days(area)], self._x(table)
        top = pd.Series(0.0, index=table.index)
        shown = self.shown_states(thing)
        columns = {}
        for state, (name, look) in STATES[thing].items():
            if (name, look) in shown:
                bottom, top = top, top + table[state]
                parts.append(band(area, x, bottom, top, look))
                columns[name] = table[state]
        columns[_FREE[thing].removeprefix(f"{thing} ")] = table[_FREE[thing]]
        parts.append(line(area, list(zip(x, table["there"] - table["low"], strict=True)), "most"))
        ends = [(0.0, table["there"].iloc[0]), *zip(x, table["there"], strict=True)]
        ends.append((self._hours, table["there"].iloc[-1]))
        parts.append(line(area, ends, "limit"))
        count = getattr(self._stock[stock], thing)
        least = table.iloc[int(table[_FREE[thing]].to_numpy().argmin())]
        free = "ready" if thing == "kits" else "on the shelf"
        caption = (
            f"{STOCKS[stock]}, {count:,} {thing}. Fewest {free} on average: "
            f"{number(least[_FREE[thing]])}, on day {least['hour'] // 24 + 1:.0f}."
        )
        return Picture(
            chart(area, f"Where {thing} are. {caption}", parts), caption,
            *self._numbers(table, columns),
        )  # fmt: skip

    def _by_state(self, stock: str, thing: str) -> pd.DataFrame:
        """Return one row per stretch of time, one column per state."""
        mine = self._of(stock, thing)
        table = mine.pivot(index="hour", columns="state", values="mean")
        low = mine[mine["state"] == _FREE[thing]].set_index("hour")["p10"]
        inside = [one for one in table.columns if one != _AWAY[thing]]
        table["there"], table["low"] = table[inside].sum(axis=1), low
        hours = mine.drop_duplicates("hour").set_index("hour")["hours"]
        return table.assign(hours=hours).reset_index()

    def _of(self, stock: str, thing: str) -> pd.DataFrame:
        table = self._table
        mine = table[(table["stock"] == stock) & (table["thing"] == thing)]
        return mine.reset_index(drop=True)

    @property
    def _plays(self) -> str:
        return plays_name(self._replay)

    def _x(self, table: pd.DataFrame) -> list[float]:
        """Return where rows lie: of one a day, in the middle of the day."""
        if self.by_day:
            return [float(min(hour // 24 * 24 + 12, self._hours)) for hour in table["hour"]]
        return [float(one) for one in table["hour"] + table["hours"] / 2]

    def _days(self, area: Frame) -> list[str]:
        days = max(int(-(-self._hours // 24)), 1)
        step = next(one for one in (1, 2, 7, 14, 28, 56, 112, days) if days / one <= 7)
        marks = [
            (24.0 * day, _date(date_of_day(self._start, day + 1))) for day in range(0, days, step)
        ]
        return list(x_axis(area, marks, "date"))

    def _numbers(
        self, table: pd.DataFrame, columns: dict[str, pd.Series]
    ) -> tuple[tuple[str, ...], tuple[tuple[str, ...], ...]]:
        """Return the numbers of a chart as a table of some 60 rows at most."""
        every = -(-len(table) // 60)
        when = [self._start + timedelta(hours=float(hour)) for hour in table["hour"]]
        rows = tuple(
            (
                f"{_date(when[row])} {when[row]:%H:%M}",
                *(number(one.iloc[row]) for one in columns.values()),
            )
            for row in range(0, len(table), every)
        )
        return ("From", *columns), rows


def _date(day: datetime | object) -> str:
    return f"{day:%d %b}".lstrip("0")


def legend(entries: Sequence[tuple[str, str]]) -> list[tuple[str, str]]:
    """Return small pictures of looks, each with its name."""
    lines = ("limit", "most", "line", "cross", "dot")
    shown = []
    for name, look in entries:
        if look.split()[-1] in lines:
            inside = {
                "cross": "M9 3l8 8m0 -8l-8 8",
                "dot": "M13 7h0",
            }.get(look.split()[-1], "M1 7h24")
            mark = f'<path class="{look}" d="{inside}"/>'
        else:
            mark = f'<path class="{look}" d="M1 1h24v12h-24z"/>'
        shown.append((f'<svg viewBox="0 0 26 14" aria-hidden="true">{mark}</svg>', name))
    return shown
