"""One check against the outside world: the reference value, its source, and what we compute."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum
from functools import cached_property

from scipy.stats import t as student

#: chance that one random check fails although the program is right (two-sided)
FALSE_ALARM = 3e-6
#: the whole suite, all random checks together, stays under this
WHOLE_SUITE = 1e-3
#: a random check must be sharp: its standard error is at most this share of the value
SHARP = 0.02


class Kind(Enum):
    """Where the reference value comes from."""

    PUBLISHED = "published"
    ROUNDED = "published, rounded"
    SECOND = "published, read in a copy"
    RECOMPUTED = "recomputed from the source's formula"
    OWN = "own derivation"
    FROM_MEMORY = "from memory"
    COMMON = "common practice, no source"
    SOFTWARE = "other software"
    DATA = "open data"


class By(Enum):
    """What computed the value: theory written out in the tests, or surge_sim itself."""

    THEORY = "theory"
    TOOL = "surge_sim"


@dataclass(frozen=True)
class Found:
    """A computed value; a random one has a standard error and the degrees of freedom of it."""

    value: float
    error: float | None = None
    freedom: int = 10**6

    @property
    def margin(self) -> float:
        """How far a correct program may be off, at the false-alarm rate of one check."""
        if self.error is None:
            return 0.0
        return float(student.ppf(1 - FALSE_ALARM / 2, self.freedom)) * self.error

    @property
    def text(self) -> str:
        """The value as the table prints it."""
        if self.error is None:
            return f"{self.value:.6g}"
        return f"{self.value:.5g} ± {self.error:.2g}"


@dataclass(frozen=True)
class Check:
    """Quantity, reference value as its source has it, source, and how we get at it.

    ``reference`` is text, because its last digit says how exact it is: a computed value may
    differ by half a unit of that digit, a random one by its margin as well.
    """

    id: str
    group: str
    quantity: str
    reference: str
    source: str
    kind: Kind
    by: By
    compute: Callable[[], Found]
    #: faults that would leave the value as it is: completes 'it would not notice ...'
    unnoticed: str
    #: unit of the value, for the table
    unit: str = ""
    #: greatest standard error as a share of the value
    sharp: float = SHARP

    @property
    def expected(self) -> float:
        """The reference value as a number."""
        return float(self.reference.replace(",", ""))

    @property
    def half_digit(self) -> float:
        """Half a unit of the last printed digit."""
        _, _, decimals = self.reference.replace(",", "").partition(".")
        return 0.5000001 * 10.0 ** -len(decimals)

    @cached_property
    def found(self) -> Found:
        """The computed value (worked out once in a process)."""
        return self.compute()

    def trouble(self) -> str | None:
        """Say what is wrong, or nothing."""
        found = self.found
        off = abs(found.value - self.expected)
        if off > self.half_digit + found.margin:
            return (
                f"{self.id}: {self.quantity} should be {self.reference} ({self.source}), "
                f"computed {found.text}: off by {off:.3g}, allowed "
                f"{self.half_digit + found.margin:.3g}"
            )
        if found.error is not None and found.error > self.sharp * abs(self.expected):
            return f"{self.id}: too blunt, standard error {found.error:.3g} of {self.expected:.6g}"
        return None


def plain(compute: Callable[[], float]) -> Callable[[], Found]:
    """Wrap a function that gives an exact number."""
    return lambda: Found(float(compute()))
