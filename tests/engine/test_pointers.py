"""Tables behind a pointer read and write the cells that the tables themselves have."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import pytest
from numba import njit

from surge_sim.engine.compiled.pointers import pointer_to


class Tables(NamedTuple):
    """Two tables."""

    flat: Any
    deep: Any


@njit
def double_all(tables):
    """Double every cell through a pointer; the sizes are read behind it too."""
    there = pointer_to(tables)
    for place in range(len(there.flat)):
        there.flat[place].value *= 2
    for row in range(there.deep.shape[0]):
        for column in range(there.deep.shape[1]):
            there.deep[row, column] *= 2
    return there.flat.size + there.deep.size


def test_cells_are_found_in_records_and_in_two_dimensions():
    flat = np.zeros(3, dtype=[("before", np.int64), ("value", np.int64)])
    flat["value"] = 5, 7, 11
    deep = np.arange(6).reshape(2, 3)
    assert double_all(Tables(flat, deep)) == 9
    assert flat["value"].tolist() == [10, 14, 22]
    assert flat["before"].tolist() == [0, 0, 0]
    assert deep.tolist() == [[0, 2, 4], [6, 8, 10]]


def test_a_table_with_gaps_between_its_rows_is_refused():
    flat = np.zeros(6, dtype=[("before", np.int64), ("value", np.int64)])[::2]
    with pytest.raises(TypeError, match=r"flat is .*: its rows must follow each other"):
        double_all(Tables(flat, np.zeros((2, 3), dtype=np.int64)))
