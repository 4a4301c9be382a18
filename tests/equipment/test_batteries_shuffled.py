"""In which order batteries come to hand where any usable one is issued."""

from __future__ import annotations

from collections import Counter

import numpy as np

from surge_sim.equipment.batteries import shuffled


def test_any_order_of_three_batteries_comes_about_equally_often() -> None:
    """Six orders in 6,000 marks: chi-square with 5 degrees passes 20.5 with a chance of 0.1 %."""
    found = Counter(
        tuple(sorted(range(3), key=lambda number: shuffled(mark, number)))
        for mark in range(0, 600_000, 100)
    )
    assert len(found) == 6
    assert sum((count - 1_000) ** 2 / 1_000 for count in found.values()) < 20.5


def test_marks_are_mixed_as_a_common_hash_of_32_bits_does_it() -> None:
    """Shift by 16, mix in, multiply by 73,244,475, twice; then shift and mix in once more.

    The same in numbers of 32 bits that throw away what does not fit.
    """
    marks, numbers = (values.ravel() for values in np.mgrid[0:1_000_000:9_973, 0:300:7])
    mixed = marks.astype(np.uint32) * np.uint32(65_537) + numbers.astype(np.uint32) * np.uint32(
        40_503
    )
    for _ in range(2):
        mixed = (mixed ^ (mixed >> np.uint32(16))) * np.uint32(73_244_475)
    mixed ^= mixed >> np.uint32(16)
    found = [shuffled(*one) for one in zip(marks.tolist(), numbers.tolist(), strict=True)]
    assert found == mixed.tolist()
