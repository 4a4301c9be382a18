"""What several parts of a case say in the same words: price, stock in hand, how it was sized."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from surge_sim.equipment.stock import listed, stock_words
from surge_sim.report.document import Remark
from surge_sim.report.phrases import plays_name
from surge_sim.report.sizing_words import money
from surge_sim.sizing.result import shelf_words
from surge_sim.units import duration_text

if TYPE_CHECKING:
    from surge_sim.purchase.case import PurchaseCase


def money_words(case: PurchaseCase, amount: float | None) -> str:
    """Write an amount with its currency."""
    return f"{money(amount or 0.0)} {case.money_unit}"


def price_words(case: PurchaseCase, place: int, tested: bool = False) -> str:
    """Say what a stage costs: once, and in each surge where cleaners are paid for it.

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
    once, again = (of(place, name).value or 0.0 for name in ("purchase", "paid_per_surge"))
    return amount_words(case, once, again)


def amount_words(case: PurchaseCase, once: float, again: float) -> str:
    """Say what is paid once, and what is paid in each surge."""
    if not again:
        return money_words(case, once)
    each = "in each surge" if case.replay is None else "each time"
    said = f"{money_words(case, again)} {each}"
    return f"{money_words(case, once)} once and {said}" if once else said


def cost_head(case: PurchaseCase) -> str:
    """Return the head of what stages cost: with one surge where some is paid in each."""
    again = case.sized.tables["stages"]["paid_per_surge"].any()
    return "Cost, with one surge" if again else "Cost"


def hand_head(case: PurchaseCase) -> str:
    """Return the head of what is told of the stock in hand."""
    return "Empty store" if case.sized.empty else "Stock in hand"


def short_hand_head(case: PurchaseCase) -> str:
    """Return the same where a kind of number follows: ``In hand: mean``."""
    return "Empty store" if case.sized.empty else "In hand"


def hand_words(case: PurchaseCase) -> str:
    """Return the stock in hand within a sentence."""
    return "an empty store" if case.sized.empty else "the stock in hand"


def studied_stock_words(case: PurchaseCase) -> str:
    """Return the stock that alternatives and inputs were studied with: the scenario's."""
    return hand_words(case) if case.sized.as_in_scenario else "the stock of the scenario"


def sized_parts(case: PurchaseCase) -> Iterator[Remark]:
    """Yield how the sizing was asked for, where that is not the usual way."""
    if case.sized.new:
        shelf = shelf_words(case.scenario.settings.supplies)
        besides = f" in addition to the spare {listed(shelf)} of the scenario" if shelf else ""
        if case.sized.empty:
            said = (
                "An empty store was sized: what the unit owns is left out on purpose, so the "
                f"request is the whole stock{besides}."
            )
        else:
            said = (
                f"The sizing assumed a stock in hand of {stock_words(case.sized.in_hand)}"
                f"{besides}. Everything else that the unit owns is left out on purpose."
            )
        yield Remark("note", said)
    if "--quick" in case.sized.command:
        yield Remark(
            "note",
            f"Sized with --quick, on fewer {plays_name(case.replay)}: a first look. Before money "
            "is spent, size without --quick; that may find a cheaper stock.",
        )


def leaving_words(case: PurchaseCase) -> str:
    """Say when people leave the queue: ``at 45 min (urgent 10 min)``; empty if nobody does."""
    first, *others = maximum_waits(case).items()
    said = [f"{name} {duration_text(wait_s)}" for name, wait_s in others if wait_s is not None]
    own = f" ({', '.join(said)})" if said else ""
    if first[1] is not None:
        return f"at {duration_text(first[1])}{own}"
    return f"at their maximum wait{own}" if said else ""


def maximum_waits(case: PurchaseCase) -> dict[str, int | None]:
    """Return the maximum wait of all [s], then of roles with their own and of urgent entries."""
    settings = case.scenario.settings
    return {
        "": settings.policy.maximum_wait,
        **{name: role.maximum_wait for name, role in settings.roles.items()},
        "urgent": settings.policy.urgent_maximum_wait,
    }
