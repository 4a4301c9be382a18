"""Parts of the document on a purchase: what it depends on, and which input matters most."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

import pandas as pd

from surge_sim.equipment.stock import ITEMS, Stock, stock_in_hand
from surge_sim.equipment.stock import money as price_of
from surge_sim.purchase.assumptions import (
    INVENTED,
    NOT_SAID,
    PARTLY,
    SOURCED,
    standing_of_sections,
)
from surge_sim.report.case_life import life_values
from surge_sim.report.case_planner import TO_ADD, can_be_studied
from surge_sim.report.case_words import studied_stock_words
from surge_sim.report.document import Block, Column, Heading, Paragraph, Remark, Rows, Table
from surge_sim.report.input_words import NOT_A_CHOICE, UNDECIDED, is_set_at, path_words
from surge_sim.report.matters_answer import TIMES_CAUTION
from surge_sim.report.rounding import listed, percent
from surge_sim.report.sizing_words import money
from surge_sim.statistics.intervals import Interval
from surge_sim.whatif.inputs import with_spread
from surge_sim.whatif.matters import differs

if TYPE_CHECKING:
    from surge_sim.purchase.beside import Beside
    from surge_sim.purchase.case import PurchaseCase
    from surge_sim.scenario.yaml_text import Path

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
        how = f"The command stands in '{TO_ADD}'."
        if not can_be_studied(case):
            how = (
                "To study them, give an input a range in the scenario, such as "
                "`{low: 8 min, high: 15 min}`, or mark its source as invented."
            )
        yield Paragraph(f"Which of these moves the answer most was not studied. {how}")
        return
    yield Paragraph(study_words(case))
    table, paths, rows = study.tables["inputs"], _paths(case, study), []
    if drawn := _all_drawn(case, study):
        rows.append(drawn)
    # the last row is random variation
    for place in range(min(len(table) - 1, _MOST_INPUTS)):
        path = paths[str(table["input"].iloc[place])]
        likely = table["likely"].iloc[place]
        rows.append(
            (
                path_words(path),
                "" if pd.isna(likely) else str(likely),
                _held_at(path, *_ends(study, place)),
                _both(case, study, place, "service_level", percent),
                _both(case, study, place, "cost", _cost),
            )
        )
    heads = (
        Column("Input", align="left"),
        Column("In the scenario", align="left"),
        Column("Held at", align="left"),
        Column(f"Entries in time, {studied_stock_words(case)}"),
        Column("To buy, by quick search", case.money_unit),
    )
    yield Table(heads, tuple(rows))
    if words := _quick_search(case, study):
        yield Paragraph(words)
    yield Remark("caution", TIMES_CAUTION)


def study_words(case: PurchaseCase) -> str:
    """Return the answer of the study; that money is invented is said at the head."""
    assert case.study is not None
    return case.study.answer.replace(case.currency, case.money_unit)


def first_input_parts(case: PurchaseCase) -> Iterator[Block]:
    """Yield which input to find out before signing, where a study of inputs says so."""
    study = case.study
    first = None if study is None else study.summary.get("measure_first")
    names = [] if study is None else [str(one) for one in study.tables["inputs"]["input"]]
    if study is None or first not in names:
        return
    place = names.index(str(first))
    low, high = _ends(study, place)
    costs = _at_ends(case, study, place, "cost")
    if None not in costs and costs[0] != costs[1] and _is_shown(case, place, "cost"):
        now, then = (
            _bought(case, cost) if _adds(case, study, place, end) else "nothing"
            for cost, end in zip(costs, ("low", "high"), strict=True)
        )
        found = (
            f"At {low} a quick search would buy {now}, at {high} {then}; these sums "
            "are not confirmed: do not compare them with the prices above"
        )
    else:
        now, then = map(percent, _at_ends(case, study, place, "service_level"))
        owned = studied_stock_words(case)
        found = f"At {low} {now} of entries are in time with {owned}, at {high} {then}"
    path = _paths(case, study)[str(first)]
    what = "Look it up in the instructions" if str(path[-1]) in _ON_THE_LABEL else "Measure it"
    yield Paragraph(
        f"Of the inputs that were studied one matters most: {path_words(path)}. {found}. {what} "
        "before you sign: see 'What it depends on'."
    )


def _ends(study: Beside, place: int) -> tuple[str, str]:
    """Return the low and the high value of an input, as they are written."""
    table = study.tables["inputs"]
    return str(table["low"].iloc[place]), str(table["high"].iloc[place])


def _at_ends(case: PurchaseCase, study: Beside, place: int, what: str) -> list[float | None]:
    """Return what comes of an input at its low and at its high value, where that was sought."""
    return [
        case.beside("study", "inputs", place, f"{what}_at_{end}").value
        if f"{what}_at_{end}" in study.tables["inputs"]
        else None
        for end in ("low", "high")
    ]


def _adds(case: PurchaseCase, study: Beside, place: int, end: str) -> bool:
    """Say whether the stock to have at one value of an input is more than the one in hand."""
    hand, table = stock_in_hand(case.scenario.settings), study.tables["inputs"]
    return any(
        table[f"{item.field}_at_{end}"].iloc[place] > item.of(hand) for item in ITEMS.values()
    )


def _is_shown(case: PurchaseCase, place: int, what: str) -> bool:
    """Say whether the study shows that both values of an input differ in what comes of them."""
    low, high = (
        case.beside("study", "inputs", place, f"{what}_difference_{end}").value
        for end in ("low", "high")
    )
    return case.replay is not None or differs(Interval(None, low, high))


def _both(
    case: PurchaseCase, study: Beside, place: int, what: str, write: Callable[[float | None], str]
) -> str:
    """Write what comes of both values of an input; none that may be random variation."""
    low, high = _at_ends(case, study, place, what)
    if low != high and not _is_shown(case, place, what):
        return UNDECIDED
    return f"{write(low)} to {write(high)}"


def _bought(case: PurchaseCase, cost: float | None) -> str:
    return f"for {_cost(cost)} {case.money_unit}" if cost else "parts without a price"


def _cost(amount: float | None) -> str:
    return "none found" if amount is None else money(amount)


def _all_drawn(case: PurchaseCase, study: Beside) -> tuple[str, ...]:
    """Return the row of all inputs drawn from their ranges; empty where the study has none."""
    level, cost = study.summary.get("service_level"), _cost_drawn(case, study)
    if not isinstance(level, int | float):
        return ()
    return "all drawn from their ranges", "", "", percent(level), "" if cost is None else cost


def _cost_drawn(case: PurchaseCase, study: Beside) -> str | None:
    """Return what the search of a study would buy with all inputs drawn from their ranges."""
    told, settings = study.summary.get("stock_to_have"), case.scenario.settings
    if not isinstance(told, dict) or "cost_at_low" not in study.tables["inputs"]:
        return None
    fields = {item.field: item for item in ITEMS.values()}
    stock = Stock(**{name: int(told.get(name, 0)) for name in fields})
    return money(price_of(stock_in_hand(settings), stock, settings.prices))


def _held_at(path: Path, low: str, high: str) -> str:
    """Say the two values of an input; times on a label cannot be chosen."""
    if path[-1] in _ON_THE_LABEL:
        return f"if the label says {low} or {high} ({NOT_A_CHOICE})"
    return f"{low} to {high}" + f" ({NOT_A_CHOICE})" * is_set_at(path)


def _paths(case: PurchaseCase, study: Beside) -> dict[str, Path]:
    """Return where in the scenario each input that was studied stands, by its name."""
    scenario, spread = case.scenario, study.summary.get("spread")
    if isinstance(spread, dict):
        scenario = with_spread(scenario, float(spread["share"])).scenario
    return {one.name: one.path for one in scenario.ranges}


def _quick_search(case: PurchaseCase, study: Beside) -> str:
    """Say what the search of a study is not."""
    cost = _cost_drawn(case, study)
    if cost is None:
        return ""
    asked = money(case.stage(case.sized.place, "cost").value or 0.0)
    return (
        "To buy: found by a quicker search that confirms nothing. Compare these sums with one "
        f"another and with the {cost} of all inputs drawn, not with the {asked} requested, which "
        "is confirmed. Where two values have the same sum, the search, which adds whole lots, "
        "found the same stock for both."
    )


def invented_words(case: PurchaseCase) -> str:
    """Say that a decision would rest on invented numbers; empty where it would not."""
    names = case.invented
    if not names:
        return ""
    of_sections = standing_of_sections(case.scenario, case.assumptions)
    others = [standing for name, standing in of_sections.items() if name not in names]
    made_up = sum(standing in (INVENTED, PARTLY) for standing in others)
    said = f"{listed(names)} {'is' if names == ['stock'] else 'are'} invented"
    if made_up:
        many = "most" if 2 * made_up > len(others) else "some"
        said += f", and so are {many} other inputs, at least in part"
    return f"{said[0].upper()}{said[1:]}: an example, not for a decision."


def _known(case: PurchaseCase) -> Iterator[tuple[str, str]]:
    """Yield the sections of the scenario by how well they are known, and the file on the life."""
    standing = standing_of_sections(case.scenario, case.assumptions)
    values = [] if case.life is None else life_values(case.life)
    invented = sum("invented" in source.lower() for _, _, source in values)
    for kind, label in (
        (INVENTED, "invented"),
        (PARTLY, "partly invented"),
        (NOT_SAID, "no source given"),
        (SOURCED, "with a source"),
    ):
        # a target is chosen: it has no source, and who sets it signs
        names = [
            one for one, found in standing.items()
            if found == kind and not (kind == NOT_SAID and one == "target")
        ]  # fmt: skip
        if kind == INVENTED and values and invented == len(values):
            names.append(f"all {len(values)} values of the file on the life")
        if names:
            behind = " (which values are not, their sources say)" if kind == PARTLY else ""
            yield label, f"{listed(names)}{behind}"
    if values and invented < len(values):
        yield "file on the life", f"{invented} of {len(values)} values are called invented"
    yield "sources", "case.xlsx, sheet 'Inputs': each value with its source"
