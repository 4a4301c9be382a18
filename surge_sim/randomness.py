"""The only maker of random generators: one numbered stream per purpose.

A stream is named by (seed, sample, surge, purpose, block) and by nothing else, so changing
the stock, adding a feature or splitting the work over processes moves no draw of anything.
Numbers are append-only: a released number keeps its meaning for ever.
"""

from __future__ import annotations

from enum import IntEnum

import numpy as np


class Sample(IntEnum):
    """Which set of surges a surge belongs to; sets share no draws."""

    RUN = 0
    CHOOSE = 1
    CERTIFY = 2


class Purpose(IntEnum):
    """What a stream is for. Append only; never renumber."""

    INPUTS = 0
    ARRIVALS = 1
    CLUSTERS = 2
    CLASSES = 3
    STAYS = 4
    ENTRIES = 5
    ROOM_TIMES = 6
    KIT_SHARE = 7
    URGENT = 8
    WEARERS = 9
    TERMINAL_CLEAN = 10
    HOODS = 11
    TUBES = 12
    WIPE_DOWN = 13
    PREFILTERS = 14
    MAIN_FILTERS = 15
    FILTER_AGES = 16
    FAULTS = 17
    REPAIRS = 18
    DONNING = 19
    DOFFING = 20


def stream(
    seed: int, sample: int, surge: int, purpose: Purpose, block: int = 0
) -> np.random.Generator:
    """Return the generator of one purpose in one surge.

    Parameters
    ----------
    seed : int
        The user's seed, 0 or more.
    sample : int
        See :class:`Sample`.
    surge : int
        Number of the surge, from 0.
    purpose : Purpose
        What the numbers are for.
    block : int
        Sub-stream, for example one per role or per 64 blowers.

    Returns
    -------
    numpy.random.Generator
        Seeded by ``SeedSequence(seed, spawn_key=(sample, surge, purpose, block))``:
        numpy documentation, "Parallel random number generation".
    """
    key = (int(sample), int(surge), int(purpose), int(block))
    return np.random.Generator(np.random.PCG64DXSM(np.random.SeedSequence(seed, spawn_key=key)))
