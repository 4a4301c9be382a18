"""One surge turned round: the least rung of every line with which it keeps its target.

More stock hurts a surge so rarely that the search may lean on it (the tool measures how
often, and the certificate does not depend on it): each line starts from its neighbours'
answers, and costs about one and a half plays.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from surge_sim.sizing.player import keeps_target
from surge_sim.sizing.space import Space

if TYPE_CHECKING:
    from surge_sim.sizing.player import Player


class Inversion(NamedTuple):
    """What one surge needs: small numbers only, for they travel between processes."""

    #: least rung by line; the number of rungs stands for "none", shape (lines,)
    least: NDArray[np.int16]
    plays: int


def first_true(test: Callable[[int], bool], low: int, high: int, guess: int | None = None) -> int:
    """Return the least place in low..high-1 where a rising test holds, or ``high``.

    Starts at the guess and doubles its stride until the answer lies between two tried
    places, then halves.
    """
    if low >= high:
        return high
    place = min(max(low if guess is None else guess, low), high - 1)
    stride = 1
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
    #: where earlier surges found the floor of the ladder and the first line that helps
    guess_rung: int = 0
    guess_line: int = 0

    def __call__(self, number: int) -> Inversion:
        """Turn one surge round."""
        surge = self.player.surge(self.sample, number)
        known: dict[tuple[int, ...], bool] = {}
        target = self.player.target

        def passes(line: tuple[int, ...], rung: int) -> bool:
            key = (*line, rung)
            if key not in known:
                known[key] = keeps_target(surge, self.space.stock(line, rung), target)
            return known[key]

        least = _least_rungs(self.space, passes, self.guess_rung, self.guess_line)
        return Inversion(least.astype(np.int16), len(known))


def _least_rungs(
    space: Space,
    passes: Callable[[tuple[int, ...], int], bool],
    guess_rung: int,
    guess_line: int,
) -> NDArray[np.int64]:
    rungs = len(space.ladder)
    shape = space.shape
    least = np.full(shape, rungs, dtype=np.int64)
    top = tuple(length - 1 for length in shape)
    floor = first_true(lambda rung: passes(top, rung), 0, rungs, guess_rung)
    if not shape:
        return np.array([floor])
    if floor == rungs:
        return least.ravel()
    open_lines = np.array(
        space.open_lines or (True,) * int(np.prod(shape)), dtype=np.bool_
    ).reshape(shape)
    for fibre in np.ndindex(*shape[:-1]):
        guess_line = _walk_fibre(fibre, least, open_lines, (floor, rungs), passes, guess_line)
    return least.ravel()


def _walk_fibre(
    fibre: tuple[int, ...],
    least: NDArray[np.int64],
    open_lines: NDArray[np.bool_],
    span: tuple[int, int],
    passes: Callable[[tuple[int, ...], int], bool],
    guess: int,
) -> int:
    """Fill one row of lines, few to many of the last item; return where it began to pass."""
    floor, rungs = span
    length = least.shape[-1]
    known = np.full(length, rungs)
    for axis, index in enumerate(fibre):
        if index:
            less = (*fibre[:axis], index - 1, *fibre[axis + 1 :])
            known = np.minimum(known, least[less])
    wanted = np.flatnonzero(open_lines[fibre])
    if not wanted.size:
        least[fibre] = np.minimum.accumulate(known)
        return guess
    # where a neighbour already passed, this row passes too
    passing = np.flatnonzero(known[wanted] < rungs)
    end = int(passing[0]) if passing.size else len(wanted)
    first = first_true(lambda place: passes((*fibre, int(wanted[place])), rungs - 1), 0, end, guess)
    best = rungs
    for index in range(length):
        best = min(best, int(known[index]))
        place = int(np.searchsorted(wanted, index))
        is_wanted = place < len(wanted) and wanted[place] == index
        if is_wanted and place >= first and best > floor:
            line = (*fibre, index)
            high = min(best, rungs - 1)
            best = first_true(
                lambda rung, line=line: passes(line, rung),  # type: ignore[misc]
                floor,
                high,
                high - 1 if best < rungs else (floor + high) // 2,
            )
        least[(*fibre, index)] = best
    return first
