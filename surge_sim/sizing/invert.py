"""One surge turned round: the least rung of every line with which it keeps its target.

More stock hurts a surge so rarely that the search may lean on it (the tool measures how
often, and the certificate does not depend on it): a line needs no fewer rungs than a richer
line and no more than a poorer one. So the ends of the box are solved first, then the middles
between ends that differ; between ends that need the same nothing is played.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from surge_sim.sizing.space import Space
from surge_sim.statistics.promise import kept

if TYPE_CHECKING:
    from surge_sim.sizing.player import Player


class Inversion(NamedTuple):
    """What one surge needs: small numbers only, for they travel between processes."""

    #: least rung by line; the number of rungs stands for "none", shape (lines,)
    least: NDArray[np.int16]
    plays: int
    #: of the surge
    entries: int = 0


def first_true(
    test: Callable[[int], bool], low: int, high: int, guess: int | None = None, stride: int = 1
) -> int:
    """Return the least place in low..high-1 where a rising test holds, or ``high``.

    Starts at the guess and doubles its stride until the answer lies between two tried
    places, then halves. The stride should be about how far off the guess mostly is.
    """
    if low >= high:
        return high
    place = min(max(low if guess is None else guess, low), high - 1)
    stride = max(stride, 1)
    if test(place):
        high = place
        while high > low:
            place = max(high - stride, low)
            if not test(place):
                low = place + 1
                break
            high, stride = place, stride * 2
    else:
        low = place + 1
        while low < high:
            place = min(low + stride - 1, high - 1)
            if test(place):
                high = place
                break
            low, stride = place + 1, stride * 2
    while low < high:
        place = (low + high) // 2
        if test(place):
            high = place
        else:
            low = place + 1
    return high


@dataclass(frozen=True)
class InvertTask:
    """The work of one surge, picklable: draw it once and turn it round."""

    player: Player
    sample: int
    space: Space
    #: where earlier surges found the floor of the ladder
    guess_rung: int = 0
    #: and how far off that mostly is
    stride: int = 1

    def __call__(self, number: int) -> Inversion:
        """Turn one surge round."""
        surge = self.player.surge(self.sample, number)
        known: dict[tuple[int, ...], bool] = {}
        target, entries = self.player.target, 0

        def passes(line: tuple[int, ...], rung: int) -> bool:
            nonlocal entries
            key = (*line, rung)
            if key not in known:
                score = surge.score(self.space.stock(line, rung))
                known[key], entries = kept(score, target), score.entries
            return known[key]

        halving = _Halving(self.space, passes, self.guess_rung, self.stride)
        least = halving.least().astype(np.int16)
        return Inversion(least, len(known), entries)


class _Halving:
    """Least rungs of all open lines, ends first, from what is known of poorer and richer ones."""

    def __init__(
        self,
        space: Space,
        passes: Callable[[tuple[int, ...], int], bool],
        guess: int,
        stride: int,
    ) -> None:
        self.shape, self.rungs = space.shape, len(space.ladder)
        self.passes, self.guess, self.stride = passes, guess, stride
        opened = space.open_lines or (True,) * int(np.prod(self.shape, dtype=np.int64))
        self.open = np.array(opened, dtype=np.bool_).reshape(self.shape)
        #: the answer of each line lies between these
        self.low = np.zeros(self.shape, dtype=np.int64)
        self.high = np.full(self.shape, self.rungs, dtype=np.int64)

    def least(self) -> NDArray[np.int64]:
        """Return the least rung of every line; closed ones take a poorer line's answer."""
        top = tuple(length - 1 for length in self.shape)
        floor = first_true(
            lambda rung: self.passes(top, rung), 0, self.rungs, self.guess, self.stride
        )
        self._note(top, floor)
        if self.shape and floor < self.rungs:
            first = tuple(int(places.min()) for places in np.nonzero(self.open))
            self._split(first, top)
        return self.high.ravel()

    def _split(self, first: tuple[int, ...], last: tuple[int, ...]) -> None:
        box = tuple(slice(a, b + 1) for a, b in zip(first, last, strict=True))
        for corner in (first, last):
            self._solve(corner)
        if not (self.open[box] & (self.low[box] < self.high[box])).any():
            return
        lengths = [b - a for a, b in zip(first, last, strict=True)]
        axis = int(np.argmax(lengths))
        middle = first[axis] + lengths[axis] // 2
        # the ends of a long row are shared, for both halves to lean on; short rows are cut apart
        after = middle if lengths[axis] > 1 else middle + 1
        self._split((*first[:axis], after, *first[axis + 1 :]), last)
        self._split(first, (*last[:axis], middle, *last[axis + 1 :]))

    def _solve(self, line: tuple[int, ...]) -> None:
        low, high = int(self.low[line]), int(self.high[line])
        if low == high or not self.open[line]:
            return
        if self.passes(line, low):
            self._note(line, low)
            return
        low += 1
        if high == self.rungs and low < high:
            # often nothing on a poor line is enough
            if not self.passes(line, high - 1):
                self._note(line, high)
                return
            high -= 1
        while low < high:
            middle = (low + high) // 2
            if self.passes(line, middle):
                high = middle
            else:
                low = middle + 1
        self._note(line, high)

    def _note(self, line: tuple[int, ...], rung: int) -> None:
        poorer = tuple(slice(0, place + 1) for place in line)
        richer = tuple(slice(place, None) for place in line)
        self.low[poorer] = np.maximum(self.low[poorer], rung)
        self.high[richer] = np.minimum(self.high[richer], rung)
