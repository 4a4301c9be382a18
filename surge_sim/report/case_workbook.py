"""The case for a purchase as a workbook: typed numbers, and formulas that work them out again."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from io import BytesIO
from typing import TYPE_CHECKING, Any

import pandas as pd

from surge_sim.cautions import CAUTION
from surge_sim.equipment.stock import EXTRA, ITEMS
from surge_sim.plain import visible
from surge_sim.purchase.request import on_shelf
from surge_sim.report.case_beside_sheets import beside_sheets, checklist_sheet
from surge_sim.report.case_document import answer_words, invented_parts
from surge_sim.report.case_life_sheets import life_sheets
from surge_sim.report.case_limit import limit_sheet
from surge_sim.report.case_sheet import Formula, add_sheet, letter
from surge_sim.report.case_words import sized_parts
from surge_sim.report.word_file import same_bytes

if TYPE_CHECKING:
    from openpyxl.workbook import Workbook

    from surge_sim.purchase.case import Cell, PurchaseCase


def case_workbook(case: PurchaseCase) -> bytes:
    """Return the case as an .xlsx file; the same case is the same file."""
    from openpyxl import Workbook

    book = Workbook()
    book.remove(book.worksheets[0])
    _read_me(book, case)
    _request(book, case)
    _stages(book, case)
    _doing_nothing(book, case)
    _used(book, case)
    life_sheets(book, case)
    beside_sheets(book, case)
    _evidence(book, case)
    limit_sheet(book, case)
    _inputs(book, case)
    _where_from(book, case)
    checklist_sheet(book, case)
    _data(book, "Same surges", case.same_surges)
    _data(book, "Used by surge", case.used_by_surge)
    _data(book, "Used in hand", case.used_in_hand)
    # whoever opens it works the formulas out
    book.calculation.fullCalcOnLoad = True
    book.properties.creator = "surge-sim"
    book.properties.title = visible(case.scenario.settings.title)[:250]
    data = BytesIO()
    book.save(data)
    return same_bytes(data.getvalue())


def _read_me(book: Workbook, case: PurchaseCase) -> None:
    rows: list[tuple[str, Any]] = [
        ("scenario", case.scenario.settings.title),
        ("answer", answer_words(case)),
        *((one.kind, one.text) for one in (*sized_parts(case), *invented_parts(case))),
        ("currency", case.currency),
        ("random seed", case.sized.seed),
        ("release", case.sized.tool),
        *(("warning", note) for note in case.notes),
        ("caution", CAUTION),
    ]
    add_sheet(book, "Read me", ("What", "Text or number"), rows, (20, 110))


def _request(book: Workbook, case: PurchaseCase) -> None:
    sized, prices, money = case.sized, case.scenario.settings.prices, case.currency
    rows: list[Sequence[Any]] = []
    for name, item in ITEMS.items():
        row, shelf = len(rows) + 2, on_shelf(case.scenario.settings, name)
        rows.append(
            (
                item.several or name.replace("_", " "), item.of(sized.in_hand) + shelf,
                item.of(sized.proposed) + shelf, Formula(f"C{row}-B{row}"), item.lot(prices),
                item.lot_price(prices), Formula(f"ROUNDUP(MAX(D{row},0)/E{row},0)*F{row}"),
                "each surge" if name == "cleaners" else "once",
            )
        )  # fmt: skip
    last = len(rows) + 1
    for label in ("once", "each surge"):
        total = Formula(f'SUMIF(H2:H{last},"{label}",G2:G{last})')
        rows.append((f"in all, paid {label}", None, None, None, None, None, total, label))
    heads = (
        "Item", "In hand (count)", "Then (count)", "To buy (count)", "Sold by (count)",
        f"Price of one lot ({money})", f"Price ({money})", "Paid",
    )  # fmt: skip
    add_sheet(book, "Request", heads, rows)


def _stages(book: Workbook, case: PurchaseCase) -> None:
    table, money = case.sized.tables["stages"], case.currency
    columns = {
        "stage": "Stage", "bought": "Bought", "recommended": "Requested", "kits": "Kits (count)",
        "batteries": "Batteries (count)", "bays": "Bays (count)", "cost": f"Cost ({money})",
        "surges": "New surges (count)", "surges_on_target": "On target (count)",
        "low": "Lower limit (0..1)", "high": "Upper limit (0..1)", "verdict": "Verdict",
        "entries": "Entries per surge", "late": "Late entries per surge",
        "hours_waited": "Hours waited per surge (h)",
        "worst_day_share_late": "Late on the worst day (0..1)",
    }  # fmt: skip
    rows = []
    for place in range(len(table)):
        row = place + 2
        share = Formula(f"I{row}/H{row}")
        late = Formula(f"IF(M{row}=0,0,N{row}/M{row})")
        more = Formula(f"G{row}-G{row - 1}") if place else 0
        rows.append((*(table[name].iloc[place] for name in columns), share, late, more))
    extra = ("Share on target (0..1)", "Share late (0..1)", f"More than the stage before ({money})")
    add_sheet(book, "Stages", (*columns.values(), *extra), rows)


def _doing_nothing(book: Workbook, case: PurchaseCase) -> None:
    table, same = case.doing_nothing, case.same_surges
    last, columns = len(same) + 1, list(same.columns)
    rows = []
    for place, measure in enumerate(table["measure"]):
        now, then = (
            Formula(f"AVERAGE('Same surges'!{at}2:{at}{last})")
            for at in (letter(columns, f"{stock}_{measure}") for stock in ("in_hand", "proposed"))
        )
        row = place + 2
        limits = (table[name].iloc[place] for name in ("difference_low", "difference_high"))
        spread = (
            Formula(f"{function}('Same surges'!{at}2:{at}{last})")
            for at in (letter(columns, f"{stock}_{measure}") for stock in ("in_hand", "proposed"))
            for function in ("MEDIAN", "MAX")
        )
        change = Formula(f"D{row}-C{row}")
        rows.append((measure, table["unit"].iloc[place], now, then, change, *limits, *spread))
    heads = (
        "Measure", "Unit", "Stock in hand (mean per surge)", "As requested (mean per surge)",
        "Change", "Lower 95 % limit of the change", "Upper 95 % limit of the change",
        "Stock in hand, median", "Stock in hand, worst surge", "As requested, median",
        "As requested, worst surge",
    )  # fmt: skip
    add_sheet(book, "Doing nothing", heads, rows)


def _used(book: Workbook, case: PurchaseCase) -> None:
    table, by_surge = case.used, case.used_by_surge
    last, columns = len(by_surge) + 1, list(by_surge.columns)
    rows = []
    for place, what in enumerate(table["what"]):
        at = letter(columns, what)
        cells = f"'Used by surge'!{at}2:{at}{last}"
        told = (table[name].iloc[place] for name in ("enough", "enough_low", "enough_high"))
        worked_out = (Formula(f"{name}({cells})") for name in ("AVERAGE", "MIN", "MEDIAN", "MAX"))
        now = Formula(f"AVERAGE('Used in hand'!{at}2:{at}{last})")
        rows.append((what, table["unit"].iloc[place], *worked_out, *told, now))
    share = f"{100 * case.target.share_of_surges:g} %"
    heads = (
        "What, with the stock requested", "Unit", "Mean per surge", "Least", "Median", "Most",
        f"No more in {share} of surges", "Lower 95 % limit of it", "Upper 95 % limit of it",
        "Stock in hand, mean per surge",
    )  # fmt: skip
    add_sheet(book, "Used per surge", heads, rows)


def _evidence(book: Workbook, case: PurchaseCase) -> None:
    table = case.sized.tables["tested"]
    columns = {
        "kits": "Kits (count)", "batteries": "Batteries (count)", "bays": "Bays (count)",
        "cost": f"Cost ({case.currency})", "test": "Tested as",
        "required_share": "Required share (0..1)", "alpha": "Chance of error (0..1)",
        "surges": "New surges (count)", "surges_on_target": "On target (count)",
        "on_target_by_block": "On target by block", "low": "Lower limit (0..1)",
        "high": "Upper limit (0..1)", "verdict": "Verdict",
        # stocks may differ in parts and cleaners alone
        **{
            f"extra_{name}": f"Extra {ITEMS[name].several or name} (count)"
            for name in EXTRA if f"extra_{name}" in table
        },
    }  # fmt: skip
    rows = [
        (*(table[name].iloc[place] for name in columns), Formula(f"I{place + 2}/H{place + 2}"))
        for place in range(len(table))
    ]
    add_sheet(book, "Evidence", (*columns.values(), "Share on target (0..1)"), rows)


def _inputs(book: Workbook, case: PurchaseCase) -> None:
    rows = [
        (one.name, one.value, "in the file" if one.written else "default", one.standing, one.source)
        for one in case.assumptions
    ]
    heads = ("Input", "Value, with its unit", "Section", "How well known", "Source")
    add_sheet(book, "Inputs", heads, rows, (40, 40, 14, 16, 90))


def traced(case: PurchaseCase) -> Iterator[tuple[str, Cell]]:
    """Yield each number that document and workbook tell, with its name and its place in a file."""
    stages = case.sized.tables["stages"]
    for place in range(len(stages)):
        for column in stages.select_dtypes("number").columns:
            if column != "stage":
                yield f"stage {place}: {column}", case.stage(place, column)
    for measure in case.doing_nothing["measure"]:
        for column in case.doing_nothing.select_dtypes("number").columns:
            yield f"doing nothing: {measure}, {column}", case.nothing(measure, column)
    for what in case.used["what"]:
        for column in case.used.select_dtypes("number").columns:
            yield f"used per surge: {what}, {column}", case.use(what, column)
    waiting = case.sized.tables["cause_of_waiting_in_hand"]
    for place, cause in enumerate(waiting["cause_of_waiting"]):
        for column in ("hours_per_surge", "share"):
            yield f"waiting in hand: {cause}, {column}", case.waited_for(place, column)
    near, tested = case.sized.next_cheaper_no_stage, case.sized.tables["tested"]
    if near is not None:
        for column in tested.select_dtypes("number").columns:
            yield f"nearest cheaper stock tested: {column}", case.tested(near, column)
    own = ("request", "waiting_by_item")
    tables = {"higher_demand": case.demand, **{name: case.tables[name] for name in own}}
    if case.more is not None:
        tables["ready_for_more"] = case.tables["ready_for_more"]
    if case.life is not None:
        told = {name: one for name, one in case.life.tables.items() if name != "life_by_surge"}
        tables |= told
    for name, table in tables.items():
        for place in range(len(table)):
            label = str(table[table.columns[0]].iloc[place])
            for column in table.select_dtypes("number").columns:
                yield f"{name.replace('_', ' ')}: {label}, {column}", case.of(name, place, column)
    for beside in filter(None, (case.comparison, case.study)):
        for name, table in beside.tables.items():
            for place in range(len(table)):
                label = str(table[table.columns[0]].iloc[place])
                for column in table.select_dtypes("number").columns:
                    cell = case.beside(beside.sort, name, place, column)
                    yield f"{name}: {label}, {column}", cell


def _where_from(book: Workbook, case: PurchaseCase) -> None:
    rows = [
        (name, cell.value, cell.file, cell.row, cell.column)
        for name, cell in traced(case)
        if cell.value is not None
    ]
    heads = ("Number", "Value", "File", "Row (the header is row 1)", "Column")
    add_sheet(book, "Where from", heads, rows, (50, 14, 40, 14, 30))


def _data(book: Workbook, name: str, table: pd.DataFrame) -> None:
    add_sheet(book, name, list(table.columns), table.itertuples(index=False))
