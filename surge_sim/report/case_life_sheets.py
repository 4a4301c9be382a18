"""Sheets of the workbook on the life of the equipment: formulas that work it out again.

They read how much is used from the sheets of single surges, and everything else from the sheet of
what was put in.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

from surge_sim.purchase.life import REPLACED, USED_UP, WAITING, YEARLY
from surge_sim.report.case_life import LINES, life_values
from surge_sim.report.case_sheet import Formula, add_sheet, letter

if TYPE_CHECKING:
    from openpyxl.workbook import Workbook

    from surge_sim.purchase.case import PurchaseCase
    from surge_sim.purchase.life import Life

#: rows of the numbers that formulas read, on the sheet of what was put in
_YEARS, _SURGES, _ORDINARY, _INTEREST = (f"'Life inputs'!$B${row}" for row in (2, 3, 4, 5))
#: moments that differ by rounding only are the same [years]
_ROUNDING = "1E-9"
_HEADS = ("In hand", "As requested")


def life_sheets(book: Workbook, case: PurchaseCase) -> None:
    """Add the sheets, where a file says how long things last."""
    if case.life is None:
        return
    _sums(book, case, case.life)
    _inputs(book, case.life)
    _things(book, case, case.life)
    _replaced(book, case, case.life)
    _lines(book, case, case.life)
    _years(book, case, case.life)
    _by_surge(book, case, case.life)


def _inputs(book: Workbook, life: Life) -> None:
    file = life.inputs.file
    ordinary, interest = file.ordinary_entries, file.interest
    rows: list[Sequence[Any]] = [
        ("years", int(file.years.value), "years", file.years.source),
        ("surges", file.surges_per_year.value, "per year", file.surges_per_year.source),
        (
            "entries outside surges", 0 if ordinary is None else ordinary.value, "per year",
            "none said" if ordinary is None else ordinary.source,
        ),
        (
            "interest", None if interest is None else interest.value, "per year (0..1)",
            "none said" if interest is None else interest.source,
        ),
    ]  # fmt: skip
    rows += [(name, value, "as written", source) for name, value, source in life_values(life)]
    heads = ("Put in", "Value", "Unit", "Source")
    add_sheet(book, "Life inputs", heads, rows, (44, 24, 18, 80))


def _per_year(case: PurchaseCase, what: str, in_hand: bool) -> str:
    """Return the formula of what is used in a year: in surges, and outside by the entry."""
    used = case.used_by_surge
    last, columns = len(used) + 1, list(used.columns)
    at, entries = letter(columns, what), letter(columns, "entries")
    mine = "Used in hand" if in_hand else "Used by surge"
    here, usual, all_entries = (
        f"'{sheet}'!{column}2:{column}{last}"
        for sheet, column in ((mine, at), ("Used by surge", at), ("Used by surge", entries))
    )
    return (
        f"{_SURGES}*AVERAGE({here})"
        f"+IF(SUM({all_entries})=0,0,{_ORDINARY}*SUM({usual})/SUM({all_entries}))"
    )


def _things(book: Workbook, case: PurchaseCase, life: Life) -> None:
    table, rows = life.things, []
    names = ("thing", "price", "count_in_hand", "count_proposed", "years", "full_charges",
             "age_in_hand")  # fmt: skip
    for place in range(len(table)):
        row = place + 2
        charges: tuple[Any, Any] = (0, 0)
        if table["thing"].iloc[place] == "batteries":
            charges = (
                Formula(_per_year(case, "full_charges", True)),
                Formula(_per_year(case, "full_charges", False)),
            )
        lasts = (
            f'IF(OR(F{row}="",{used}{row}=0,{count}{row}=0),E{row},'
            f"MIN(E{row},F{row}*{count}{row}/{used}{row}))"
            for count, used in (("C", "H"), ("D", "I"))
        )
        in_all = (
            f"C{row}*MAX(ROUNDUP(({_YEARS}-MAX({life_of}{row}-G{row},0))/{life_of}{row}"
            f"-{_ROUNDING},0),0)"
            f"+({count}{row}-C{row})*MAX(ROUNDUP(({_YEARS}-{life_of}{row})/{life_of}{row}"
            f"-{_ROUNDING},0),0)"
            for count, life_of in (("C", "J"), ("D", "K"))
        )
        told = (table[name].iloc[place] for name in names)
        rows.append((*told, *charges, *map(Formula, lasts), *map(Formula, in_all)))
    heads = (
        "Thing", f"Price of one ({case.currency})", "In hand (count)", "As requested (count)",
        "Life by age (years)", "Life by use (full charges)", "Age of those in hand (years)",
        "Full charges a year, in hand", "Full charges a year, as requested",
        "Lasts, in hand (years)", "Lasts, as requested (years)", "Replaced in all, in hand (count)",
        "Replaced in all, as requested (count)",
    )  # fmt: skip
    add_sheet(book, "Life things", heads, rows)


def _replaced(book: Workbook, case: PurchaseCase, life: Life) -> None:
    """What is replaced when; the sheet 'Life years' works the numbers out again."""
    table, rows = life.replaced, []
    for place in range(len(table)):
        row = place + 2
        told = (table[name].iloc[place] for name in (
            "thing", "year", "counted", "price", "number_in_hand", "number_proposed",
        ))  # fmt: skip
        costs = (Formula(f"D{row}*{one}{row}") for one in ("E", "F"))
        rows.append((*told, *costs, Formula(f"H{row}-G{row}")))
    money = case.currency
    heads = (
        "Thing", "Year in which its life is over", "Counted in the sums",
        f"Price of one ({money})", "Replaced, in hand (count)", "Replaced, as requested (count)",
        f"Cost, in hand ({money})", f"Cost, as requested ({money})", f"Change ({money})",
    )  # fmt: skip
    add_sheet(book, "Life replaced", heads, rows)


def _lines(book: Workbook, case: PurchaseCase, life: Life) -> None:
    lines, things = life.lines, life.things["thing"].tolist()
    same, rows = list(case.same_surges.columns), []
    last = len(case.same_surges) + 1
    for place in range(len(lines)):
        row = place + 2
        name, sort, unit, source = (
            str(lines[column].iloc[place]) for column in ("line", "kind", "unit", "source")
        )
        numbers: list[Any] = [lines[f"number_{one}"].iloc[place] for one in ("in_hand", "proposed")]
        if sort == REPLACED:
            thing = things.index(unit) + 2
            numbers = [Formula(f"'Life things'!{column}{thing}") for column in ("L", "M")]
        elif sort == YEARLY and unit in things:
            thing = things.index(unit) + 2
            numbers = [Formula(f"'Life things'!{column}{thing}") for column in ("C", "D")]
        elif sort == USED_UP and name in case.used_by_surge:
            numbers = [Formula(_per_year(case, name, in_hand)) for in_hand in (True, False)]
        elif sort == USED_UP:
            counts = (case.sized.in_hand.extra_cleaners, case.sized.proposed.extra_cleaners)
            numbers = [Formula(f"{one}*{_SURGES}") for one in counts]
        elif sort == WAITING:
            at = [letter(same, f"{one}_hours_waited") for one in ("in_hand", "proposed")]
            numbers = [
                Formula(f"{_SURGES}*AVERAGE('Same surges'!{one}2:{one}{last})") for one in at
            ]
        times: Any = Formula(_YEARS) if sort in (USED_UP, YEARLY, WAITING) else 1
        costs = (Formula(f'IF(D{row}="",0,D{row}*{one}{row}*G{row})') for one in ("E", "F"))
        rows.append(
            (
                LINES.get(name, name.replace("_", " ")), sort, unit, lines["price"].iloc[place],
                *numbers, times, *costs, Formula(f"I{row}-H{row}"),
                *_one_surge(case, name, sort, row), source,
            )
        )  # fmt: skip
    money = case.currency
    heads = (
        "Line of cost", "Kind", "Unit", f"Price of one ({money})", "Number, in hand (unit)",
        "Number, as requested (unit)", "Times (years, or once)", f"Cost, in hand ({money})",
        f"Cost, as requested ({money})", f"Change ({money})",
        f"In one surge, in hand, mean ({money})", f"In one surge, as requested, mean ({money})",
        "Source",
    )  # fmt: skip
    add_sheet(book, "Life lines", heads, rows)


def _one_surge(case: PurchaseCase, name: str, sort: str, row: int) -> Iterator[Any]:
    """Yield what is used up of a line in one surge with either stock, in money."""
    columns, last = list(case.used_by_surge.columns), len(case.used_by_surge) + 1
    counts = (case.sized.in_hand.extra_cleaners, case.sized.proposed.extra_cleaners)
    for count, sheet in zip(counts, ("Used in hand", "Used by surge"), strict=True):
        if sort != USED_UP:
            yield None
            continue
        at = letter(columns, name) if name in columns else ""
        of = f"AVERAGE('{sheet}'!{at}2:{at}{last})" if at else f"{count}"
        yield Formula(f'IF(D{row}="","",D{row}*{of})')


def _of_sort(life: Life, sort: str, column: str) -> str:
    last = len(life.lines) + 1
    return f"SUMIF('Life lines'!$B$2:$B${last},\"{sort}\",'Life lines'!{column}$2:{column}${last})"


def _years(book: Workbook, case: PurchaseCase, life: Life) -> None:
    rows, things = [], range(2, len(life.things) + 2)
    for year in life.years["year"].tolist():
        row = year + 2
        # so many were replaced up to this year: in hand H to J, as requested K to M
        so_far = [_so_far(thing, row, count, lasts)
                  for count, lasts in (("C", "J"), ("D", "K")) for thing in things]  # fmt: skip
        cells: list[Any] = [year, Formula(f'IF({_INTEREST}="","",1/(1+{_INTEREST})^A{row})')]
        for cost, first in (("$H", 12), ("$I", 12 + len(things))):
            at = [_letters(first + place) for place in range(len(things))]
            before = f"-{{at}}{row - 1}" if year else ""
            replaced = "+".join(
                f"'Life things'!$B${thing}*({one}{row}{before.format(at=one)})"
                for thing, one in zip(things, at, strict=True)
            )
            running = "+".join(_of_sort(life, sort, cost) for sort in (USED_UP, YEARLY))
            bought = _of_sort(life, "bought", cost)
            # C to F, then G to J: bought, replaced, running, paid
            start = _letters(len(cells) + 1), _letters(len(cells) + 3)
            cells += [
                Formula(bought) if not year else 0,
                Formula(replaced),
                Formula(f"({running})/{_YEARS}") if year else 0,
                Formula(f"SUM({start[0]}{row}:{start[1]}{row})"),
            ]
        cells.append(Formula(f'IF(B{row}="","",F{row}*B{row})'))
        # K holds the present value in hand, the last column that of the request
        rows.append((*cells, *map(Formula, so_far), Formula(f'IF(B{row}="","",J{row}*B{row})')))
    money = case.currency
    told = [f"{what}, {head.lower()} ({money})" for head in _HEADS
            for what in ("Bought", "Replaced", "Running", "Paid")]  # fmt: skip
    replaced_heads = [f"{one} replaced so far, {head.lower()} (count)" for head in _HEADS
                      for one in life.things["thing"].tolist()]  # fmt: skip
    heads = (
        "Year", "Discount factor", *told, f"Present value, in hand ({money})",
        *replaced_heads, f"Present value, as requested ({money})",
    )  # fmt: skip
    add_sheet(book, "Life years", heads, rows)


def _so_far(thing: int, row: int, count: str, lasts: str) -> str:
    """Return the formula of how many of a thing are replaced up to the year of a row."""
    owned, there, life_of, age = (
        f"'Life things'!${column}${thing}" for column in ("C", count, lasts, "G")
    )
    first = f"MAX({life_of}-{age},0)"

    def times(begin: str) -> str:
        moments = f"MAX(INT(($A{row}-{begin})/{life_of}+{_ROUNDING})+1,0)"
        in_all = f"MAX(ROUNDUP(({_YEARS}-{begin})/{life_of}-{_ROUNDING},0),0)"
        return f"MIN({moments},{in_all})"

    return f"{owned}*{times(first)}+({there}-{owned})*{times(life_of)}"


def _letters(place: int) -> str:
    from openpyxl.utils import get_column_letter

    return str(get_column_letter(place))


def _by_surge(book: Workbook, case: PurchaseCase, life: Life) -> None:
    """What is used up in each surge, in money: numbers of the surge times prices."""
    columns, lines, rows = list(case.used_by_surge.columns), life.lines, []
    for number in range(len(case.used_by_surge)):
        row, parts = number + 2, ([], [])  # type: tuple[int, tuple[list[str], list[str]]]
        for place in range(len(lines)):
            if lines["kind"].iloc[place] != USED_UP:
                continue
            price, name = f"'Life lines'!$D${place + 2}", str(lines["line"].iloc[place])
            counts = (case.sized.in_hand.extra_cleaners, case.sized.proposed.extra_cleaners)
            for which, sheet in enumerate(("Used in hand", "Used by surge")):
                of = f"'{sheet}'!{letter(columns, name)}{row}" if name in columns else counts[which]
                parts[which].append(f"N({price})*{of}")
        surge = case.used_by_surge["surge"].iloc[number]
        rows.append((surge, *(Formula("+".join(one) or "0") for one in parts)))
    heads = (
        "surge", *(f"Used up in it, {head.lower()} ({case.currency})" for head in _HEADS)
    )  # fmt: skip
    add_sheet(book, "Life by surge", heads, rows)


def _sums(book: Workbook, case: PurchaseCase, life: Life) -> None:
    last, surges = len(life.years) + 1, len(case.used_by_surge) + 1
    end = _letters(11 + 2 * len(life.things) + 1)

    def total(column: str) -> str:
        return f"SUM('Life years'!{column}2:{column}{last})"

    sums: list[tuple[str, ...]] = [
        ("bought", total("C"), total("G")),
        ("replaced", total("D"), total("H")),
        ("capital", "B2+B3", "C2+C3"),
        ("running_per_year", f"B6/{_YEARS}", f"C6/{_YEARS}"),
        ("running", total("E"), total("I")),
        ("paid", total("F"), total("J")),
        ("present_value", *(f'IF({_INTEREST}="","",{total(one)})' for one in ("K", end))),
        ("waiting_per_year", *(f"{_of_sort(life, WAITING, one)}/{_YEARS}" for one in ("H", "I"))),
        (
            "in_surges_per_year",
            *(f"{_SURGES}*AVERAGE('Life by surge'!{at}2:{at}{surges})" for at in ("B", "C")),
        ),
        ("in_ordinary_use_per_year", "B5-B10-B12", "C5-C10-C12"),
        ("agreed_per_year", *(f"{_of_sort(life, YEARLY, one)}/{_YEARS}" for one in ("H", "I"))),
    ]
    rows: list[Sequence[Any]] = []
    for row, (name, *of_both) in enumerate(sums, 2):
        change = f'IF(B{row}="","",C{row}-B{row})'
        rows.append((name, *map(Formula, (*of_both, change))))
    for name in ("AVERAGE", "MIN", "MEDIAN", "MAX"):
        cells = [Formula(f"{name}('Life by surge'!{at}2:{at}{surges})") for at in ("B", "C")]
        rows.append((f"used up in one surge: {name.lower()}", *cells, None))
    table = life.one_surge
    enough = (table["enough"].iloc[place] for place in (0, 1))
    share = f"{100 * case.target.share_of_surges:g} %"
    rows.append((f"used up in one surge: enough in {share}", *enough, None))
    money = case.currency
    heads = ("Sum", *(f"{head} ({money})" for head in _HEADS), f"Change ({money})")
    add_sheet(book, "Life", heads, rows)
