"""Results as they show themselves in Python: printed, drawn, or as HTML in a notebook."""

from __future__ import annotations

from functools import update_wrapper
from typing import TYPE_CHECKING, Any

from surge_sim.report.comparison import comparison_answer
from surge_sim.report.html import html_of
from surge_sim.report.terminal import render
from surge_sim.whatif import compare as whatif

if TYPE_CHECKING:
    from matplotlib.figure import Figure


class ShownComparison(whatif.Comparison):
    """A comparison that can be printed and drawn."""

    def __str__(self) -> str:
        """Return the answer as the command prints it."""
        return render(comparison_answer(self))

    def _repr_html_(self) -> str:
        return html_of(comparison_answer(self))

    def plot(self) -> Figure:
        """Return the figure of the comparison; ``figure.savefig("file.png")`` keeps it."""
        from surge_sim.report.comparison_folder import comparison_figure

        return comparison_figure(self)


def compare(*args: Any, **kwargs: Any) -> ShownComparison:
    """Compare alternatives: see :func:`surge_sim.whatif.compare.compare`."""
    return ShownComparison(**vars(whatif.compare(*args, **kwargs)))


update_wrapper(compare, whatif.compare)
