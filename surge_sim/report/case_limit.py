"""The lower limit of the requested stock, worked out again in a sheet by halving an interval.

The formula is that of ``columns.txt``: the largest p for which the sum over blocks of
s ln(1 + u (1-p)/p) + m ln(1-u) is at least ln(1/alpha).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from surge_sim.report.case_sheet import Formula, add_sheet
from surge_sim.sizing.betting import block_ends

if TYPE_CHECKING:
    from openpyxl.workbook import Workbook

    from surge_sim.purchase.case import PurchaseCase

#: halvings of the interval from 0 to 1
_HALVINGS = 40


def blocks_of(text: str) -> list[tuple[int, int]]:
    """Read ``271 of 300; 434 of 500``: surges on target and surges, by block."""
    return [
        (int(part.split(" of ")[0]), int(part.split(" of ")[1]))
        for part in text.split("; ")
        if " of " in part
    ]


def limit_sheet(book: Workbook, case: PurchaseCase) -> None:
    """Add the sheet, where the sizing claims a limit: not for a recorded period."""
    if case.replay is not None:
        return
    tested, stages = case.sized.tables["tested"], case.sized.tables["stages"]
    place = case.sized.place
    blocks = blocks_of(str(stages["on_target_by_block"].iloc[place]))
    alpha, asked = float(tested["alpha"].iloc[0]), float(tested["required_share"].iloc[0])
    rows: list[tuple[Any, ...]] = [
        ("required share (0..1)", asked),
        ("chance of error (0..1)", alpha),
        ("ln(1/alpha)", Formula("LN(1/B3)")),
        ("lower limit, as the sizing tells it (0..1)", float(stages["low"].iloc[place])),
        ("lower limit, worked out below (0..1)", None),
        ("difference", Formula("B6-B5")),
        ("block", "on target (count)", "others (count)", "end of the block (surge)", "u"),
    ]
    ends = block_ends(sum(surges for _, surges in blocks))
    for number, (met, surges) in enumerate(blocks):
        row = len(rows) + 2
        end = ends[number]
        risk = Formula(f"MIN(0.75,SQRT(2*LN(1/$B$3)*$B$2/((1-$B$2)*D{row})))")
        rows.append((f"block {number + 1}", met, surges - met, end, risk))
    first, last = len(rows) + 2 - len(blocks), len(rows) + 1
    rows.append(("halving", "from", "to", "middle", "log stake there, less ln(1/alpha)"))
    for number in range(_HALVINGS):
        row = len(rows) + 2
        before = row - 1
        low: Any = Formula(f"IF(E{before}>=0,D{before},B{before})") if number else 0
        high: Any = Formula(f"IF(E{before}>=0,C{before},D{before})") if number else 1
        won = f"SUMPRODUCT(B{first}:B{last},LN(1+E{first}:E{last}*(1-D{row})/D{row}))"
        lost = f"SUMPRODUCT(C{first}:C{last},LN(1-E{first}:E{last}))"
        rows.append(
            (number + 1, low, high, Formula(f"(B{row}+C{row})/2"), Formula(f"{won}+{lost}-$B$4"))
        )
    rows[4] = (rows[4][0], Formula(f"D{len(rows) + 1}"))
    heads = ("Limit of the share of surges on target", "Number", "", "", "")
    add_sheet(book, "Limit", heads, rows, (44, 20, 20, 24, 34))
