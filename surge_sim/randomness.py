"""The only maker of random generators: one numbered stream per purpose.

A stream is named by (seed, sample, surge, purpose, block) and by nothing else, so changing
the stock, adding a feature or splitting the work over processes moves no draw of anything.
Numbers are append-only: a released number keeps its meaning for ever.

The generator is Philox4x64-10 (Salmon, Moraes, Dror and Shaw, "Parallel random numbers: as easy
as 1, 2, 3", SC11, 2011). It turns a counter of 256 bits into four numbers of 64 bits, in a way
that a key of 128 bits chooses. Seed, sample and surge make the key. Purpose and block are the
upper half of the counter, and the draws of a stream count through the lower half: two streams
meet only after 2**128 steps.
"""

from __future__ import annotations

from enum import IntEnum

import numpy as np
from numpy.random import Generator, Philox, SeedSequence
from numpy.random.bit_generator import ISeedSequence
from numpy.typing import NDArray


class Sample(IntEnum):
    """Which set of surges a surge belongs to; sets share no draws."""

    RUN = 0
    CHOOSE = 1
    CONFIRM = 2
    #: beside RUN, in a study of inputs
    SECOND = 3


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
    HE_FILTERS = 15
    FILTER_AGES = 16
    FAULTS = 17
    REPAIRS = 18
    DONNING = 19
    DOFFING = 20
    RESIDUAL_STAYS = 21
    MARKS = 22
    BATTERY_FAILURES = 23
    BATTERY_REPLACEMENTS = 24
    CHARGER_FAULTS = 25
    CHARGER_REPAIRS = 26
    #: which patients and visits of another scenario are left out: see `demand.plan.beside`
    LEFT_OUT = 27
    #: which surges a limit is worked out from again and again; belongs to no surge
    RESAMPLING = 28
    #: which wearers need a large hood
    HOOD_SIZES = 29


class Source(IntEnum):
    """Where patients come from: each source has a block of streams. Append only."""

    PRESENT = 0
    CURVE = 1
    COUNTS = 2
    EXTRA = 3
    #: the first cluster; the others follow
    CLUSTERS = 4
    #: those whom a scenario has beyond another one
    MORE = 2**31


class Kind(IntEnum):
    """Kinds of entries: each kind and role has blocks of streams. Append only."""

    VISIT = 0
    URGENT = 1
    CLEAN = 2
    LOGGED = 3


def block_of(kind: Kind, number: int, moments: bool = False) -> int:
    """Return the block of one kind of entries of one role, or of one source of patients.

    A role or a cluster added at the end of the scenario takes blocks that nobody had before.
    ``moments``: of two streams of one purpose the one for when, beside the one for how many.
    """
    return (2 * kind + moments) << 32 | number


#: bits of a key's second word that hold the number of the surge; the sample stands above them
_SURGE_BITS = 48
#: bit of the second word that tells the run-in of a surge from the surge
_RUN_IN = 2**62
#: seeds from here on do not fit into the first word and are hashed
_LARGE_SEED = 2**63


def _seed_word(seed: int) -> int:
    """Return 64 bits for a seed of any size.

    Seeds below 2**63 stand for themselves. Larger ones are hashed by numpy's SeedSequence, with
    the highest bit set: none is taken for a small one, and two of a billion large ones come to
    the same word with a chance of about 0.05.
    """
    if seed < 0:
        raise ValueError(f"a seed is 0 or more, not {seed}")
    if seed < _LARGE_SEED:
        return seed
    return int(SeedSequence(seed).generate_state(1, np.uint64)[0]) | _LARGE_SEED


class _Key(ISeedSequence):
    """A key that Philox takes as it is, where it would ask for one made of a seed."""

    def __init__(self, words: NDArray[np.uint64]) -> None:
        self._words = words

    def generate_state(  # type: ignore[override]
        self, n_words: int, dtype: type = np.uint64
    ) -> NDArray[np.uint64]:
        """Return the two words of 64 bits that Philox asks for."""
        return self._words


class Streams:
    """The random numbers of one simulated surge.

    Parameters
    ----------
    seed : int
        The user's seed, 0 or more.
    sample : int
        See :class:`Sample`.
    surge : int
        Number of the surge, from 0, below 2**48.
    run_in : bool
        Of the ordinary days before the surge: these share no draws with the surge itself.
    """

    def __init__(self, seed: int, sample: int, surge: int, run_in: bool = False) -> None:
        self.seed, self.sample, self.surge = seed, int(sample), surge
        if not 0 <= surge < 2**_SURGE_BITS:
            raise ValueError(f"a surge's number is 0 or more and below 2**48, not {surge}")
        words = _seed_word(seed), self.sample << _SURGE_BITS | surge | _RUN_IN * run_in
        self._key = _Key(np.array(words, dtype=np.uint64))

    def before(self) -> Streams:
        """Return the random numbers of the run-in before this surge."""
        return Streams(self.seed, self.sample, self.surge, run_in=True)

    def stream(self, purpose: Purpose, block: int = 0) -> Generator:
        """Return a new generator at the beginning of a stream.

        Generators are independent of each other: drawing from one moves no other, also not one
        of the same stream.

        Parameters
        ----------
        purpose : Purpose
            What the numbers are for.
        block : int
            Sub-stream, for example one per role or per 64 blowers; 0 or more, below 2**64.

        Returns
        -------
        numpy.random.Generator
        """
        counter = np.array((0, 0, block, purpose), dtype=np.uint64)
        return Generator(Philox(self._key, counter=counter))  # type: ignore[arg-type]
