"""The tables of a comparison: what each alternative comes to, and how far it differs."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

from surge_sim.report.document import Block, Column, Heading, Table
from surge_sim.report.phrases import per_play, plays_name
from surge_sim.report.rounding import number, percent_number
from surge_sim.units import duration_text
from surge_sim.whatif.design import AS_IT_IS
from surge_sim.whatif.differences import Difference
from surge_sim.whatif.usual import STRESS_SORT

if TYPE_CHECKING:
    from surge_sim.sizing.result import SizeResult
    from surge_sim.whatif.compare import Comparison
    from surge_sim.whatif.costs import Cost
    from surge_sim.whatif.design import Alternative

#: how a measure is called in a sentence
NAMES = {
    "service_level": "entries in time",
    "share_on_target": "surges on target",
    "hours_waited": "hours waited",
    "urgent_late": "late urgent entries",
    "worst_day_service_level": "entries in time on the worst day",
    "alarms_per_1000": "alarms per 1,000 entries",
}
_SHARES = ("service_level", "share_on_target", "worst_day_service_level")
BETTER, WORSE = "better", "worse"
#: what stands above alternatives that are no choice
_STRESS, _ASSUMED = "Stress: what may happen", "Assumptions about the place, not choices"


def groups(result: Comparison) -> Iterator[tuple[str, list[Alternative]]]:
    """Yield choices (without a heading), stress and assumptions about the place, as there are."""
    sorts: dict[str, list[Alternative]] = {"": [], _STRESS: [], _ASSUMED: []}
    for one in result.others:
        sort = _STRESS if one.sort == STRESS_SORT else ""
        sorts[_ASSUMED if one.name in result.assumed_times else sort].append(one)
    yield from ((heading, members) for heading, members in sorts.items() if members)


def level_tables(result: Comparison) -> Iterator[Block]:
    """Return what each alternative comes to; a star where it is shown to differ from the base."""
    columns = (
        Column("", align="left"),
        Column("In time", "%"),
        Column("On target", "%"),
        Column("Hours"),
        Column("Late urgent"),
        Column("Worst day, in time", "%"),
        Column("Alarms"),
    )
    parts = dict(groups(result))
    first = [result.base, *parts.pop("", [])]
    for heading, members in {"": first, **parts}.items():
        rows = [_level_row(result, one) for one in members]
        if heading:
            yield Heading(heading)
            yield Table(columns, tuple(rows))
            continue
        added = [_to_add(result, one) for one in members]
        priced = [(*row, price) for row, price in zip(rows, added, strict=True)]
        yield Table((*columns, Column("To add")), tuple(priced))


def _level_row(result: Comparison, one: Alternative) -> tuple[str, ...]:
    mine = result.table.set_index("alternative").loc[one.name].to_dict()
    cells = []
    for measure in NAMES:
        star = "*" if finding_of(result, one, measure) in (BETTER, WORSE) else ""
        cells.append(f"{star}{_shown(measure, mine[measure])}")
    return (one.name, *cells)


#: alternatives on a screen: choices, and stress
_CHOICES_SHOWN, _STRESS_SHOWN = 4, 3
_SHORT = ("service_level", "share_on_target", "hours_waited", "worst_day_service_level")


def short_table(result: Comparison) -> Table:
    """Return the reader's own alternatives, then those that change the hours waited most."""
    columns = (
        Column("", align="left"),
        Column("In time", "%"),
        Column("On target", "%"),
        Column("Hours"),
        Column("Worst day, in time", "%"),
        Column("To add"),
    )
    rows = [_short_row(result, result.base)]
    for heading, members in groups(result):
        most = _STRESS_SHOWN if heading == _STRESS else _CHOICES_SHOWN
        label = {_STRESS: "stress: ", _ASSUMED: "assumed: "}.get(heading, "")
        rows += [_short_row(result, one, label) for one in _largest(result, members)[:most]]
    return Table(columns, tuple(rows))


def _largest(result: Comparison, members: Sequence[Alternative]) -> list[Alternative]:
    def place(one: Alternative) -> tuple[bool, float]:
        return one.sort != "", -abs(change_of(result, one, "hours_waited") or 0.0)

    return sorted(members, key=place)


def _short_row(result: Comparison, one: Alternative, label: str = "") -> tuple[str, ...]:
    cells = dict(zip(NAMES, _level_row(result, one)[1:], strict=True))
    added = "" if label else _to_add(result, one)
    return (f"{label}{one.name}", *(cells[measure] for measure in _SHORT), added)


def how_to_read_short(result: Comparison) -> str:
    """Say on a screen what its table shows, and how many alternatives it leaves out."""
    shown = 0
    for heading, members in groups(result):
        shown += min(len(members), _STRESS_SHOWN if heading == _STRESS else _CHOICES_SHOWN)
    more = len(result.others) - shown
    left = f"{more} more, and " if more else ""
    star = "" if result.replay is not None else f"* shown to differ from {quoted(AS_IT_IS)}. "
    currency = result.base.scenario.settings.prices.currency
    return (
        f"{star}Hours waited {per_play(result.replay)}; to add: {currency}. With --full: {left}"
        "what each assumes"
    )


def how_to_read(result: Comparison) -> str:
    """Say what the first tables show."""
    wait = duration_text(result.base.scenario.settings.target.wait)
    per, currency = per_play(result.replay), result.base.scenario.settings.prices.currency
    star = f"* differs from {quoted(AS_IT_IS)}, shown by these {result.surges:,} surges. "
    return (
        f"{'' if result.replay is not None else star}In time: entries that wait {wait} or less; "
        f"worst day: of these, on it. On target: {plays_name(result.replay)}. Hours waited and "
        f"late urgent entries {per}; alarms per 1,000 entries. To add: {currency}{_signs(result)}."
    )


