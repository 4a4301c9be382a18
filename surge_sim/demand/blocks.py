"""Which block of a purpose's streams belongs to whom, so that nothing moves anything else.

A role, or a cluster, added at the end of the scenario takes streams that nobody had before.
"""

from __future__ import annotations

from enum import IntEnum


class Source(IntEnum):
    """Where patients come from; its number is the block of its streams. Append only."""

    PRESENT = 0
    CURVE = 1
    COUNTS = 2
    EXTRA = 3
    #: the first cluster; the others follow
    CLUSTERS = 4


class Kind(IntEnum):
    """Kinds of entries; each kind and role has its own streams. Append only."""

    VISIT = 0
    URGENT = 1
    CLEAN = 2
    LOGGED = 3


def block_of(kind: Kind, number: int, moments: bool = False) -> int:
    """Return the block of one kind of entries of one role, or of one source of patients.

    ``moments``: of two streams of one purpose the one for when, beside the one for how many.
    """
    return (2 * kind + moments) << 32 | number
