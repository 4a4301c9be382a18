"""The part of the document on a purchase that tells what follows if more patients come."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from surge_sim.purchase.demand import MORE, STOCKS, short_of
from surge_sim.report.case_planner import TO_ADD
from surge_sim.report.case_stages import count, new_plays
from surge_sim.report.case_words import amount_words, hand_words, money_words
from surge_sim.report.document import Block, Column, Heading, Paragraph, Table
from surge_sim.report.rounding import counted, limit_number, listed, percent
from surge_sim.units import share_text
from surge_sim.whatif.usual import NotTried, more_patients

if TYPE_CHECKING:
    from surge_sim.purchase.case import PurchaseCase


def ready_parts(case: PurchaseCase) -> Iterator[Block]:
    """Yield, beside the request, what it costs to be ready for more patients, or that it lacks."""
    if case.more is not None:
        yield Paragraph(ready_words(case))
        return
    per_cent = short_of(case.demand, case.target.share_of_surges)
    if per_cent is None:
        return
    place = _place(case, per_cent / 100)
    yield Paragraph(
        f"Not worked out: what it costs to be ready for {per_cent} % more patients; with so many "
        f"{_name(case)} met the target in {_met(case, place)}. The commands stand in '{TO_ADD}'."
    )


def ready_words(case: PurchaseCase) -> str:
    """Say what it costs to be ready for more patients, and how that was confirmed."""
    assert case.more is not None

    def told(column: str) -> float:
        return case.of("ready_for_more", 0, column).value or 0.0

    table, more = case.tables["ready_for_more"], case.more.sized
    patients = f"{share_text(told('more_patients'))} more patients"
    tested = (
        f"{table['verdict'].iloc[0]} in {told('surges_on_target'):,.0f} of "
        f"{new_plays(case, told('surges'))} with so many patients"
    )
    if "--quick" in more.command:
        tested += " (sized with --quick: a first look)"
    if more.in_hand == more.proposed:
        return f"For {patients} nothing need be bought: {hand_words(case)} was {tested}."
    price = amount_words(case, told("purchase"), told("paid_per_surge"))
    return (
        f"Being ready for {patients} costs {price} ({table['bought'].iloc[0]}), "
        f"{_than_requested(case)}; {tested}."
    )


def _than_requested(case: PurchaseCase) -> str:
    """Say how much more that is than the request."""
    requested, more, again = (
        case.of("ready_for_more", 0, column).value or 0.0
        for column in ("cost_requested", "more_than_requested", "paid_per_surge")
    )
    if not requested:
        return "where nothing is requested here"
    if not more:
        return "as much as requested here"
    amount = money_words(case, abs(more))
    if again or case.stage(case.sized.place, "paid_per_surge").value:
        amount += ", with what one surge costs,"
    if more < 0:
        return f"{amount} less than requested here, as a search may miss the cheapest stock"
    return f"{amount} more than requested here"


def demand_parts(case: PurchaseCase) -> Iterator[Block]:
    """Yield how present and proposed stock do if more patients come."""
    yield Heading("If more patients come")
    if case.demand.empty:
        tried = more_patients(case.scenario.settings, MORE[0])
        assert isinstance(tried, NotTried)
        yield Paragraph(f"Not simulated: {tried.reason}.")
        return
    stocks, rows = _stocks(case), []
    for place in range(0, len(case.demand), len(STOCKS)):
        more = case.of("higher_demand", place, "more_patients").value
        row = [f"{share_text(more)} more" if more else "as expected"]
        for number_of, _ in enumerate(stocks):
            met, low, high, late = (
                case.of("higher_demand", place + number_of, column).value or 0.0
                for column in ("surges_on_target", "low", "high", "share_late")
            )
            asked = case.target.share_of_surges
            least, most = (limit_number(one, asked) for one in (low, high))
            row += [f"{met:.0f} ({least} to {most})", percent(late)]
        rows.append(tuple(row))
    surges = count(case.of("higher_demand", 0, "surges"))
    heads = [Column("Patients who arrive", align="left")]
    for words in (hand_words(case).removeprefix("the "), "as requested")[: len(stocks)]:
        heads += [Column(f"Of {surges} on target, {words}"), Column(f"Late entries, {words}")]
    yield Table(tuple(heads), tuple(rows))
    yield Paragraph(demand_words(case))


def _stocks(case: PurchaseCase) -> tuple[str, ...]:
    return STOCKS[:1] if case.sized.in_hand == case.sized.proposed else STOCKS


def _name(case: PurchaseCase) -> str:
    return "the stock requested" if len(_stocks(case)) > 1 else hand_words(case)


def _place(case: PurchaseCase, more: float) -> int:
    """Return the row that tells how the stock requested does with so many more patients."""
    mine = (case.demand["more_patients"] == more) & (case.demand["stock"] == STOCKS[1])
    return int(mine.to_numpy().argmax())


def _met(case: PurchaseCase, place: int) -> str:
    met, surges = (case.of("higher_demand", place, one) for one in ("surges_on_target", "surges"))
    return f"{count(met)} of {count(surges)} surges"


def demand_words(case: PurchaseCase) -> str:
    """Say up to how many more patients the stock still did what the target asks."""
    asked, name = case.target.share_of_surges, _name(case)
    demand = case.demand
    mine = demand[demand["stock"] == STOCKS[1]]
    enough = mine.loc[mine["share_on_target"] >= asked, "more_patients"]
    most, short = float(enough.max()) if len(enough) else 0.0, short_of(demand, asked)
    if most:
        said = (
            f"With up to {share_text(most)} more patients {name} still met the target in "
            f"{share_text(asked)} of surges or more."
        )
    else:
        said = "The request is for the patients that are expected."
    if short is not None:
        said += (
            f" With {short} % more {name} met the target in {_met(case, _place(case, short / 100))}"
            f", where {share_text(asked)} are asked for."
        )
    played, same = int(demand["surges"].iloc[0]), case.sized.same_surges
    said += (
        f" These are the first {counted(played, 'surge')} from above, with more patients besides; "
        "in brackets the limits of the share (%), each for itself with 95 % confidence."
    )
    if same > played:
        seen = [
            f"{count(case.stage(place, 'same_surges_on_target'))} with {words}"
            for place, words in ((0, hand_words(case)), (case.sized.place, "the stock requested"))
        ]
        told = listed(seen[: len(_stocks(case))])
        said += f" Of all {same:,} as expected, {told} met the target."
    return said
