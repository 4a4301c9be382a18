"""What a sizing has found so far, while it goes on or when it was stopped."""

from __future__ import annotations

from typing import TYPE_CHECKING

from surge_sim.cautions import CAUTION_IN_SHORT
from surge_sim.equipment.stock import added_words
from surge_sim.report.document import Answer, Document, Remark, document
from surge_sim.report.sizing_words import money

if TYPE_CHECKING:
    from surge_sim.demand.replay import Replay
    from surge_sim.sizing.player import SoFar


def stopped_document(so_far: SoFar | None, currency: str, replay: Replay | None = None) -> Document:
    """Return what a sizing that was stopped from the keyboard had found."""
    said = "Stopped before any answer was found."
    if so_far is not None:
        said = f"Stopped. {so_far_words(so_far, currency, replay)}"
    return document(Answer(said), Remark("caution", CAUTION_IN_SHORT))


def so_far_words(so_far: SoFar, currency: str, replay: Replay | None = None) -> str:
    """Say the best answer of a sizing that is still going on, and what it is worth."""
    buy = added_words(so_far.owned, so_far.stock)
    price = f" ({money(so_far.money)} {currency})" if so_far.money else ""
    said = f"add {buy}{price}"
    if replay is not None:
        # counts of its plays would be read as surges
        return f"Found by playing the one recorded period, so far: {said}."
    counts = f"{so_far.passes:,} of {so_far.surges:,}"
    if so_far.confirmed:
        return f"So far confirmed, in {counts} new simulated surges: {said}."
    return f"First look, do not order yet: {said}; on target in {counts} simulated surges."
