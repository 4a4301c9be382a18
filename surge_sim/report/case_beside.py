"""Parts of the document on a purchase: alternatives that were compared, and what matters."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, NamedTuple

import pandas as pd

from surge_sim.cautions import RULES_CAUTION
from surge_sim.errors import echo
from surge_sim.purchase.assumptions import INVENTED, NOT_SAID, PARTLY, SOURCED, sections_of
from surge_sim.report.case_planner import TO_ADD
from surge_sim.report.document import Block, Column, Heading, Paragraph, Remark, Rows, Table
from surge_sim.report.matters_answer import TIMES_CAUTION
from surge_sim.report.phrases import plays_name
from surge_sim.report.rounding import NONE, listed, number, percent
from surge_sim.report.sizing_answer import money
from surge_sim.units import share_text

if TYPE_CHECKING:
    from surge_sim.purchase.beside import Beside
    from surge_sim.purchase.case import PurchaseCase

#: rows of the tables, and characters of a name in one
_MOST_CHOICES, _MOST_INPUTS, _MOST_NAME = 8, 5, 40
_STRESS = "stress"
#: measures of a comparison, in words
_MEASURES = {
    "service_level": "entries in time", "share_on_target": "surges on target",
    "hours_waited": "hours waited", "urgent_late": "late urgent entries",
    "worst_day_service_level": "the worst day", "alarms_per_1000": "alarms",
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
            )
        )  # fmt: skip
    return found


def _text(value: Any) -> str:
    return "" if value is None or pd.isna(value) else str(value)


def alternative_parts(case: PurchaseCase) -> Iterator[Block]:
    """Yield what would do instead of buying, where it was compared."""
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
    rows = [one for one in choices if one.sort != _STRESS][: _MOST_CHOICES + 1]
    rows += [one for one in choices if one.sort == _STRESS][:_MOST_CHOICES]
    heads = (
        Column("With the stock in hand", align="left"),
        Column("Met the target"),
        Column("Entries in time"),
        Column("Hours waited", "h"),
        Column("To pay"),
        Column("Shown", align="left"),
    )
    yield Table(heads, tuple(_row(case, one) for one in rows))
    yield Paragraph(
        f"Simulated on {_surges(case)} {plays_name(case.replay)} that are not those above. Shown: "
        "in what it is better or worse than the stock in hand beyond random variation, all limits "
        f"together with 95 % confidence. To pay: in {case.money_unit}; s: for each surge; ?: "
        "something in it has no price. What each assumes: comparison/tables/alternatives.csv."
    )
    yield Remark("caution", RULES_CAUTION)


def _surges(case: PurchaseCase) -> str:
    return f"{case.beside('comparison', 'alternatives', 0, 'surges').value or 0:,.0f}"


def _row(case: PurchaseCase, one: Choice) -> tuple[str, ...]:
    met, surges, share, hours, once, again = (
        case.beside("comparison", "alternatives", one.place, column).value
        for column in (
            "surges_on_target", "surges", "service_level", "hours_waited", "purchase",
            "paid_per_surge",
        )
    )  # fmt: skip
    paid = [money(once)] if once else []
    paid += [f"{money(again)} s"] if again else []
    if not one.free and not paid:
        paid = ["?"]
    shown = [
        f"{finding}: {listed([_MEASURES.get(name, name) for name in names])}"
        for finding in ("better", "worse")
        if (names := _found(one, finding))
    ]
    name = echo(one.name, _MOST_NAME)
    if one.sort == _STRESS:
        name = f"stress: {name}"
    return (
        name,
        f"{met or 0:,.0f} of {surges or 0:,.0f}",
        percent(share),
        number(hours),
        NONE if one.is_base or one.sort == _STRESS else " + ".join(paid) or "0",
        "" if one.is_base else "; ".join(shown) or "no difference",
    )


def _found(one: Choice, finding: str) -> list[str]:
    return [name for name, found in one.findings.items() if found == finding]


def alternative_words(case: PurchaseCase) -> str:
    """Say whether what costs nothing would do instead."""
    assert case.comparison is not None
    asked = case.target.share_of_surges
    choices = choices_of(case.comparison)
    free = [
        one
        for one in choices
        if one.free and not one.is_base and not one.other_times and one.sort != _STRESS
    ]
    if not free:
        return "None of the alternatives that were compared costs nothing."

    def told(one: Choice, column: str) -> float:
        return case.beside("comparison", "alternatives", one.place, column).value or 0.0

    base, surges, plays = choices[0], _surges(case), plays_name(case.replay)
    best = max(free, key=lambda one: told(one, "surges_on_target"))
    met, before = told(best, "surges_on_target"), told(base, "surges_on_target")
    if met <= before:
        best = min(free, key=lambda one: told(one, "hours_waited"))
        hours, now = (number(told(one, "hours_waited")) for one in (best, base))
        return (
            "No alternative that costs nothing met the target more often than the stock in hand as "
            f"it is: in {before:,.0f} of {surges} {plays}, where {share_text(asked)} are asked "
            f'for. Fewest hours are waited with "{best.name}": {hours} h instead of {now} h.'
        )
    said = (
        f'Of what costs nothing, "{best.name}" met the target most often: with the stock in hand '
        f"in {met:,.0f} of {surges} {plays}, {before:,.0f} without it, where {share_text(asked)} "
        "are asked for."
    )
    if met / told(best, "surges") >= asked:
        said += (
            " That may do instead of buying, as far as these counts go: size the scenario with "
            "this rule in it before you buy, and ask whether the manufacturer's instructions and "
            "local rules allow it."
        )
    else:
        said += " That is not often enough to do instead of buying."
    if worse := _found(best, "worse"):
        names = listed([_MEASURES.get(name, name) for name in worse])
        said += f" It is worse in {names}."
    return said


def leans_parts(case: PurchaseCase) -> Iterator[Block]:
    """Yield what the answer depends on: inputs by how well they are known, and which matters."""
    yield Heading("What it depends on")
    yield Rows(tuple(_known(case)))
    study = case.study
    if study is None:
        yield Paragraph(
            "Which of these moves the answer most was not studied. The command stands in "
            f"'{TO_ADD}'."
        )
        return
    yield Paragraph(study.answer)
    table = study.tables["inputs"]
    rows = []
    # the last row is random variation
    for place in range(min(len(table) - 1, _MOST_INPUTS)):
        ends = [
            case.beside("study", "inputs", place, f"service_level_at_{end}").value
            for end in ("low", "high")
        ]
        prices = [
            case.beside("study", "inputs", place, f"cost_at_{end}").value
            if f"cost_at_{end}" in table
            else None
            for end in ("low", "high")
        ]
        values = f"{_text(table['low'].iloc[place])} to {_text(table['high'].iloc[place])}"
        told = (NONE if one is None else money(one) for one in prices)
        rows.append(
            (
                _text(table["input"].iloc[place]), values, " to ".join(map(percent, ends)),
                " to ".join(told),
            )
        )  # fmt: skip
    heads = (
        Column("Input", align="left"),
        Column("Held at", align="left"),
        Column("Entries in time, stock in hand"),
        Column("To buy for the target", case.money_unit),
    )
    yield Table(heads, tuple(rows))
    yield Remark("caution", TIMES_CAUTION)


def _known(case: PurchaseCase) -> Iterator[tuple[str, str]]:
    """Yield the sections of the scenario by how well they are known."""
    sections = sections_of(case.scenario)
    of_section: dict[str, set[str]] = {}
    for one in case.assumptions:
        of_section.setdefault(one.section, set()).add(one.standing)
    standing = {name: kinds.pop() if len(kinds) == 1 else PARTLY
                for name, kinds in of_section.items()}  # fmt: skip
    for kind, label in (
        (INVENTED, "invented"),
        (PARTLY, "partly invented"),
        (NOT_SAID, "no source given"),
        (SOURCED, "with a source"),
    ):
        names = [one for one in sections if standing.get(one) == kind]
        if kind == NOT_SAID and "target" in names:
            # what is asked for is nobody's finding
            names.remove("target")
            yield "chosen", "target: chosen by ______________________"
        if names:
            yield label, listed(names)
    yield "in full", "case.xlsx, sheet 'Inputs': each value with its source"
