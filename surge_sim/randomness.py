"""The only maker of random generators: one numbered stream per purpose.

A stream is named by (seed, sample, surge, purpose, block) and by nothing else, so changing
the stock, adding a feature or splitting the work over processes moves no draw of anything.
Numbers are append-only: a released number keeps its meaning for ever.
"""

from __future__ import annotations

from enum import IntEnum

import numpy as np
from numpy.random.bit_generator import ISeedSequence


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


# Constants of numpy's SeedSequence (numpy documentation, "Parallel random number generation";
# the algorithm is O'Neill's "Developing a seed_seq Alternative", 2015). numpy promises to keep it.
_MASK = 0xFFFF_FFFF
_STEP_A, _STEP_B = 0x931E_8875, 0x58F3_8DED
_LEFT, _RIGHT = 0xCA01_F9DD, 0x4973_F715


def _powers(first: int, step: int, count: int) -> list[int]:
    values = [first]
    for _ in range(count):
        values.append(values[-1] * step & _MASK)
    return values


_A = _powers(0x43B0_D7E5, _STEP_A, 256)
_B = _powers(0x8B51_F9DD, _STEP_B, 8)


def _stirred(pool: list[int], word: int, step: int) -> tuple[list[int], int]:
    """Stir one more word of the key into the four words of the pool."""
    new = []
    for old in pool:
        mixed = (word ^ _A[step]) * _A[step + 1] & _MASK
        step += 1
        mixed = old * _LEFT - (mixed ^ mixed >> 16) * _RIGHT & _MASK
        new.append(mixed ^ mixed >> 16)
    return new, step


class _Words(ISeedSequence):
    """Seed words that are worked out already."""

    def __init__(self, words: np.ndarray) -> None:
        self._words = words

    def generate_state(  # type: ignore[override]
        self, n_words: int, dtype: type = np.uint32
    ) -> np.ndarray:
        """Return the four words of 64 bits that the generator asks for."""
        return self._words


class Streams:
    """The streams of one surge: the same as :func:`stream`, several times as quick to set up.

    A surge sets up dozens of streams whose keys begin alike; that beginning is stirred once.

    Parameters
    ----------
    seed, sample, surge : int
        See :func:`stream`; sample, surge and block below 2**32.
    """

    def __init__(self, seed: int, sample: int, surge: int) -> None:
        start = np.random.SeedSequence(seed, spawn_key=(int(sample), int(surge)))
        self._pool = [int(word) for word in start.pool]
        # words of the seed beyond the pool, and two of the key, were stirred in so far
        seed_words = max(4, -(-int(seed).bit_length() // 32))
        self._step = 16 + 4 * (seed_words - 4 + 2)
        self._purposes: dict[int, tuple[list[int], int]] = {}

    def stream(self, purpose: Purpose, block: int = 0) -> np.random.Generator:
        """Return the generator of one purpose; see :func:`stream`."""
        known = self._purposes.get(purpose)
        if known is None:
            known = self._purposes[purpose] = _stirred(self._pool, int(purpose), self._step)
        pool, _ = _stirred(known[0], int(block), known[1])
        words = []
        for number in range(8):
            word = (pool[number % 4] ^ _B[number]) * _B[number + 1] & _MASK
            words.append(word ^ word >> 16)
        state = np.array(
            [words[0] | words[1] << 32, words[2] | words[3] << 32,
             words[4] | words[5] << 32, words[6] | words[7] << 32],
            dtype=np.uint64,
        )  # fmt: skip
        return np.random.Generator(np.random.PCG64DXSM(_Words(state)))  # type: ignore[arg-type]
