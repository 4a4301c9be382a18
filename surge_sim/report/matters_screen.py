"""The answer of a study of inputs on a screen; the whole of it is in the results folder."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from surge_sim.cautions import CAUTION_IN_SHORT
from surge_sim.report.document import Answer, Document, Heading, Remark, Rows, document
from surge_sim.report.matters_answer import answer_words, effects_table, hints
from surge_sim.report.phrases import replay_words
from surge_sim.units import share_text

if TYPE_CHECKING:
    from surge_sim.whatif.matters import Matters

#: inputs in the table
_ROWS = 4
_TIMES_CAUTION = (
    "Low and high are what may be true, not choices: every time and check is kept in full."
)


def matters_screen(result: Matters) -> Document:
    """Return what fits a screen: sentences, the inputs that move most, how sure that is."""
    return document(
        Heading(result.scenario.settings.title or result.scenario.name, 1),
        Answer(answer_words(result)),
        effects_table(result, _ROWS),
        Rows(tuple(_rows(result))),
        *(Remark("note", text) for text in hints(result, _ROWS)),
        *(Remark("warning", text) for text in result.notes),
        Remark("caution", f"{_TIMES_CAUTION} {CAUTION_IN_SHORT}"),
    )


def _rows(result: Matters) -> Iterator[tuple[str, str]]:
    said = ["low and high value of each input."]
    if result.ladder is not None:
        said = [f"low and high value of each; {result.scenario.settings.prices.currency}."]
    if len(result.effects) > _ROWS:
        said.append(f"{len(result.effects) - _ROWS} more: --full.")
    said.append("Inputs act together: the last columns need not add up to 100.")
    yield "Table", " ".join(said)
    if result.replay is not None:
        yield "Confidence", replay_words(result.replay, result.surges)
    else:
        sure = share_text(result.confidence)
        yield "Confidence", f"* shown; all stars of a column hold together with {sure}"
