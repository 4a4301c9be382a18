"""The only maker of random generators: one numbered stream per purpose.

A stream is named by (seed, sample, surge, purpose, block) and by nothing else, so changing
the stock, adding a feature or splitting the work over processes moves no draw of anything.
Numbers are append-only: a released number keeps its meaning for ever.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import IntEnum

import numpy as np
from numpy.random import PCG64DXSM, Generator
from numpy.random.bit_generator import ISeedSequence
from numpy.typing import NDArray


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
    RESIDUAL_STAYS = 21


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
    return Generator(PCG64DXSM(np.random.SeedSequence(seed, spawn_key=key)))


# Constants of numpy's SeedSequence (numpy documentation, "Parallel random number generation";
# the algorithm is O'Neill's "Developing a seed_seq Alternative", 2015). numpy promises to keep it.
_MASK = 0xFFFF_FFFF
_STEP_A, _STEP_B = 0x931E_8875, 0x58F3_8DED
_LEFT, _RIGHT = np.uint32(0xCA01_F9DD), np.uint32(0x4973_F715)
_HALF = np.uint32(16)

Words = NDArray[np.uint32]


def _powers(first: int, step: int, count: int) -> Words:
    values = [first]
    for _ in range(count):
        values.append(values[-1] * step & _MASK)
    return np.array(values, dtype=np.uint32)


_A = _powers(0x43B0_D7E5, _STEP_A, 256)
_B = _powers(0x8B51_F9DD, _STEP_B, 8)


def _stirred(pools: Words, words: Words, step: int) -> Words:
    """Stir one more word of each key, shape (keys, 1), into its pool, shape (..., keys, 4)."""
    mixed = (words ^ _A[step : step + 4]) * _A[step + 1 : step + 5]
    mixed ^= mixed >> _HALF
    pools = pools * _LEFT - mixed * _RIGHT
    pools ^= pools >> _HALF
    return pools


def _states(pools: Words) -> NDArray[np.uint64]:
    """Return the four words of 64 bits that each pool gives a generator, shape (..., keys, 4)."""
    words = (np.concatenate((pools, pools), axis=-1) ^ _B[:8]) * _B[1:]
    words ^= words >> _HALF
    return words[..., ::2] | words[..., 1::2].astype(np.uint64) << np.uint64(32)


class _Words(ISeedSequence):
    """Seed words that are worked out already."""

    def __init__(self, words: NDArray[np.uint64]) -> None:
        self._words = words

    def generate_state(  # type: ignore[override]
        self, n_words: int, dtype: type = np.uint32
    ) -> NDArray[np.uint64]:
        """Return the four words of 64 bits that the generator asks for."""
        return self._words


class _Asked:
    """Keys (purpose, block) that surges asked for of late: the next surge will want the same."""

    most = 512

    def __init__(self, keys: tuple[tuple[int, int], ...] = ()) -> None:
        self.place = {key: number for number, key in enumerate(keys)}
        columns = np.array(keys, dtype=np.uint32).reshape(-1, 2)
        self.purposes, self.blocks = columns[:, :1].copy(), columns[:, 1:].copy()

    def and_also(self, key: tuple[int, int]) -> _Asked:
        """Return these keys and one more; all are forgotten when there are too many."""
        return _Asked((*self.place, key) if len(self.place) < self.most else (key,))


_asked = _Asked()


class Streams:
    """The streams of one surge: the same as :func:`stream`, several times as quick to set up.

    A surge sets up dozens of streams whose keys begin alike: that beginning is stirred once, and
    the rest side by side for all the keys that other surges asked for.

    Parameters
    ----------
    seed, sample, surge : int
        See :func:`stream`; sample, surge and block below 2**32.
    """

    def __init__(self, seed: int, sample: int, surge: int) -> None:
        start = np.random.SeedSequence(seed, spawn_key=(int(sample), int(surge)))
        self._pool: Words = start.pool
        # words of the seed beyond the pool, and two of the key, were stirred in so far
        seed_words = max(4, -(-int(seed).bit_length() // 32))
        self._step = 16 + 4 * (seed_words - 4 + 2)
        self._asked = _asked
        self._states: NDArray[np.uint64] | None = None

    def stream(self, purpose: Purpose, block: int = 0) -> np.random.Generator:
        """Return the generator of one purpose at its beginning; see :func:`stream`."""
        place = self._asked.place.get((purpose, block))
        if place is None:
            words = self._new((int(purpose), int(block)))
        else:
            if self._states is None:
                Streams.work_out([self], self._asked)
                assert self._states is not None
            words = self._states[place]
        return Generator(PCG64DXSM(_Words(words)))  # type: ignore[arg-type]

    def _new(self, key: tuple[int, int]) -> NDArray[np.uint64]:
        global _asked
        if key not in _asked.place:
            _asked = _asked.and_also(key)
        purpose, block = np.array(key, dtype=np.uint32).reshape(2, 1, 1)
        pool = _stirred(self._pool, purpose, self._step)
        states: NDArray[np.uint64] = _states(_stirred(pool, block, self._step + 4))[0]
        return states

    @staticmethod
    def work_out(several: Sequence[Streams], asked: _Asked) -> None:
        """Work out what surges of one seed will likely ask for, side by side."""
        step = several[0]._step
        pools = np.stack([streams._pool for streams in several])[:, np.newaxis]
        pools = _stirred(pools, asked.purposes, step)
        states = _states(_stirred(pools, asked.blocks, step + 4))
        for streams, own in zip(several, states, strict=True):
            streams._asked, streams._states = asked, own


#: streams of the surges of late, whose ranges, demand and work ask for them in turn
_lately: dict[tuple[int, int, int], Streams] = {}
_MOST_LATELY = 64


def streams_of(seed: int, sample: int, surge: int) -> Streams:
    """Return the streams of one surge, the same object for all that draw for it."""
    key = (seed, sample, surge)
    streams = _lately.get(key)
    if streams is None:
        if len(_lately) >= _MOST_LATELY:
            _lately.pop(next(iter(_lately)), None)
        streams = _lately[key] = Streams(*key)
    return streams


def streams_of_several(seed: int, sample: int, surges: Sequence[int]) -> list[Streams]:
    """Return the streams of some surges, worked out side by side."""
    several = [streams_of(seed, sample, surge) for surge in surges]
    if several and _asked.place:
        Streams.work_out(several, _asked)
    return several
