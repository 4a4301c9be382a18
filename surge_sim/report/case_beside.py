"""Parts of the document on a purchase: alternatives that were compared."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, NamedTuple

import pandas as pd

from surge_sim.cautions import RULES_CAUTION
from surge_sim.errors import echo
from surge_sim.report.case_planner import TO_ADD
from surge_sim.report.case_stages import count
from surge_sim.report.case_words import hand_words
from surge_sim.report.document import Block, Column, Heading, Paragraph, Remark, Rows, Table
from surge_sim.report.phrases import plays_name
from surge_sim.report.rounding import NONE, limit_number, listed, number, percent_number
from surge_sim.report.sizing_words import money
from surge_sim.statistics.intervals import clopper_pearson
from surge_sim.units import share_text

if TYPE_CHECKING:
    from surge_sim.purchase.beside import Beside
    from surge_sim.purchase.case import PurchaseCase

#: rows of the tables, and characters of a name in one and of what it changes
_MOST_CHOICES, _MOST_NAME, _MOST_CHANGES = 8, 40, 120
_STRESS = "stress"
_ALLOWED = (
    "These counts confirm no target; what each rule relaxes stands below the table. Only "
    "the manufacturer's instructions, the respiratory protection program and local codes can allow "
    "that; until they do, no rule is an alternative to buying. If they do, size the scenario with "
    "the rule in it."
)
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
    rules = [one for one in choices if one.sort != _STRESS][: _MOST_CHOICES + 1]
    rows = rules + [one for one in choices if one.sort == _STRESS][:_MOST_CHOICES]
    heads = (
        Column(f"With {hand_words(case)}", align="left"),
        Column(f"On target, of {_surges(case)}"),
        Column("Entries in time", "%"),
        Column("Hours waited"),
        Column("Late urgent"),
        Column("Worst day", "%"),
        Column("Alarms in 1,000"),
        Column("To pay"),
    )
    yield Table(heads, tuple(_row(case, one) for one in rows))
    yield Paragraph(
        f"Simulated on {_surges(case)} {plays_name(case.replay)} that are not those above. * better"
        " and ! worse than as it is beyond random variation, all of these together with 95 % "
        f"confidence. Worst day: entries in time on it. To pay: in {case.money_unit}; s: in each "
        "surge; ?: something in it has no price."
    )
    if free := [one for one in rules if one.free and not one.is_base]:
        yield Rows(tuple((echo(one.name, _MOST_NAME), relaxed_words(one)) for one in free))
    yield Remark("caution", RULES_CAUTION)


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
    paid += [f"{money(again)} s"] if again else []
    if not one.free and not paid:
        paid = ["?"]
    marks = {"better": "*", "worse": "!"}

    def shown(measure: str, words: str) -> str:
        return f"{words}{marks.get(one.findings.get(measure, ''), '')}"

    name = echo(one.name, _MOST_NAME)
    stress, worst = one.sort == _STRESS, "worst_day_service_level"
    met = count(case.beside("comparison", "alternatives", one.place, "surges_on_target"))
    return (
        f"stress: {name}" if stress else name,
        shown("share_on_target", met),
        shown("service_level", percent_number(_told(case, one, "service_level"))),
        shown("hours_waited", number(_told(case, one, "hours_waited"))),
        shown("urgent_late", number(_told(case, one, "urgent_late"))),
        shown("worst_day_service_level", percent_number(_told(case, one, worst))),
        shown("alarms_per_1000", number(_told(case, one, "alarms_per_1000"))),
        NONE if one.is_base or stress else " + ".join(paid) or "0",
    )


def _found(one: Choice, finding: str) -> list[str]:
    return [name for name, found in one.findings.items() if found == finding]


def listed_measures(names: list[str]) -> str:
    """Return measures of a comparison in words; empty for none."""
    return listed([_MEASURES.get(name, name) for name in names]) if names else ""


def alternative_words(case: PurchaseCase) -> str:
    """Say how rules that cost nothing do, and that only others than this count can allow them."""
    assert case.comparison is not None
    asked = share_text(case.target.share_of_surges)
    choices = choices_of(case.comparison)
    free = [
        one
        for one in choices
        if one.free and not one.is_base and not one.other_times and one.sort != _STRESS
    ]
    if not free:
        return "None of the alternatives that were compared costs nothing."

    def met(one: Choice) -> float:
        return _told(case, one, "surges_on_target")

    base, plays, owned = choices[0], plays_name(case.replay), hand_words(case)
    if max(map(met, free)) <= met(base):
        best = min(free, key=lambda one: _told(case, one, "hours_waited"))
        hours, now = (number(_told(case, one, "hours_waited")) for one in (best, base))
        return (
            f"No alternative that costs nothing met the target more often than {owned} as it is: "
            f"in {_met_words(case, base, plays)}, where {asked} are asked for. Fewest hours are "
            f'waited with "{best.name}": {hours} h instead of {now} h. {_ALLOWED}'
        )
    # what is worse for urgent entries is not named first
    careful = [one for one in free if one.findings.get("urgent_late") != "worse"]
    most = max(free, key=met)
    best = max(careful, key=met) if careful else most
    if met(best) <= met(base):
        best = most
    kind = "that cost nothing and are not shown to be worse for urgent entries"
    among = kind if best in careful else "that cost nothing"
    said = (
        f'Of the rules {among}, "{best.name}" met the target most often, in other surges than the '
        f"stages: with {owned} in {_met_words(case, best, plays)}, without it in "
        f"{_met_words(case, base)}, where {asked} are asked for."
    )
    if met(most) > met(best):
        said += f' "{most.name}" met it in {_met_words(case, most)}, and is worse in '
        said += f"{listed_measures(_found(most, 'worse'))}."
    worse = listed_measures(_found(best, "worse"))
    said += f' "{best.name}" is worse in {worse}.' if worse else ""
    return f"{said} {_ALLOWED}"
