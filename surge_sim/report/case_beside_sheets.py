"""Sheets of the workbook on what stands beside the sizing, and the reporting checklist."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from surge_sim.report.case_checklist import SOURCE, checklist
from surge_sim.report.case_sheet import Formula, add_sheet, letter

if TYPE_CHECKING:
    import pandas as pd
    from openpyxl.workbook import Workbook

    from surge_sim.purchase.case import PurchaseCase

_INPUTS = {
    "input": "Input", "low": "Low value", "likely": "Most likely value", "high": "High value",
    "service_level_at_low": "Entries in time at low (0..1)",
    "service_level_at_high": "Entries in time at high (0..1)",
    "share_on_target_at_low": "Surges on target at low (0..1)",
    "share_on_target_at_high": "Surges on target at high (0..1)",
    "cost_at_low": "To buy at low ({money})", "cost_at_high": "To buy at high ({money})",
    "value_of_information": "Worth knowing ({money})",
    "total_order": "Share of variance, in all (0..1)",
}  # fmt: skip
_ALTERNATIVES = {
    "alternative": "Alternative", "kind": "Kind", "surges": "Surges (count)",
    "surges_on_target": "On target (count)", "service_level": "Entries in time (0..1)",
    "hours_waited": "Hours waited per surge (h)", "urgent_late": "Late urgent entries per surge",
    "worst_day_service_level": "In time on the worst day (0..1)", "purchase": "Paid once ({money})",
    "paid_per_surge": "Paid each surge ({money})", "without_a_price": "Without a price",
    "assumes": "Assumes", "changes": "Changes",
}  # fmt: skip
_DIFFERENCES = {
    "alternative": "Alternative", "measure": "Measure", "base": "As it is", "value": "With it",
    "low": "Lower limit of the change", "high": "Upper limit of the change", "finding": "Finding",
}  # fmt: skip
_DEMAND = {
    "more_patients": "More patients (0..1)", "stock": "Stock", "surges": "Surges (count)",
    "surges_on_target": "On target (count)",
    "low": "Lower 95 % limit (0..1), of a fixed number of surges: narrower than in Stages",
    "high": "Upper 95 % limit (0..1), likewise", "entries": "Entries per surge",
    "late": "Late entries per surge", "hours_waited": "Hours waited per surge (h)",
}  # fmt: skip
_READY = {
    "more_patients": "More patients (0..1)", "bought": "To buy", "kits": "Kits in all (count)",
    "batteries": "Batteries in all (count)", "bays": "Bays in all (count)",
    "surges": "New surges with so many (count)", "surges_on_target": "On target (count)",
    "low": "Lower limit (0..1)", "high": "Upper limit (0..1)", "verdict": "Verdict",
    "cost": "Cost, with one surge ({money})", "cost_requested": "Cost of the request ({money})",
}  # fmt: skip


def beside_sheets(book: Workbook, case: PurchaseCase) -> None:
    """Add sheets on more patients, alternatives and inputs, where there are any."""
    if not case.demand.empty:
        rows = _rows(case.demand, _DEMAND)
        shares = [
            (*row, Formula(f"D{number}/C{number}"),
             Formula(f"IF(G{number}=0,0,H{number}/G{number})"))
            for number, row in enumerate(rows, 2)
        ]  # fmt: skip
        heads = (*_DEMAND.values(), "Share on target (0..1)", "Share late (0..1)")
        add_sheet(book, "More patients", heads, shares)
    if case.more is not None:
        table = case.tables["ready_for_more"]
        extra = (Formula("G2/F2"), Formula("K2-L2"))
        heads = (
            *_heads(case, table, _READY), "Share on target (0..1)",
            f"More than requested ({case.currency})",
        )  # fmt: skip
        add_sheet(book, "Ready for more", heads, [(*_rows(table, _READY)[0], *extra)])
    if case.comparison is not None:
        _compared(book, case, case.comparison.tables)
    if case.study is not None:
        table = case.study.tables["inputs"]
        add_sheet(book, "Matters", _heads(case, table, _INPUTS), _rows(table, _INPUTS))


def checklist_sheet(book: Workbook, case: PurchaseCase) -> None:
    """Add the reporting checklist, filled in."""
    heads = ("Item", "Asks for", "Said")
    rows = (*checklist(case), ("", "Source", SOURCE))
    add_sheet(book, "Checklist", heads, rows, (8, 28, 110))


def _compared(book: Workbook, case: PurchaseCase, tables: Mapping[str, pd.DataFrame]) -> None:
    table = tables["alternatives"]
    columns = [one for one in _ALTERNATIVES if one in table]
    met, surges, hours = (
        letter(columns, one) for one in ("surges_on_target", "surges", "hours_waited")
    )
    rows = [
        (*row, Formula(f"{met}{number}/{surges}{number}"), Formula(f"{hours}{number}-{hours}$2"))
        for number, row in enumerate(_rows(table, _ALTERNATIVES), 2)
    ]
    heads = (
        *_heads(case, table, _ALTERNATIVES), "Share on target (0..1)",
        "Hours waited, less as it is (h)",
    )  # fmt: skip
    add_sheet(book, "Alternatives", heads, rows)
    limits = tables["differences"]
    changes = [
        (*row, Formula(f"D{number}-C{number}"))
        for number, row in enumerate(_rows(limits, _DIFFERENCES), 2)
    ]
    heads = (*_heads(case, limits, _DIFFERENCES), "Change, with it less as it is")
    add_sheet(book, "Alternatives, changes", heads, changes)


def _heads(case: PurchaseCase, table: pd.DataFrame, columns: Mapping[str, str]) -> tuple[str, ...]:
    said = (head for name, head in columns.items() if name in table)
    return tuple(head.replace("{money}", case.currency) for head in said)


def _rows(table: pd.DataFrame, columns: Mapping[str, str]) -> list[Sequence[object]]:
    names = [name for name in columns if name in table]
    return [tuple(table[name].iloc[place] for name in names) for place in range(len(table))]
