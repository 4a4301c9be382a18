"""The picture of a decision: one dot for each other surge, the average, and the played surge.

Written as SVG by hand, for a page holds one for each decision of each path, which a plotting
library would draw for a minute. Shapes, not colours, tell things apart: it prints in grey.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from textwrap import wrap
from typing import NamedTuple

import numpy as np

from surge_sim.drill.compare import Whole, Worth
from surge_sim.report.html import text_of

_WIDTH, _LEFT, _RIGHT, _ROW, _TOP, _AXIS = 720, 24, 24, 118, 10, 46
#: heights of a row: its name, the line that dots stand on, the average below it
_NAME, _FLOOR, _AVERAGE = 16, 82, 96
_DOT = 4.4
#: of a name: letters in a line, and the height of one
_LONGEST, _LINE = 76, 17
_FONT = 'font-family="sans-serif" font-size="14"'
#: words stay readable where a line runs through them
_HALO = 'stroke="#fff" stroke-width="5" paint-order="stroke"'


class Against(NamedTuple):
    """A row of the picture: the choice that was not taken, and what the taken one is worth."""

    name: str
    worth: Worth


class _Scale(NamedTuple):
    low: float
    high: float

    def x(self, value: float) -> float:
        share = (value - self.low) / (self.high - self.low)
        return round(_LEFT + share * (_WIDTH - _LEFT - _RIGHT), 1)


def decision_picture(rows: Sequence[Against], on_scale_of: Sequence[Against] = ()) -> str:
    """Draw what a choice is worth beside each other one: fewer late entries lie to the left.

    Parameters
    ----------
    rows : sequence of Against
        One for each choice that was not taken.
    on_scale_of : sequence of Against, optional
        Rows of pictures that are compared with this one; by default its own alone.

    Returns
    -------
    str
        SVG, without anything that is loaded or run.
    """
    scale = _scale(on_scale_of or rows)
    height = _TOP + len(rows) * _ROW + _AXIS
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH} {height}" role="img">',
        f'<rect width="{_WIDTH}" height="{height}" fill="#fff"/>',
        *_axis(scale, height),
    ]
    for number, row in enumerate(rows):
        parts += _row(row, scale, _TOP + number * _ROW)
    return "".join((*parts, "</svg>"))


def _scale(rows: Sequence[Against]) -> _Scale:
    ends = [0.0]
    for _, worth in rows:
        ends += [float(worth.here), float(worth.differences.min()), float(worth.differences.max())]
    low, high = min(ends), max(ends)
    margin = max(0.04 * (high - low), 1.0)
    return _Scale(low - margin, high + margin)


def _step(scale: _Scale) -> int:
    """Distance of the numbers on the axis: some six to ten of them, round ones."""
    rough = max((scale.high - scale.low) / 8, 1)
    size = 10 ** int(np.floor(np.log10(rough)))
    return int(next(size * one for one in (1, 2, 5, 10) if size * one >= rough))


def _axis(scale: _Scale, height: int) -> Iterator[str]:
    step, floor = _step(scale), height - _AXIS
    first = int(np.ceil(scale.low / step)) * step
    for value in range(first, int(scale.high) + 1, step):
        x, zero = scale.x(value), value == 0
        look = 'stroke="#111" stroke-width="1.6"' if zero else 'stroke="#ddd"'
        yield f'<line x1="{x}" x2="{x}" y1="{_TOP}" y2="{floor}" {look}/>'
        label = "same" if zero else f"{abs(value):,}"
        yield f'<text x="{x}" y="{floor + 17}" text-anchor="middle" {_FONT}>{label}</text>'
    below = f'y="{floor + 38}" {_FONT}'
    yield f'<text x="{_LEFT}" {below}>← fewer late entries</text>'
    yield f'<text x="{_WIDTH - _RIGHT}" text-anchor="end" {below}>more late entries →</text>'


def _row(row: Against, scale: _Scale, top: int) -> Iterator[str]:
    worth = row.worth
    for line, words in enumerate(_lines(row)):
        y = top + _NAME + line * _LINE
        yield (
            f'<text x="{_LEFT}" y="{y}" {_FONT} {_HALO} font-weight="bold">{text_of(words)}</text>'
        )
    below = _NAME + _LINE * (len(_lines(row)) - 1)
    yield f'<path d="{_dots(worth.differences, scale, top + _FLOOR, below)}" {_ROUND}/>'
    estimate, low, high = worth.on_average
    y = top + _AVERAGE
    if low is not None and high is not None:
        yield (
            f'<line x1="{scale.x(low)}" x2="{scale.x(high)}" y1="{y}" y2="{y}" stroke="#111" '
            'stroke-width="7"/>'
        )
    if estimate is not None:
        x = scale.x(estimate)
        yield f'<line x1="{x}" x2="{x}" y1="{y - 9}" y2="{y + 9}" stroke="#111" stroke-width="3"/>'
    x, middle = scale.x(worth.here), top + _FLOOR - 3
    yield (
        f'<path d="M{x} {middle - 9}L{x + 9} {middle}L{x} {middle + 9}L{x - 9} {middle}Z" '
        'fill="#fff" stroke="#111" stroke-width="2.5"/>'
    )


def _lines(row: Against) -> list[str]:
    """Return the name of a row in lines that a picture holds; a very long one is cut."""
    return wrap(f"instead of {row.name}", _LONGEST, max_lines=2, placeholder=" ...")


_ROUND = f'stroke="#666" stroke-width="{_DOT}" stroke-linecap="round" fill="none"'


def _dots(differences: Whole, scale: _Scale, floor: int, below: int) -> str:
    """Stack the dots of surges that come to nearly the same; high stacks stand closer."""
    per_dot = (scale.high - scale.low) * (_DOT + 0.6) / (_WIDTH - _LEFT - _RIGHT)
    width = max(int(np.ceil(per_dot)), 1)
    values, counts = np.unique(np.floor_divide(differences, width), return_counts=True)
    rise = min(_DOT + 0.4, (_FLOOR - below - 10) / max(counts.max(initial=1), 1))
    moves = []
    for value, count in zip(values.tolist(), counts.tolist(), strict=True):
        x = scale.x(value * width + (width - 1) / 2)
        moves += [f"M{x} {floor - 3 - rise * place:.1f}h0" for place in range(count)]
    return "".join(moves)
