"""The answer of a study of inputs on a screen; the whole of it is in the results folder."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from surge_sim.cautions import CAUTION_IN_SHORT
from surge_sim.report.document import Answer, Document, Heading, Remark, Rows, document
from surge_sim.report.matters_answer import answer_words, hints
from surge_sim.report.matters_table import effects_table
from surge_sim.report.phrases import replay_words
from surge_sim.report.rounding import counted
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
    said = ["low and high value of each"]
    if result.ladder is not None:
        said.append(result.scenario.settings.prices.currency)
    if (more := len(result.effects) - _ROWS) > 0:
        said.append(f"{counted(more, 'more input')}: --full")
    yield "Table", "; ".join(said)
    if result.replay is not None:
        yield "Confidence", replay_words(result.replay, result.surges)
    else:
        sure = share_text(result.confidence)
        yield (
            "Confidence",
            f"* shown to matter, all of a column with {sure}; the rest may be chance",
        )
