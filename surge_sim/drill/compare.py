"""Every path through an exercise on the played surge and on others: worth and random variation."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from itertools import islice
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from surge_sim.drill.branches import Surges
from surge_sim.drill.outcome import InAll, counted, in_all
from surge_sim.engine.play import play
from surge_sim.engine.surges import workers
from surge_sim.errors import Fault
from surge_sim.scenario.exercise import Choices, Exercise, never_differ
from surge_sim.statistics.intervals import Interval, mean_interval
from surge_sim.statistics.target import as_judged

Whole = NDArray[np.int64]

#: of the surges among which a typical and a hard one are looked for: this share is easier, or as
#: hard
TYPICAL, HARD = 0.5, 0.9
#: choices are compared on so many other surges when an exercise is checked
LOOKED_AT = 20


@dataclass(frozen=True, eq=False)
class PlayPaths:
    """What is done for each surge, in whichever process: every given path is played; picklable."""

    exercise: Exercise
    paths: tuple[Choices, ...]
    #: all numbers of `InAll`, or only those that `counted` gives, in half the time
    in_full: bool

    def __call__(self, number: int) -> Whole:
        """Return a row for each path, shape (1, paths, fields)."""
        surge = self._surges.surge(number)
        target = surge.settings.target
        cases = map(surge.situation, self.paths)
        if not self.in_full:
            return np.array([[counted(one, target) for one in cases]], dtype=np.int64)
        rows = [in_all(one.demand, as_judged(one, play(*one), target), target) for one in cases]
        return np.array([rows], dtype=np.int64)

    @cached_property
    def _surges(self) -> Surges:
        return Surges(self.exercise)


def played(
    exercise: Exercise,
    paths: tuple[Choices, ...],
    numbers: range | list[int],
    processes: int | None = None,
    progress: Callable[[int], object] | None = None,
    in_full: bool = False,
) -> Whole:
    """Play paths through an exercise on some surges; shape (surges, paths, fields).

    Fields are all those of `InAll` where everything is counted in full, else the first of them.
    """
    found = []
    with workers(processes) as place:
        for rows in place.over(PlayPaths(exercise, paths, in_full), numbers):
            found.append(rows)
            if progress is not None:
                progress(len(rows))
    return np.concatenate(found)


def column(rows: Whole, name: str) -> Whole:
    """Return one number of each play, by its name in `InAll`."""
    return rows[..., InAll._fields.index(name)]


def chosen_surge(exercise: Exercise, processes: int | None = None) -> int:
    """Return the number of the surge that is played.

    `typical` and `hard` are found by their ranks among as many first surges as there will be
    others: the injects happen, nothing is decided, and the share of late entries is compared.
    Typical is the one in the middle, the lower one of two; as hard as the hard one, or easier,
    are nine in ten. The first of equals.
    """
    which = exercise.file.surge
    if isinstance(which, int):
        return which
    rows = played(exercise, ((),), range(exercise.file.other_surges), processes)[:, 0]
    share = column(rows, "late") / np.maximum(column(rows, "entries"), 1)
    rank = int(np.ceil((TYPICAL if which == "typical" else HARD) * len(share))) - 1
    return int(np.argsort(share, kind="stable")[rank])


def other_numbers(exercise: Exercise, number: int, count: int | None = None) -> list[int]:
    """Return the numbers of the other surges: those behind the first ones, without the played."""
    first = exercise.file.other_surges
    count = first if count is None else count
    return [one for one in range(first, first + count + 1) if one != number][:count]


class Hardness(NamedTuple):
    """How hard the played surge was, beside the others with the same choices."""

    entries: int
    late: int
    #: the middle of the others' shares of late entries
    usual_share: float
    #: others with a smaller share, with the same one, and all
    easier: int
    alike: int
    others: int


class Worth(NamedTuple):
    """What one choice came to, beside another one with all other choices alike."""

    #: on the played surge; below 0: fewer
    here: int
    #: over the others
    on_average: Interval
    #: nine in ten of the others had more than the first, nine in ten less than the second
    low: int
    high: int
    #: others with fewer late entries, with as many, with more
    fewer: int
    same: int
    more: int
    #: of each other surge, shape (surges,)
    differences: Whole

    @property
    def variation(self) -> float:
        """What of the difference on the played surge was random variation."""
        return self.here - (self.on_average.estimate or 0.0)


@dataclass(frozen=True, eq=False)
class Comparison:
    """Rows of `InAll` of every path."""

    exercise: Exercise
    number: int
    #: of the played surge, shape (paths, fields)
    here: Whole
    #: of the others, shape (surges, paths, fields); counted in full, or the first fields only
    others: Whole

    def place_of(self, choices: Choices) -> int:
        """Return the place of a path among all."""
        return self.exercise.paths.index(choices)

    def hardness(self, choices: Choices) -> Hardness:
        """Compare the played surge with the others, with the same choices."""
        path = self.place_of(choices)
        entries, late = (column(self.others[:, path], name) for name in ("entries", "late"))
        here = InAll(*self.here[path].tolist())
        share = late / np.maximum(entries, 1)
        # products of whole numbers, so that equal shares are equal
        mine, theirs = here.late * entries, late * here.entries
        return Hardness(
            here.entries,
            here.late,
            float(np.median(share)),
            int((theirs < mine).sum()),
            int((theirs == mine).sum()),
            len(share),
        )

    def worth(self, choices: Choices, moment: int, other: int, of: str = "late") -> Worth:
        """Compare what was chosen at a moment with another choice there, all else alike.

        ``of`` is what is compared: `late` entries, or `urgent_late` ones.
        """
        instead = (*choices[:moment], other, *choices[moment + 1 :])
        one, two = self.place_of(choices), self.place_of(instead)
        others, here = column(self.others, of), column(self.here, of)
        differences = others[:, one] - others[:, two]
        low, high = np.quantile(differences, (0.1, 0.9), method="inverted_cdf")
        return Worth(
            int(here[one] - here[two]),
            mean_interval(differences),
            int(low),
            int(high),
            int((differences < 0).sum()),
            int((differences == 0).sum()),
            int((differences > 0).sum()),
            differences,
        )

    def average_late(self, choices: Choices) -> Interval:
        """Return the late entries of a path, on average over the others."""
        return mean_interval(column(self.others[:, self.place_of(choices)], "late"), lowest=0.0)


def compare(
    exercise: Exercise,
    number: int,
    count: int | None = None,
    processes: int | None = None,
    progress: Callable[[int], object] | None = None,
    in_full: bool = False,
) -> Comparison:
    """Play every path on the played surge and on others.

    Parameters
    ----------
    exercise : Exercise
        What is played.
    number : int
        Of the played surge.
    count : int, optional
        Of other surges; missing: as many as the exercise says.
    processes : int, optional
        By default one a core.
    progress : callable, optional
        Is told how many surges have been played since it was told last.
    in_full : bool
        Whether the others are counted in full, too; `faults_of_choices` needs it.
    """
    paths, numbers = exercise.paths, other_numbers(exercise, number, count)
    others = played(exercise, paths, numbers, processes, progress, in_full)
    (here,) = played(exercise, paths, [number], processes, progress, in_full=True)
    return Comparison(exercise, number, here, others)


def alike(comparison: Comparison, others_too: bool) -> list[tuple[int, int, int]]:
    """Find the choices that never differ: moment, first choice, and the one that is like it.

    Parameters
    ----------
    comparison : Comparison
        All paths on some surges.
    others_too : bool
        Whether they must be alike on all surges, counted in full, or on the played one alone.
    """
    exercise = comparison.exercise
    rows = comparison.here[None]
    if others_too:
        rows = np.concatenate((rows, comparison.others))
    found = []
    for moment, one in enumerate(exercise.moments):
        for second in range(1, len(one.choices)):
            like = (
                first for first in range(second) if _same(comparison, rows, moment, first, second)
            )
            found += [(moment, first, second) for first in islice(like, 1)]
    return found


def _same(comparison: Comparison, rows: Whole, moment: int, first: int, second: int) -> bool:
    """Whether two choices of a moment come to the same, whatever else is chosen."""
    for choices in comparison.exercise.paths:
        if choices[moment] == first:
            instead = (*choices[:moment], second, *choices[moment + 1 :])
            one, two = comparison.place_of(choices), comparison.place_of(instead)
            if not np.array_equal(rows[:, one], rows[:, two]):
                return False
    return True


def faults_of_choices(exercise: Exercise, comparison: Comparison) -> list[Fault]:
    """Tell of every choice that never differs from another one."""
    where = f"on surge {comparison.number} and on {len(comparison.others)} others"
    return [never_differ(exercise, *one, where) for one in alike(comparison, others_too=True)]
