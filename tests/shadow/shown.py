"""What a drawn figure shows, read back from its lines, bars, shades, labels and legends."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from matplotlib.axes import Axes
from matplotlib.colors import to_hex
from matplotlib.figure import Figure

from surge_sim.report.folder import ResultFolder
from tests.shadow.cells import read_table


class Caught:
    """The figures of a folder, each with the table that was written beside it."""

    def __init__(self, fill: Any, result: Any, place: Path) -> None:
        self.figures: dict[str, Figure] = {}
        self.tables: dict[str, pd.DataFrame] = {}

        def keep(folder: ResultFolder, name: str, figure: Figure, table: pd.DataFrame) -> None:
            folder.write_table(name, table, folder="figures")
            path = place / "figures" / f"{name}.csv"
            self.tables[name] = read_table(path)
            self.figures[name] = figure

        with pytest.MonkeyPatch.context() as patched:
            patched.setattr(ResultFolder, "write_figure", keep)
            fill(ResultFolder(place, place), result)
        for name, figure in self.figures.items():
            assert all(axes.has_data() for axes in figure.axes), f"{name} has an empty panel"

    def axes(self, name: str) -> Axes:
        """Return the only axes of a figure."""
        (axes,) = self.figures[name].axes
        return axes


def legend_words(axes: Axes) -> list[str]:
    """Return the words of a legend."""
    legend = axes.get_legend()
    assert legend is not None
    return [text.get_text() for text in legend.get_texts()]


def line_called(axes: Axes, label: str) -> np.ndarray:
    """Return the points of the one line of a name, shape (points, 2)."""
    (line,) = (one for one in axes.lines if one.get_label() == label)
    return np.asarray(line.get_xydata(), dtype=float)


def colour_in_legend(axes: Axes, label: str) -> str:
    """Return the colour that stands beside a word of the legend."""
    legend = axes.get_legend()
    assert legend is not None
    for handle, text in zip(legend.legend_handles, legend.get_texts(), strict=True):
        if text.get_text() == label:
            colour = getattr(handle, "get_facecolor", None) or handle.get_color  # type: ignore
            return to_hex(colour())
    raise AssertionError(f"{label} is not in the legend")


def shade(axes: Axes, place: int) -> pd.DataFrame:
    """Return lower and upper edge of a shade between two curves, by x."""
    points = pd.DataFrame(axes.collections[place].get_paths()[0].vertices, columns=["x", "y"])
    return points.groupby("x")["y"].agg(["min", "max"]).reset_index()


def all_in_view(axes: Axes, x: Any, y: Any) -> bool:
    """Whether points lie within the limits of the axes."""
    for (least, most), values in ((axes.get_xlim(), x), (axes.get_ylim(), y)):
        known = np.asarray(values, dtype=float)
        known = known[np.isfinite(known)]
        # tables are written with six digits
        slack = 1e-5 * (most - least)
        if not ((known >= least - slack) & (known <= most + slack)).all():
            return False
    return True
