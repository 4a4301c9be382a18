"""Parts of the document on a purchase: alternatives that were compared."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, NamedTuple

import pandas as pd

from surge_sim.cautions import RULES_CAUTION
from surge_sim.errors import echo
from surge_sim.report.case_planner import TO_ADD
from surge_sim.report.case_stages import count
from surge_sim.report.case_words import studied_stock_words
from surge_sim.report.document import Block, Column, Heading, Paragraph, Remark, Rows, Table
from surge_sim.report.phrases import counted_plays, per_play, plays_name
from surge_sim.report.rounding import (
    limit_number,
    listed,
    number,
    percent,
    percent_number,
    signed,
)
from surge_sim.report.sizing_words import money
from surge_sim.statistics.intervals import clopper_pearson
from surge_sim.units import share_text

if TYPE_CHECKING:
    from surge_sim.purchase.beside import Beside
    from surge_sim.purchase.case import Cell, PurchaseCase

#: rows of the tables, and characters of a name in one and of what it changes
_MOST_CHOICES, _MOST_NAME, _MOST_CHANGES = 8, 40, 120
_STRESS, _PURCHASE = "stress", "purchase"
#: rules that the text tells of
_MOST_TOLD = 2
#: measures of a comparison, in words
_MEASURES = {
    "service_level": "entries in time", "share_on_target": "surges on target",
    "hours_waited": "hours waited", "urgent_late": "late urgent entries",
    "worst_day_service_level": "entries in time on the worst day", "alarms_per_1000": "alarms",
}  # fmt: skip
#: how a change of each is told: whether it is a share, and what stands behind it
_CHANGES = {
    "service_level": (True, ""), "share_on_target": (True, ""), "hours_waited": (False, " h"),
    "urgent_late": (False, " {per}"), "worst_day_service_level": (True, ""),
    "alarms_per_1000": (False, " in 1,000 entries"),
}  # fmt: skip


class Choice(NamedTuple):
    """One alternative as a comparison tells it."""

    name: str
    #: row of the table of alternatives
    place: int
    sort: str
    is_base: bool
    free: bool
    #: times of cleaning, checks or wear that it takes to be others: an assumption, no choice
    other_times: bool
    #: finding by measure, see `differences.csv`
    findings: dict[str, str]
    #: what it takes to be otherwise, by dotted name
    changes: str
    #: what would have to be permitted; empty: nothing; None: an older release did not say
    relaxes: str | None


def choices_of(comparison: Beside) -> list[Choice]:
    """Return the alternatives of a comparison, in their order."""
    table, differences = comparison.tables["alternatives"], comparison.tables["differences"]
    told = comparison.summary.get("alternatives") or ()
    found = []
    for place in range(len(table)):
        # in the same order; a CSV file has a mark before a name that looks like a formula
        said = told[place] if place < len(told) and isinstance(told[place], dict) else {}
        in_file = str(table["alternative"].iloc[place])
        name = str(said.get("name", in_file))
        mine = differences[differences["alternative"].astype(str) == in_file]
        costs = [table[one].iloc[place] for one in ("purchase", "paid_per_surge")]
        unpriced = _text(table["without_a_price"].iloc[place])
        found.append(
            Choice(
                name=name,
                place=place,
                sort=_text(table["kind"].iloc[place]),
                is_base=not place,
                free=not any(float(one) for one in costs) and not unpriced,
                other_times=bool(said.get("other_process_times")),
                findings={
                    str(row["measure"]): _text(row["finding"]) for _, row in mine.iterrows()
                },
                changes=_text(table["changes"].iloc[place]),
                relaxes=_text(table["relaxes"].iloc[place]) if "relaxes" in table else None,
            )
        )  # fmt: skip
    return found


def _text(value: Any) -> str:
    return "" if value is None or pd.isna(value) else str(value)


def alternative_parts(case: PurchaseCase) -> Iterator[Block]:
    """Yield how alternatives do with the stock in hand, where they were compared."""
    yield Heading("Alternatives")
    comparison = case.comparison
    if comparison is None:
        yield Paragraph(
            "Whether an operating rule would do instead was not compared. The command stands in "
            f"'{TO_ADD}'."
        )
        return
    yield Paragraph(alternative_words(case))
    choices = [one for one in choices_of(comparison) if not one.other_times]
    rules = _best_first(case, [one for one in choices if _is_free(one)])
    if rules:
        told = _better(case, rules)
        yield Rows(
            tuple(
                (echo(one.name, _MOST_NAME), _rule_words(case, one, one in told))
                for one in rules[:_MOST_CHOICES]
            )
        )
    yield Remark("caution", RULES_CAUTION)
    kinds = {
        "Operating rules": [one for one in choices if one.sort not in (_PURCHASE, _STRESS)],
        "Purchases": [one for one in choices if one.sort == _PURCHASE],
        "Stress tests": [one for one in choices if one.sort == _STRESS],
    }
    stressed = bool(kinds["Stress tests"])
    yield Paragraph(_how_to_read(case, stressed))
    heads = (
        Column(f"With {studied_stock_words(case)}", align="left"),
        Column(f"On target, of {_surges(case)}"),
        Column("Entries in time", "%"),
        Column("Hours waited"),
        Column("Late urgent"),
        Column("In time on the worst day", "%"),
        Column("Alarms in 1,000"),
        Column("To pay", case.money_unit, "left"),
    )
    rows, groups = [_row(case, choices[0])], []
    for kind, members in kinds.items():
        shown = [one for one in members if not one.is_base][:_MOST_CHOICES]
        if shown:
            groups.append(len(rows))
            rows.append((kind, *[""] * (len(heads) - 1)))
            rows += [_row(case, one) for one in shown]
    yield Table(heads, tuple(rows), groups=tuple(groups))


def _how_to_read(case: PurchaseCase, stressed: bool) -> str:
    """Say what the table shows, before it."""
    surges = round(case.beside("comparison", "alternatives", 0, "surges").value or 0)
    plays = counted_plays(surges, case.replay)
    said = f"All of the table meet the same {plays}, which are others than those above."
    if case.replay is None:
        said += (
            " * better, ! worse than as it is; no mark: no difference is shown (95 % confidence "
            "for all marks together)."
        )
    if stressed:
        stock = studied_stock_words(case)
        said += f" Stress tests were tried with {stock} only, not with the request."
    return said


def _is_free(one: Choice) -> bool:
    """Say whether it is a rule that costs nothing; times of cleaning and checks are no choice."""
    return one.free and not one.is_base and not one.other_times and one.sort != _STRESS


def _best_first(case: PurchaseCase, rules: list[Choice]) -> list[Choice]:
    """Return rules by how often they met the target; those worse for urgent entries come last."""

    def key(one: Choice) -> tuple[bool, float]:
        worse = one.findings.get("urgent_late") == "worse"
        return worse, -_told(case, one, "surges_on_target")

    return sorted(rules, key=key)


def _better(case: PurchaseCase, rules: list[Choice]) -> list[Choice]:
    """Return the first of them that met the target more often than the stock as it is."""
    assert case.comparison is not None
    base = _told(case, choices_of(case.comparison)[0], "surges_on_target")
    return [one for one in rules if _told(case, one, "surges_on_target") > base][:_MOST_TOLD]


def _rule_words(case: PurchaseCase, one: Choice, in_full: bool) -> str:
    """Say what a rule relaxes; in full also how it did, and what gets worse with it."""
    if not in_full:
        return relaxed_words(one)
    said = [f"target met in {_met_words(case, one)}", relaxed_words(one)]
    worse = [_change_words(case, one, name) for name in _found(one, "worse")]
    if worse:
        said.append(f"worse: {listed(worse)}")
    more = _told(case, one, "urgent_late") > _base(case, "urgent_late")
    if one.findings.get("urgent_late") == "undecided" and more:
        limits = " to ".join(signed(end) for end in _limits(case, one, "urgent_late"))
        said.append(
            f"not shown to be worse: {_change_words(case, one, 'urgent_late')}; {_surges(case)} "
            f"surges leave open whether that is random variation (limits of the change {limits})"
        )
    return "; ".join(said)


def _base(case: PurchaseCase, column: str) -> float:
    return case.beside("comparison", "alternatives", 0, column).value or 0.0


def _change_words(case: PurchaseCase, one: Choice, measure: str) -> str:
    """Say from what to what a measure goes: ``alarms 5.59 to 6.03 in 1,000 entries``."""
    is_share, behind = _CHANGES.get(measure, (False, ""))
    write = percent if is_share else number
    ends = " to ".join(write(end) for end in (_base(case, measure), _told(case, one, measure)))
    return f"{_MEASURES.get(measure, measure)} {ends}{behind.format(per=per_play(case.replay))}"


def _limits(case: PurchaseCase, one: Choice, measure: str) -> tuple[float, float]:
    """Return the limits of a change, which hold together with those of all others."""
    assert case.comparison is not None
    table, names = case.comparison.tables["differences"], case.comparison.tables["alternatives"]
    name = str(names["alternative"].iloc[one.place])
    mine = (table["alternative"].astype(str) == name) & (table["measure"] == measure)
    place = int(mine.to_numpy().argmax())
    low, high = (
        case.beside("comparison", "differences", place, end).value or 0.0 for end in ("low", "high")
    )
    return low, high


def relaxed_words(one: Choice) -> str:
    """Say what a rule relaxes, so that what costs no money is not read as giving nothing away."""
    if one.relaxes is None:
        return f"changes {echo(one.changes, _MOST_CHANGES)}; compare again to see what that relaxes"
    return f"relaxes: {one.relaxes}" if one.relaxes else "relaxes nothing of the usual handling"


def _surges(case: PurchaseCase) -> str:
    return f"{case.beside('comparison', 'alternatives', 0, 'surges').value or 0:,.0f}"


def _told(case: PurchaseCase, one: Choice, column: str) -> float:
    return case.beside("comparison", "alternatives", one.place, column).value or 0.0


def _met_words(case: PurchaseCase, one: Choice, plays: str = "") -> str:
    """Say in how many surges it met the target: ``94 of 100 surges (95 % limits 87 to 98 %)``."""
    met, surges = (round(_told(case, one, name)) for name in ("surges_on_target", "surges"))
    said = f"{met:,} of {surges:,} {plays}".strip()
    if case.replay is not None:
        return said
    asked = case.target.share_of_surges
    low, high = (limit_number(end, asked) for end in clopper_pearson(met, surges))
    limits = "95 % limits " if plays else ""
    return f"{said} ({limits}{low} to {high} %)"


def _row(case: PurchaseCase, one: Choice) -> tuple[str, ...]:
    once, again = (_told(case, one, name) for name in ("purchase", "paid_per_surge"))
    paid = [money(once)] if once else []
    each = "a surge" if case.replay is None else "each time"
    paid += [f"{money(again)} {each}"] if again else []
    if not one.free and not paid:
        paid = ["unpriced"]
    marks = {"better": " *", "worse": " !"}

    def shown(measure: str, words: str) -> str:
        return f"{words}{marks.get(one.findings.get(measure, ''), '')}"

    name = echo(one.name, _MOST_NAME)
    stress, worst = one.sort == _STRESS, "worst_day_service_level"
    met = count(case.beside("comparison", "alternatives", one.place, "surges_on_target"))
    return (
        name,
        shown("share_on_target", met),
        shown("service_level", percent_number(_told(case, one, "service_level"))),
        shown("hours_waited", number(_told(case, one, "hours_waited"))),
        shown("urgent_late", number(_told(case, one, "urgent_late"))),
        shown("worst_day_service_level", percent_number(_told(case, one, worst))),
        shown("alarms_per_1000", number(_told(case, one, "alarms_per_1000"))),
        "" if stress else " + ".join(paid) or "0",
    )


def _found(one: Choice, finding: str) -> list[str]:
    return [name for name, found in one.findings.items() if found == finding]


def alternative_words(case: PurchaseCase) -> str:
    """Say how rules that cost nothing do, and that only others than this count can allow them."""
    assert case.comparison is not None
    asked = share_text(case.target.share_of_surges)
    choices = choices_of(case.comparison)
    rules = _best_first(case, [one for one in choices if _is_free(one)])
    if not rules:
        return "None of the alternatives that were compared costs nothing."
    base, plays, owned = choices[0], plays_name(case.replay), studied_stock_words(case)
    counts, better = [_met_words(case, base, plays)], _better(case, rules)
    if not better:
        best = min(rules, key=lambda one: _told(case, one, "hours_waited"))
        hours, now = (number(_told(case, one, "hours_waited")) for one in (best, base))
        said = (
            f"No rule that costs nothing met the target more often than {owned} as it is: in "
            f"{counts[0]}, where {asked} are asked for. Fewest hours are waited with "
            f'"{best.name}": {hours} h instead of {now} h.'
        )
    else:
        surges = _surges(case)
        told = [
            f'"{one.name}" met the target in {count(_met(case, one))} of {surges} {plays}'
            if one is better[0]
            else f'"{one.name}" in {count(_met(case, one))} of {surges}'
            for one in better
        ]
        said = (
            f"Rules that cost nothing, if they are allowed: with {owned}, {listed(told)}; without "
            f"a rule it was {counts[0]}. {asked} are asked for."
        )
    return f"{said} {_allowed(case)}"


def _met(case: PurchaseCase, one: Choice) -> Cell:
    return case.beside("comparison", "alternatives", one.place, "surges_on_target")


def _allowed(case: PurchaseCase) -> str:
    """Say who may allow a rule, and why these counts do not confirm the target."""
    return (
        "No rule is an alternative to buying until the manufacturer's instructions, the "
        "respiratory protection program and local codes allow it. Then size the scenario with the "
        f"rule in it: these counts do not confirm the target, as the {_surges(case)} "
        f"{plays_name(case.replay)} were simulated to compare, several rules were looked at, and "
        "none was tested against the target."
    )
