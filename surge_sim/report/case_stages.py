"""Parts of the document on a purchase: what is requested, why not less, why not more."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from surge_sim.report.document import Block, Column, Heading, Paragraph, Table
from surge_sim.report.phrases import per_play
from surge_sim.report.rounding import NONE, counted, limit_number, listed, number, percent
from surge_sim.report.sizing_answer import money
from surge_sim.sizing.items import ITEMS, PARTS, count_words, stock_words
from surge_sim.sizing.ledger import CONFIRMED
from surge_sim.sizing.result import thinned
from surge_sim.units import share_text

if TYPE_CHECKING:
    from surge_sim.purchase.case import Cell, PurchaseCase

#: rows of the tables of stages and of causes of waiting
_MOST_STAGES, _MOST_CAUSES = 6, 3
_ITEMS = {
    "kits": "kits", "batteries": "batteries", "bays": "bays", "cleaners": "cleaners",
    "hoods": "spare hoods", "tubes": "spare tubes", "prefilters": "spare prefilters",
    "he_filters": "spare HE filters", "large_hoods": "spare large hoods",
}  # fmt: skip


def count(cell: Cell) -> str:
    """Write a whole number."""
    return NONE if cell.value is None else f"{cell.value:,.0f}"


def money_words(case: PurchaseCase, amount: float | None) -> str:
    """Write an amount with its currency."""
    return f"{money(amount or 0.0)} {case.money_unit}"


def met_words(case: PurchaseCase, place: int, tested: bool = False) -> str:
    """Say in how many surges a stage met the target, with the limits of its share.

    Parameters
    ----------
    case : PurchaseCase
        What is told.
    place : int
        Row of the table of stages.
    tested : bool
        Whether it is a row of the table of tested stocks instead.
    """
    of = case.tested if tested else case.stage
    said = f"{count(of(place, 'surges_on_target'))} of {count(of(place, 'surges'))}"
    limits = limits_words(case, place, tested)
    return f"{said} ({limits} %)" if limits else said


def limits_words(case: PurchaseCase, place: int, tested: bool = False) -> str:
    """Say the limits of that share in per cent; empty where there are none."""
    of = case.tested if tested else case.stage
    low, high = of(place, "low").value, of(place, "high").value
    if case.replay is not None or low is None or high is None:
        return ""
    asked = case.target.share_of_surges
    return f"{limit_number(low, asked)} to {limit_number(high, asked)}"


def new_plays(case: PurchaseCase) -> str:
    """Return what the plays that tested a stock are called."""
    return "replications" if case.replay is not None else "new simulated surges"


def request_parts(case: PurchaseCase) -> Iterator[Block]:
    """Yield what is requested, with its prices."""
    yield Heading("Request")
    rows, table = [], case.tables["request"]
    for place, item in enumerate(table["item"]):

        def told(column: str, place: int = place) -> Cell:
            return case.of("request", place, column)

        lot = told("lot").value or 1
        each = money(told("price_of_lot").value or 0.0) + (f" per {lot:.0f} bays" * (lot > 1))
        counts = (count(told(name)) for name in ("in_hand", "to_buy", "in_all"))
        rows.append((str(item), *counts, each, money(told("price").value or 0.0)))
    once = case.stage(case.sized.place, "purchase").value
    again = case.stage(case.sized.place, "paid_per_surge").value
    rows.append(("in all, paid once", "", "", "", "", money(once or 0.0)))
    if again:
        rows.append(("for each surge: extra cleaners", "", "", "", "", money(again)))
    heads = ("In hand", "To buy", "In all")
    prices = [Column(head, case.money_unit) for head in ("Price each", "Price")]
    yield Table((Column("Item", align="left"), *map(Column, heads), *prices), tuple(rows))


def what_we_have(case: PurchaseCase) -> Iterator[Block]:
    """Yield what is in hand, and what people wait for with it."""
    yield Heading("What we have")
    waiting = case.sized.tables["cause_of_waiting_in_hand"]
    said = f"In hand: {stock_words(case.sized.in_hand)}."
    if len(waiting):
        top = [
            f"{waiting['cause_of_waiting'].iloc[place]} "
            f"({percent(case.waited_for(place, 'share').value, 0.1)})"
            for place in range(min(_MOST_CAUSES, len(waiting)))
        ]
        said += f" With it people wait for {listed(top)} of the hours waited"
        rest = len(waiting) - len(top)
        said += f"; the rest, for {counted(rest, 'rarer cause')}." if rest else "."
        if reduced := list(_reduced(case)):
            said += f" More {listed(reduced)}."
    yield Paragraph(said)


def _reduced(case: PurchaseCase) -> Iterator[str]:
    """Yield the items of which more would reduce waiting, with its share."""
    words = " would help in {} of these hours"
    for place, item in enumerate(case.tables["waiting_by_item"]["reduced_by"]):
        share = case.of("waiting_by_item", place, "share_in_hand").value or 0.0
        if item in _ITEMS and share >= 0.005:
            yield f"{_ITEMS[item]}{words.format(percent(share, 0.1))}"
            words = " in {}"


def less_and_more(case: PurchaseCase) -> Iterator[Block]:
    """Yield the stages of buying, and what speaks against less and against more."""
    stages, best = case.sized.tables["stages"], case.sized.place
    if best:
        yield Heading("Why not less")
        yield Paragraph(" ".join(_cheaper(case)))
        yield _stages(case)
        yield Paragraph(" ".join(_how_to_read(case)))
    yield Heading("Why not more")
    patients = "For the patients that are expected, the" if not case.demand.empty else "The"
    if best + 1 < len(stages):
        more = (case.stage(best + 1, "cost").value or 0) - (case.stage(best, "cost").value or 0)
        late, later = case.stage(best, "late").value, case.stage(best + 1, "late").value
        yield Paragraph(
            f"{patients} target is met without it. The next stage "
            f"({stages['bought'].iloc[best + 1]}, {money_words(case, more)} more) would leave "
            f"{number(later)} instead of {number(late)} late entries {per_play(case.replay)}."
        )
    else:
        yield Paragraph(f"{patients} target is met without more.")


def _cheaper(case: PurchaseCase) -> Iterator[str]:
    """Say what became of the nearest cheaper stocks."""
    sized, best = case.sized, case.sized.place
    tested, price = sized.tables["tested"], case.stage(best, "cost").value or 0.0
    if not (tested.loc[tested["cost"] < price, "verdict"] == CONFIRMED).any():
        yield "No cheaper stock that was tested was shown to meet the target."
    before = best - 1
    yield (
        f"The stage before the request ({money_words(case, case.stage(before, 'cost').value)}) met "
        f"it in {met_words(case, before)}: {sized.tables['stages']['verdict'].iloc[before]}."
    )
    near = sized.nearest_cheaper
    if near is not None:
        cost = case.tested(near, "cost").value or 0.0
        extra = [
            count_words(name, ITEMS[name].of(sized.tested_stock(near)))
            for name in PARTS
            if ITEMS[name].of(sized.tested_stock(near))
        ]
        more = f", with {listed(extra)} besides" if extra else ""
        yield (
            f"The dearest tested stock below the request costs {money_words(case, price - cost)} "
            f"less{more} and met it in {met_words(case, near, tested=True)}: "
            f"{tested['verdict'].iloc[near]}. It is not one of the stages, so its late "
            "entries were not counted."
        )


def _how_to_read(case: PurchaseCase) -> Iterator[str]:
    """Say on how many surges what was counted, and what the limits are."""
    sized, best = case.sized, case.sized.place
    total, shown = len(sized.stages), len(_shown(case))
    if shown < total:
        yield (
            f"The document shows {shown} of {total} stages; all are in case.html and case.xlsx, "
            "sheet 'Stages'."
        )
    surges, same = case.stage(best, "surges").value, sized.same_surges
    plays = new_plays(case)
    if surges != same:
        yield (
            f"The test of the request went on until it decided, after {surges:,.0f} {plays}; late "
            f"entries of all stages are means over the first {same:,}."
        )
        yield (
            "Stocks are tested from dear to cheap until one is not confirmed. The other stages are "
            "only looked at on those first ones, which is why they may stay 'undecided'."
        )
    else:
        yield f"Late entries are means over the same {same:,} {plays}."
    if case.replay is None:
        yield (
            f"Limits of the share of surges hold each by itself with "
            f"{share_text(sized.confidence or 0)} confidence wherever its test stops. They are "
            "sharp near the share that is asked for, and wide far from it, as with the stock in "
            "hand."
        )
        yield "Only what is 'confirmed' was shown to meet the target; 'undecided' may or may not."


def _shown(case: PurchaseCase) -> tuple[int, ...]:
    places = range(len(case.sized.stages))
    return tuple(thinned(places, case.sized.place, _MOST_STAGES))


def _stages(case: PurchaseCase) -> Table:
    near, best, rows = case.sized.nearest_cheaper, case.sized.place, []
    for place in _shown(case):
        if place == best and near is not None:
            rows.append(_row(case, near, "also tested", tested=True))
        name = "requested" if place == best else f"stage {place}" if place else "in hand"
        rows.append(_row(case, place, name))
    columns = (
        Column("Stock", align="left"),
        Column("Kits, batteries, bays"),
        Column("Cost", case.money_unit),
        Column("Met the target in"),
        *([] if case.replay is not None else [Column("Limits of that", "%")]),
        Column("Late entries"),
        Column("Verdict", align="left"),
    )
    return Table(columns, tuple(rows))


def _row(case: PurchaseCase, place: int, name: str, tested: bool = False) -> tuple[str, ...]:
    of = case.tested if tested else case.stage
    table = case.sized.tables["tested" if tested else "stages"]
    limits = () if case.replay is not None else (limits_words(case, place, tested),)
    return (
        name,
        ", ".join(count(of(place, item)) for item in ("kits", "batteries", "bays")),
        money(of(place, "cost").value or 0.0),
        f"{count(of(place, 'surges_on_target'))} of {count(of(place, 'surges'))}",
        *limits,
        "" if tested else number(case.stage(place, "late").value),
        str(table["verdict"].iloc[place]),
    )
