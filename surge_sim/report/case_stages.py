"""Parts of the document on a purchase: what is requested, what is in hand, how a stage did."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from surge_sim.equipment.stock import stock_words
from surge_sim.report.document import Block, Column, Heading, Paragraph, Table
from surge_sim.report.phrases import cause_words
from surge_sim.report.rounding import NONE, counted, limit_number, listed, percent
from surge_sim.report.sizing_words import money

if TYPE_CHECKING:
    from surge_sim.purchase.case import Cell, PurchaseCase

#: causes of waiting that are told
_MOST_CAUSES = 3
_ITEMS = {
    "kits": "kits", "batteries": "batteries", "bays": "bays", "cleaners": "cleaners",
    "hoods": "spare hoods", "tubes": "spare tubes", "prefilters": "spare prefilters",
    "he_filters": "spare HE filters", "large_hoods": "spare large hoods",
}  # fmt: skip


def count(cell: Cell) -> str:
    """Write a whole number."""
    return NONE if cell.value is None else f"{cell.value:,.0f}"


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


def new_plays(case: PurchaseCase, number: float | None) -> str:
    """Write a number of the plays that tested a stock: ``800 new simulated surges``."""
    one = "replication" if case.replay is not None else "new simulated surge"
    return counted(round(number or 0), one)


def request_parts(case: PurchaseCase) -> Iterator[Block]:
    """Yield what is requested, with its prices."""
    yield Heading("Request")
    rows, table = [], case.tables["request"]
    for place, item in enumerate(table["item"]):

        def told(column: str, place: int = place) -> Cell:
            return case.of("request", place, column)

        lot = told("lot").value or 1
        each = money(told("price_of_lot").value or 0.0) + (f" per {lot:.0f} bays" * (lot > 1))
        counts = tuple(count(told(name)) for name in ("in_hand", "to_buy", "in_all"))
        if item == "cleaners":
            counts = _a_shift(case, round(told("to_buy").value or 0))
        rows.append((str(item), *counts, each, money(told("price").value or 0.0)))
    once = case.stage(case.sized.place, "purchase").value
    again = case.stage(case.sized.place, "paid_per_surge").value
    total = len(rows)
    rows.append(("in all, paid once", "", "", "", "", money(once or 0.0)))
    if again:
        each = "in each surge" if case.replay is None else "each time"
        rows.append((f"besides, paid {each}: cleaners", "", "", "", "", money(again)))
    heads = ("Empty store" if case.sized.empty else "In hand", "To buy", "In all")
    prices = [Column(head, case.money_unit) for head in ("Price each", "Price")]
    first = Column("Item", align="left")
    yield Table((first, *map(Column, heads), *prices), tuple(rows), sums=(total,))


def _a_shift(case: PurchaseCase, more: int) -> tuple[str, str, str]:
    """Say how many cleaners a shift has, how many come to each, and how many it has then."""
    shifts = [one.cleaners for one in case.scenario.settings.cleaning.crew]

    def told(counts: list[int]) -> str:
        least, most = min(counts), max(counts)
        return f"{least if least == most else f'{least} to {most}'} a shift"

    return told(shifts), f"+{more}", told([one + more for one in shifts])


def what_we_have(case: PurchaseCase) -> Iterator[Block]:
    """Yield what is in hand, and what people wait for with it."""
    yield Heading("What we have")
    if case.sized.empty:
        yield Paragraph(
            "Nothing: the sizing began with an empty store, with which no entry gets a kit."
        )
        return
    waiting = case.sized.tables["cause_of_waiting_in_hand"]
    said = f"In hand: {stock_words(case.sized.in_hand)}."
    if len(waiting):
        top = [
            f"{cause_words(cause)} ({percent(case.waited_for(place, 'share').value, 0.1)})"
            for place, cause in enumerate(waiting["cause_of_waiting"].iloc[:_MOST_CAUSES])
        ]
        said += f" With it people wait for {listed(top)} of the hours waited"
        rest = len(waiting) - len(top)
        said += f"; the rest, for {counted(rest, 'rarer cause')}." if rest else "."
        if reduced := list(_reduced(case)):
            said += f" More {listed(reduced)}."
            if len(reduced) > 1:
                said += (
                    " A purchase may save more hours than its share here, as one wait causes the "
                    "next."
                )
    yield Paragraph(said)


def _reduced(case: PurchaseCase) -> Iterator[str]:
    """Yield the items of which more would reduce waiting, with its share."""
    words = " would help in {} of these hours"
    for place, item in enumerate(case.tables["waiting_by_item"]["reduced_by"]):
        share = case.of("waiting_by_item", place, "share_in_hand").value or 0.0
        if item in _ITEMS and share >= 0.005:
            yield f"{_ITEMS[item]}{words.format(percent(share, 0.1))}"
            words = " in {}"
