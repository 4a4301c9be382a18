"""Small charts as SVG by hand: scales, axes, lines, bands. Looks come from the page's style.

Colours are names of classes, so that a page can have a dark and a light form and print in grey.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from surge_sim.report.html import text_of

#: width of a chart: two stand side by side on a wide screen, one fills a phone, and words stay
#: readable on both
WIDTH = 440
_RIGHT, _TOP, _BELOW = 12, 14, 40
#: room for a character of an axis
_CHARACTER = 7.2


class Frame(NamedTuple):
    """Where data lie: the ends of both axes, and the height and left edge of the chart."""

    most_x: float
    most_y: float
    height: int = 220
    left: float = 40

    @property
    def floor(self) -> float:
        """Height of the x axis."""
        return self.height - _BELOW

    def x(self, value: float) -> float:
        """Return the place of a value of the x axis."""
        return round(self.left + (WIDTH - self.left - _RIGHT) * value / self.most_x, 1)

    def y(self, value: float) -> float:
        """Return the place of a value of the y axis."""
        return round(self.floor - (self.floor - _TOP) * value / self.most_y, 1)


def steps(most: float, whole: bool) -> list[float]:
    """Return round numbers from 0 to at least `most`, some five of them."""
    rough = max(most, 1e-9) / 5
    size = 10.0 ** math.floor(math.log10(rough))
    step = next(size * one for one in (1, 2, 5, 10) if size * one >= rough * 0.999)
    if whole:
        step = max(1.0, round(step))
    count = math.ceil(most / step - 1e-9)
    return [round(step * place, 9) for place in range(max(count, 1) + 1)]


def frame(most_x: float, most_y: float, whole: bool = False, unit: str = "") -> Frame:
    """Return a frame that holds values from 0 to these; the y axis ends at a round number."""
    marks = steps(most_y, whole=whole)
    widest = max(len(f"{mark:,g}{unit}") for mark in marks)
    return Frame(most_x, marks[-1], left=14 + _CHARACTER * widest)


def chart(frame: Frame, name: str, parts: Sequence[str]) -> str:
    """Return a chart; its name is what a screen reader says of it."""
    return (
        f'<svg viewBox="0 0 {WIDTH} {frame.height}" role="img" aria-label="{text_of(name)}">'
        f"{''.join(parts)}</svg>"
    )


def y_axis(frame: Frame, whole: bool = False, unit: str = "") -> Iterator[str]:
    """Draw a line across for each round number of the y axis."""
    for mark in steps(frame.most_y, whole=whole):
        y = frame.y(mark)
        yield f'<path class="grid" d="M{frame.left:.1f} {y}H{WIDTH - _RIGHT}"/>'
        yield f'<text x="{frame.left - 6:.1f}" y="{y + 4}" class="end">{mark:,g}{unit}</text>'


def x_axis(frame: Frame, marks: Sequence[tuple[float, str]], name: str) -> Iterator[str]:
    """Draw the x axis with a word at each mark, and its name below."""
    yield f'<path class="axis" d="M{frame.left:.1f} {frame.floor}H{WIDTH - _RIGHT}"/>'
    for value, words in marks:
        x = frame.x(value)
        # the last word stays inside the chart
        side = "end" if x > WIDTH - 30 else "middle"
        yield f'<path class="axis" d="M{x} {frame.floor}v4"/>'
        yield f'<text x="{x}" y="{frame.floor + 17}" class="{side}">{text_of(words)}</text>'
    middle = (frame.left + WIDTH - _RIGHT) / 2
    yield (
        f'<text x="{middle:.1f}" y="{frame.height - 6}" class="middle name">{text_of(name)}</text>'
    )


def line(frame: Frame, points: Sequence[tuple[float, float]], look: str) -> str:
    """Draw a line through points."""
    return f'<path class="{look}" d="M{_through(frame, points)}"/>'


def band(
    frame: Frame, x: Sequence[float], low: Iterable[float], high: Iterable[float], look: str
) -> str:
    """Fill what lies between two lines."""
    there = _through(frame, list(zip(x, high, strict=True)))
    back = _through(frame, list(zip(x, low, strict=True))[::-1])
    return f'<path class="{look}" d="M{there}L{back}Z"/>'


def _through(frame: Frame, points: Sequence[tuple[float, float]]) -> str:
    return "L".join(f"{frame.x(x):g} {frame.y(y):g}" for x, y in points)
