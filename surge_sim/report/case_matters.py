"""Parts of the document on a purchase: what it depends on, and which input matters most."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from surge_sim.equipment.stock import ITEMS, Stock
from surge_sim.equipment.stock import money as price_of
from surge_sim.purchase.assumptions import INVENTED, NOT_SAID, PARTLY, SOURCED, sections_of
from surge_sim.report.case_planner import TO_ADD
from surge_sim.report.case_words import hand_words
from surge_sim.report.document import Block, Column, Heading, Paragraph, Remark, Rows, Table
from surge_sim.report.input_words import NOT_A_CHOICE, is_set_at, path_words
from surge_sim.report.matters_answer import TIMES_CAUTION
from surge_sim.report.rounding import NONE, listed, percent
from surge_sim.report.sizing_words import money

if TYPE_CHECKING:
    from surge_sim.purchase.beside import Beside
    from surge_sim.purchase.case import PurchaseCase

#: rows of the table of inputs
_MOST_INPUTS = 5
#: times that a label and the instructions of the manufacturer set
_ON_THE_LABEL = ("contact_time", "drying_time")


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
        name = str(table["input"].iloc[place])
        values = _held_at(name, str(table["low"].iloc[place]), str(table["high"].iloc[place]))
        told = (NONE if one is None else money(one) for one in prices)
        rows.append(
            (
                path_words(_path(name)), values, " to ".join(map(percent, ends)),
                " to ".join(told),
            )
        )  # fmt: skip
    heads = (
        Column("Input", align="left"),
        Column("Held at", align="left"),
        Column(f"Entries in time, {hand_words(case)}"),
        Column("To buy, by quick search", case.money_unit),
    )
    yield Table(heads, tuple(rows))
    if words := _quick_search(case, study):
        yield Paragraph(words)
    yield Remark("caution", TIMES_CAUTION)


def _held_at(name: str, low: str, high: str) -> str:
    """Say the two values of an input; times on a label cannot be chosen."""
    if name.rpartition(".")[2] in _ON_THE_LABEL:
        return f"if the label says {low} or {high} ({NOT_A_CHOICE})"
    return f"{low} to {high}" + f" ({NOT_A_CHOICE})" * is_set_at(_path(name))


def _path(name: str) -> list[str | int]:
    return [int(step) if step.isdigit() else step for step in name.split(".")]


def _quick_search(case: PurchaseCase, study: Beside) -> str:
    """Say what the search of a study finds with all inputs drawn, and what it is not."""
    told, settings = study.summary.get("stock_to_have"), case.scenario.settings
    if not isinstance(told, dict) or "cost_at_low" not in study.tables["inputs"]:
        return ""
    fields = {item.field: item for item in ITEMS.values()}
    stock = Stock(**{name: int(told.get(name, 0)) for name in fields})
    cost = money(price_of(case.sized.in_hand, stock, settings.prices))
    asked = money(case.stage(case.sized.place, "cost").value or 0.0)
    return (
        f"To buy: by a quicker search that confirms nothing. With all inputs drawn from their "
        f"ranges it finds {cost} {case.money_unit}. Compare these sums with one another and with "
        f"{cost}, not with {asked}, which is confirmed."
    )


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
            # a target is chosen, so it has no source
            names.remove("target")
            yield "chosen", "target: chosen by ______________________"
        if names:
            yield label, listed(names)
    yield "in full", "case.xlsx, sheet 'Inputs': each value with its source"
