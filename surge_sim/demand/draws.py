"""The streams of one surge's demand: who draws from which, so that nothing moves anything else."""

from __future__ import annotations

from enum import IntEnum

import numpy as np

from surge_sim.randomness import Purpose, streams_of


class Source(IntEnum):
    """Where patients come from; each source has its own streams. Append only."""

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


#: roles, or classes, that fit between one kind's blocks and the next one's
_ROLES = 4_096
#: second stream of a kind and role: moments, beside how many
_MOMENTS = 1_000_000


class SurgeStreams:
    """The generators of one surge, by purpose.

    Parameters
    ----------
    seed, sample, surge : int
        As in :func:`surge_sim.randomness.stream`.
    """

    def __init__(self, seed: int, sample: int, surge: int) -> None:
        self.key = seed, sample, surge
        self._streams = streams_of(seed, sample, surge)

    def of_source(self, purpose: Purpose, source: int) -> np.random.Generator:
        """Return the stream of one source of patients."""
        return self._streams.stream(purpose, source)

    def of_entries(
        self, purpose: Purpose, kind: Kind, role: int, moments: bool = False
    ) -> np.random.Generator:
        """Return the stream of one kind of entries of one role.

        A role added at the end of the scenario takes streams that nobody had before.
        """
        block = kind * _ROLES + role + (_MOMENTS if moments else 0)
        return self._streams.stream(purpose, block)