def _signs(result: Comparison) -> str:
    said = ""
    if any(cost.per_surge for cost in result.costs.values()):
        said += "; s: paid for each surge"
    if any(cost.unpriced for cost in result.costs.values()):
        said += "; ?: something in it has no price"
    return said


def _to_add(result: Comparison, one: Alternative) -> str:
    cost = result.costs.get(one.name)
    if cost is None:
        return ""
    parts = [
        f"{cost.purchase:,.10g}" if cost.purchase or not cost.per_surge else "",
        f"{cost.per_surge:,.10g} s" if cost.per_surge else "",
    ]
    return " + ".join(part for part in parts if part) + ("?" if cost.unpriced else "")


def money_words(result: Comparison, cost: Cost) -> str:
    """Say what an alternative costs, with its currency."""
    currency = result.base.scenario.settings.prices.currency
    said = [f"{cost.purchase:,.10g} {currency}"] if cost.purchase else []
    if cost.per_surge:
        said.append(f"{cost.per_surge:,.10g} {currency} for each surge")
    if cost.unpriced:
        said.append(f"something without a price ({', '.join(cost.unpriced)})")
    return " and ".join(said)


def limit_table(result: Comparison) -> Iterator[Block]:
    """Return the differences in hours and in surges on target with their limits, and a verdict."""
    if result.replay is not None:
        return
    same = result.design.equal_to_base()
    asked = [one for _, members in groups(result) for one in members if one not in same]
    rows = []
    for one in asked:
        cells = [_with_limits(difference_of(result, one, name)) for name in _LIMITED]
        rows.append((one.name, *cells, ", ".join(verdict(result, one))))
    if rows:
        yield Heading(f"Difference from {quoted(AS_IT_IS)}, with limits")
        yield Table(
            (
                Column("", align="left"),
                Column("Hours waited"),
                Column("Surges on target", "points"),
                Column("Better, worse"),
            ),
            tuple(rows),
        )


_LIMITED = ("hours_waited", "share_on_target")


def verdict(result: Comparison, one: Alternative) -> tuple[str, str]:
    """Return in how many of the six measures an alternative is shown to be better, and worse."""
    if one.name in result.assumed_times:
        return "-", "-"
    found = [difference.finding for difference in result.found[one.name]]
    return str(found.count(BETTER)), str(found.count(WORSE))


def _with_limits(found: Difference) -> str:
    if found.by.estimate is None:
        return "-"
    factor = 100.0 if found.measure.name in _SHARES else 1.0
    middle, low, high = (None if value is None else _signed(factor * value) for value in found.by)
    return f"{middle}" if low is None else f"{middle} ({low} to {high})"


def _signed(value: float) -> str:
    """Write a difference with its sign and the digits that say something."""
    rounded = float(f"{value:.2g}") if abs(value) < 100 else round(value)
    return "0" if rounded == 0 else f"{rounded:+,.10g}"


def size_table(result: Comparison) -> Iterator[Block]:
    """Return what a sizing of each alternative came to."""
    rows = [
        (one.name, *(str(result.sized[one.name][name]) for name in ("buy", "cost", "met")))
        for one in result.design.alternatives
        if one.name in result.sized
    ]
    if rows:
        yield Heading("To meet the target, beyond the stock of each")
        yield Table(
            (
                Column("", align="left"),
                Column("Buy", align="left"),
                Column("For"),
                Column("Met in"),
            ),
            tuple(rows),
        )


def sized_in_short(result: SizeResult) -> dict[str, Any]:
    """Return what a sizing came to, for a row of a comparison."""
    from surge_sim.report.sizing_answer import money
    from surge_sim.sizing.items import added_words

    best = result.best
    return {
        "buy": added_words(result.owned, result.recommended),
        "cost": money(result.cost),
        "price": result.cost,
        "verdict": best.verdict,
        "met": f"{best.passes:,} of {best.surges:,}",
    }


def out_of_reach_in_short() -> dict[str, Any]:
    """Return the same where no stock within the limits could be confirmed."""
    return {
        "buy": "out of reach: see surge-sim size", "cost": "-", "price": None,
        "verdict": "out of reach", "met": "-",
    }  # fmt: skip


def difference_of(result: Comparison, one: Alternative, measure: str) -> Difference:
    """Return how far an alternative is from the base in one measure."""
    return next(found for found in result.found[one.name] if found.measure.name == measure)


def change_of(result: Comparison, one: Alternative, measure: str) -> float | None:
    """Return by how much a measure of an alternative differs from the base's."""
    return difference_of(result, one, measure).by.estimate


def finding_of(result: Comparison, one: Alternative, measure: str) -> str:
    """Return what can be said of that difference; empty where nothing is claimed."""
    if one is result.base or result.replay is not None:
        return ""
    return difference_of(result, one, measure).finding


def value_words(found: Difference, value: float | None) -> str:
    """Write a value of a measure as in a sentence."""
    shown = _shown(found.measure.name, value)
    return f"{shown} %" if found.measure.name in _SHARES else shown


def _shown(measure: str, value: float | None) -> str:
    if value is None or math.isnan(value):
        return "-"
    if measure in _SHARES:
        return percent_number(value)
    return f"{value:.2f}" if 0.0 < value < 0.1 else number(float(f"{value:.3g}"))


def quoted(name: str) -> str:
    """Write the name of an alternative in a sentence."""
    return f'"{name}"'
