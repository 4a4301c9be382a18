"""The tables of a comparison: what each alternative comes to, and how far it differs."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Any

from surge_sim.equipment.stock import added_words
from surge_sim.report.document import Block, Column, Heading, Table
from surge_sim.report.phrases import in_time_words, per_play, plays_name
from surge_sim.report.rounding import NONE, percent_number, three_digits
from surge_sim.report.sizing_words import money
from surge_sim.whatif.design import AS_IT_IS
from surge_sim.whatif.differences import MEASURES, Difference, level
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
    "alarms_per_1000": "exits by alarm per 1,000 entries",
}
SHARES = ("service_level", "share_on_target", "worst_day_service_level")
BETTER, WORSE = "better", "worse"
#: what stands above alternatives that may not be permitted, and those that are no choice
_ALLOWED = "If allowed by instructions, respiratory protection program, local codes"
_STRESS, _ASSUMED = "Stress: what may happen", "Assumptions about the place, not choices"
#: what stands before a name in a table that holds all of them
_LABELS = {_ALLOWED: "if allowed: ", _STRESS: "stress: ", _ASSUMED: "assumed: "}


def groups(result: Comparison) -> Iterator[tuple[str, list[Alternative]]]:
    """Yield, as there are, choices (without a heading), those that need permission, no choices."""
    sorts: dict[str, list[Alternative]] = {"": [], _ALLOWED: [], _STRESS: [], _ASSUMED: []}
    for one in result.others:
        sorts[_group_of(result, one)].append(one)
    yield from ((heading, members) for heading, members in sorts.items() if members)


def _group_of(result: Comparison, one: Alternative) -> str:
    if one.name in result.assumed_times:
        return _ASSUMED
    if one.sort == STRESS_SORT:
        return _STRESS
    return _ALLOWED if one.name in result.relaxes else ""


def row_name(result: Comparison, one: Alternative) -> str:
    """Name an alternative in a table of all: ``if allowed: kit per shift``."""
    label = "" if one is result.base else _LABELS.get(_group_of(result, one), "")
    return f"{label}{one.name}"


def level_tables(result: Comparison) -> Iterator[Block]:
    """Return what each alternative comes to; a star where it is shown to differ from the base."""
    columns = (
        Column("", align="left"),
        Column("In time", "%"),
        Column("On target", "%"),
        Column("Hours"),
        Column("Urgent late"),
        Column("Worst day", "%"),
        Column("Alarms"),
    )
    parts = dict(groups(result))
    first = [result.base, *parts.pop("", [])]
    for heading, members in {"": first, **parts}.items():
        rows = [_level_row(result, one) for one in members]
        if heading:
            yield Heading(heading)
        if heading in (_STRESS, _ASSUMED):
            yield Table(columns, tuple(rows))
            continue
        prices = [_price(result, one) for one in members]
        priced = [(*row, price) for row, price in zip(rows, prices, strict=True)]
        yield Table((*columns, Column("Price")), tuple(priced))


def _level_row(result: Comparison, one: Alternative) -> tuple[str, ...]:
    cells = []
    for measure in NAMES:
        star = "*" if finding_of(result, one, measure) in (BETTER, WORSE) else ""
        cells.append(f"{star}{level_words(result, one, measure)}")
    return (one.name, *cells)


def level_words(result: Comparison, one: Alternative, measure: str) -> str:
    """Write a measure of an alternative; counts with three digits, so that they subtract."""
    [asked] = [each for each in MEASURES if each.name == measure]
    rows = result.played.of(one.name)
    if measure in SHARES:
        share = level(asked, rows)
        return NONE if share is None else percent_number(share)
    value = level(asked, rows)
    return NONE if value is None else three_digits(value)


#: on a screen: choices, those of them that need no permission, all with stress, and others
_CHOICES_SHOWN, _SURE_SHOWN, _WITH_STRESS, _ASSUMED_SHOWN = 3, 2, 5, 4


def short_table(result: Comparison) -> Table:
    """Return the reader's own alternatives, then those that save or cost most hours."""
    urgent = bool(result.played.rows["urgent_entries"].any())
    measures = ["service_level", "share_on_target", "hours_waited"]
    measures.append("urgent_late" if urgent else "worst_day_service_level")
    columns = (
        Column("", align="left"),
        Column("In time", "%"),
        Column("On target", "%"),
        Column("Hours"),
        Column("Urgent late") if urgent else Column("Worst day, in time", "%"),
        Column("Price"),
    )
    rows = []
    for one in (result.base, *shown_in_short(result)):
        cells = dict(zip(NAMES, _level_row(result, one)[1:], strict=True))
        price = _price(result, one) if _group_of(result, one) in ("", _ALLOWED) else ""
        rows.append((row_name(result, one), *(cells[measure] for measure in measures), price))
    return Table(columns, tuple(rows))


