"""The case for a purchase as a document: for people who were not there and have only this."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from surge_sim.cautions import CAUTION
from surge_sim.equipment.stock import added_words
from surge_sim.report.case_beside import alternative_parts
from surge_sim.report.case_demand import demand_parts, ready_parts
from surge_sim.report.case_less import least_cost_told, less_and_more
from surge_sim.report.case_life import life_parts
from surge_sim.report.case_matters import first_input_parts, invented_words, leans_parts
from surge_sim.report.case_planner import planner_parts, typed_words
from surge_sim.report.case_stages import (
    count,
    met_words,
    new_plays,
    request_parts,
    what_we_have,
)
from surge_sim.report.case_use import doing_nothing, used_parts, words_parts
from surge_sim.report.case_words import hand_words, money_words, price_words, sized_parts
from surge_sim.report.document import (
    Answer,
    Block,
    Column,
    Document,
    Heading,
    Paragraph,
    Remark,
    Rows,
    Table,
    document,
)
from surge_sim.report.phrases import must_keep, replay_words, target_words
from surge_sim.report.rounding import listed, percent
from surge_sim.units import share_text

if TYPE_CHECKING:
    from surge_sim.purchase.case import PurchaseCase

_MOST_NOTES = 4
#: formulas have no results before
OPEN_IT = (
    "Open it in a spreadsheet program, which works its formulas out: until then their cells are "
    "empty"
)


def case_document(case: PurchaseCase, signatures: bool = True) -> Document:
    """Return the case as blocks.

    Parameters
    ----------
    case : PurchaseCase
        What is told.
    signatures : bool
        Whether there is a place to sign; a screen has none.
    """
    title = case.scenario.settings.title or case.scenario.name
    return document(
        Heading(f"The case for a purchase: {title}", 1),
        Answer(answer_words(case)),
        *sized_parts(case),
        *invented_parts(case),
        *request_parts(case),
        *ready_parts(case),
        *first_input_parts(case),
        *what_we_have(case),
        *less_and_more(case),
        *doing_nothing(case),
        *demand_parts(case),
        *used_parts(case),
        *life_parts(case),
        *alternative_parts(case),
        *_how_sure(case),
        *leans_parts(case),
        *_warnings(case),
        *planner_parts(case),
        *words_parts(case),
        *_where_to_check(case),
        Remark("caution", CAUTION),
        *(_signatures() if signatures else ()),
    )


def answer_words(case: PurchaseCase) -> str:
    """Say the request in two sentences."""
    sized = case.sized
    asked = target_words(case.target, must_keep(case.replay))
    asked = f"{asked[0].upper()}{asked[1:]}"
    if sized.in_hand == sized.proposed:
        return f"Nothing is requested: the stock in hand meets the target. {asked}."
    price = price_words(case, sized.place)
    met, missed = _met(case, sized.place), _met(case, 0)
    return (
        f"Requested: {added_words(sized.in_hand, sized.proposed)} for {price}, to meet the target "
        f"in simulation: {asked[0].lower()}{asked[1:]}. With this stock it was met in {met}; with "
        f"{hand_words(case)}, in {missed}."
    )


def invented_parts(case: PurchaseCase) -> Iterator[Remark]:
    """Yield the warning that a decision would rest on invented numbers, where it would."""
    if said := invented_words(case):
        yield Remark("warning", said)


def _met(case: PurchaseCase, place: int) -> str:
    met, surges = case.stage(place, "surges_on_target"), case.stage(place, "surges")
    return f"{count(met)} of {new_plays(case, surges.value)}"


def _least_cost(case: PurchaseCase) -> str:
    """Say below which price nothing meets the target, and what is open above it."""
    least, price = least_cost_told(case), case.stage(case.sized.place, "cost").value or 0.0
    if least is None:
        return ""
    condition = "if more stock never makes a surge worse"
    if case.sized.confidence is not None:
        condition += f" (with {share_text(case.sized.confidence)} confidence)"
    if least >= price:
        return f"nothing that costs less meets the target, {condition}"
    return (
        f"nothing below {money_words(case, least)} meets the target, {condition}: each stock at "
        "such a price has no more of anything than one that was shown to miss it. Between that "
        "and the request it is open; no stock there was shown to meet it"
    )


def _which_surges(case: PurchaseCase) -> Iterator[tuple[str, str]]:
    """Yield what was counted on which surges, and why counts of the same stock differ."""
    sized, best, owned = case.sized, case.sized.place, hand_words(case)
    if best and case.stage(best, "surges").value != sized.same_surges:
        met = case.stage(best, "same_surges_on_target")
        yield (
            "two counts",
            f"the test of the request was stopped when decided, and its limits allow for that: "
            f"{_met(case, best)} met the target, {count(met)} of the first {sized.same_surges:,}. "
            "Means and 'If nothing is done' are of these",
        )
    told = [f"{met_words(case, 0)} of those that tested the stocks"]
    if not case.demand.empty:
        seen, surges = (case.of("higher_demand", 0, one) for one in ("surges_on_target", "surges"))
        if surges.value != case.stage(0, "surges").value:
            told.append(f"{count(seen)} of the first {count(surges)} of them (more patients)")
    if case.comparison is not None and sized.as_in_scenario:
        seen, surges = (
            case.beside("comparison", "alternatives", 0, one)
            for one in ("surges_on_target", "surges")
        )
        told.append(f"{count(seen)} of {count(surges)} others (alternatives)")
    if len(told) > 1:
        sets = {2: "two", 3: "three"}[len(told)]
        yield (
            "which surges",
            f"{sets} sets of surges of the same scenario: {owned} meets the target in "
            f"{listed(told)}. Counts on target, late entries and hours differ between the sets by "
            "random variation alone: compare within a set",
        )


def _how_sure(case: PurchaseCase) -> Iterator[Block]:
    sized, best = case.sized, case.sized.place
    yield Heading("Confidence")
    if case.replay is not None:
        yield Paragraph(replay_words(case.replay, len(case.same_surges)))
        return
    rows = []
    low = case.stage(best, "low")
    if sized.confidence is not None and low.value is not None:
        sure = share_text(sized.confidence)
        rows.append(
            (
                "shown",
                f"the true share of surges on target is at least {percent(low.value)}, with "
                f"{sure} confidence: {_met(case, best)} met it; these were not the surges that "
                "chose the stock",
            )
        )
    rows += _which_surges(case)
    if words := _least_cost(case):
        rows.append(("least cost", words))
    rows.append(("not covered", _not_covered(case)))
    yield Rows(tuple(rows))


def _not_covered(case: PurchaseCase) -> str:
    """Name the main things that the model leaves out."""
    settings, told = case.scenario.settings, []
    if not settings.timeline:
        told.append("events such as a power outage or a late delivery")
    if not settings.carrying.model_fields_set:
        told.append("ways to fetch kits and bring them back (no time is given for them)")
    told += [
        "staff who fall ill", "batteries that age during a surge", "how care suffers from a wait",
        "other units that use the same stock",
    ]  # fmt: skip
    return f"{listed(told)}; also inputs that are wrong. More surges do not help against these"


def _warnings(case: PurchaseCase) -> Iterator[Block]:
    for note in case.notes[:_MOST_NOTES]:
        yield Remark("warning", note)
    if len(case.notes) > _MOST_NOTES:
        more = len(case.notes) - _MOST_NOTES
        yield Remark("note", f"{more} further warnings stand in the workbook.")


def _where_to_check(case: PurchaseCase) -> Iterator[Block]:
    yield Heading("Where to check")
    yield Rows(
        (
            (
                "numbers",
                f"case.xlsx, sheet 'Where from': file, row and column of each number. {OPEN_IT}",
            ),
            ("files", "sizing/ and tables/ beside this document; columns.txt says what they mean"),
            ("checklist", "case.xlsx, sheet 'Checklist': the reporting checklist STRESS-DES"),
            ("again", typed_words(case)),
            ("release", f"{case.sized.tool}; seed {case.sized.seed}"),
        )
    )


def _signatures() -> tuple[Block, ...]:
    heads = ("Role", "Name", "Signature", "Date")
    columns = tuple(Column(head, align="left") for head in heads)
    roles = (
        "Prepared by", "Target set by", "Unit: requests",
        "Respiratory protection program: has seen", "Finance: decides",
    )  # fmt: skip
    return (
        Heading("Signatures"),
        Paragraph(f"Ward or unit: {'_' * 40} Date of this document: {'_' * 20}"),
        Table(columns, tuple((role, "", "", "") for role in roles)),
        Paragraph(
            "The signature of the respiratory protection program says that it has seen this "
            "request; it does not attest that anybody is protected."
        ),
    )