def shown_in_short(result: Comparison) -> list[Alternative]:
    """Return the alternatives in the table of the screen, in its order."""
    parts = {heading: _in_order(result, heading, members) for heading, members in groups(result)}
    sure, allowed = parts.get("", []), parts.get(_ALLOWED, [])
    own_sure, own_allowed = (sum(not one.sort for one in members) for members in (sure, allowed))
    room = max(_CHOICES_SHOWN - own_sure - own_allowed, 0)
    rest = room - min(_SURE_SHOWN, len(sure) - own_sure, room)
    of_allowed = min(rest, len(allowed) - own_allowed)
    choices = [*sure[: own_sure + room - of_allowed], *allowed[: own_allowed + of_allowed]]
    stress = parts.get(_STRESS, [])[: max(_WITH_STRESS - len(choices), 1)]
    return [*choices, *stress, *parts.get(_ASSUMED, [])[:_ASSUMED_SHOWN]]


def _in_order(
    result: Comparison, heading: str, members: Sequence[Alternative]
) -> list[Alternative]:
    """Put the reader's own first, then choices that save most hours, stress that costs most."""
    sign = -1.0 if heading == _STRESS else 1.0

    def place(one: Alternative) -> tuple[bool, float]:
        return one.sort != "", sign * (change_of(result, one, "hours_waited") or 0.0)

    return sorted(members, key=place)


def how_to_read_short(result: Comparison) -> str:
    """Say on a screen what its table shows, and how many alternatives it leaves out."""
    shown = shown_in_short(result)
    more = len(result.others) - len(shown)
    left = f"; {more} more: --full" if more else "; what each assumes: --full"
    signs = _signs([result.costs[one.name] for one in shown])
    currency = result.base.scenario.settings.prices.currency
    return f"means {per_play(result.replay)}; extra price: {currency}{signs}{left}"


def how_to_read(result: Comparison) -> str:
    """Say what the first tables show."""
    settings = result.base.scenario.settings
    per, currency = per_play(result.replay), settings.prices.currency
    signs = _signs(result.costs.values())
    star = f"* differs from {quoted(AS_IT_IS)}, shown by these {result.surges:,} surges. "
    return (
        f"{'' if result.replay is not None else star}In time: entries that "
        f"{in_time_words(settings.target)}; worst day: the same, of its entries. "
        f"On target: {plays_name(result.replay)}. Hours waited and late urgent entries {per}. "
        "Alarms, at which the wearer has to leave the room: per 1,000 entries. "
        f"Price of the alternative: {currency}{signs}."
    )


def _signs(costs: Iterable[Cost]) -> str:
    return "; ?: part of it has no price" if any(cost.unpriced for cost in costs) else ""


def _price(result: Comparison, one: Alternative) -> str:
    """Write what an alternative costs beyond what is owned, if anything in it has a price."""
    cost = result.costs.get(one.name)
    if cost is None:
        return ""
    parts = [money(cost.purchase)] if cost.purchase else []
    parts += [f"{money(cost.per_surge)}/surge"] if cost.per_surge else []
    parts += ["?"] if cost.unpriced else []
    return " + ".join(parts) or "unpriced"


def money_words(result: Comparison, cost: Cost) -> str:
    """Say what an alternative costs, with its currency."""
    currency = result.base.scenario.settings.prices.currency
    said = [f"{money(cost.purchase)} {currency}"] if cost.purchase else []
    if cost.per_surge:
        said.append(f"{money(cost.per_surge)} {currency} a surge")
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
        rows.append((row_name(result, one), *cells, verdict(result, one)))
    if rows:
        yield Heading(f"Difference from {quoted(AS_IT_IS)}, with limits")
        yield Table(
            (
                Column("", align="left"),
                Column("Hours waited"),
                Column("Surges on target", "points"),
                Column("Of 6 measures", align="left"),
            ),
            tuple(rows),
        )


_LIMITED = ("hours_waited", "share_on_target")


def verdict(result: Comparison, one: Alternative) -> str:
    """Say in how many of the six measures an alternative is shown to be better, and worse."""
    if one.name in result.assumed_times:
        return NONE
    found = [difference.finding for difference in result.found[one.name]]
    counts = [(found.count(finding), finding) for finding in (BETTER, WORSE)]
    return ", ".join(f"{count} {finding}" for count, finding in counts if count) or "undecided"


def _with_limits(found: Difference) -> str:
    if found.by.estimate is None:
        return "-"
    factor = 100.0 if found.measure.name in SHARES else 1.0
    middle, low, high = (None if value is None else _signed(factor * value) for value in found.by)
    return f"{middle}" if low is None else f"{middle} ({low} to {high})"


def _signed(value: float) -> str:
    """Write a difference with its sign and the digits that say something."""
    rounded = float(f"{value:.2g}") if abs(value) < 100 else round(value)
    return "0" if rounded == 0 else f"{rounded:+,.10g}"


def size_table(result: Comparison) -> Iterator[Block]:
    """Return what a sizing of each alternative came to."""
    rows = [
        (
            row_name(result, one),
            *(str(result.sized[one.name][name]) for name in ("buy", "cost", "met")),
        )
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


def hours_words(found: Difference) -> str:
    """Write how many hours an alternative saves or adds, with the digits of the table."""
    return three_digits(abs(found.by.estimate or 0.0))


def quoted(name: str) -> str:
    """Write the name of an alternative in a sentence."""
    return f'"{name}"'
