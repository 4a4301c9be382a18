"""Streams: named by their key and by nothing else, and never in each other's way."""

from itertools import product

import numpy as np
import pytest
from numpy.random import Generator, Philox

from surge_sim.randomness import Purpose, Sample, Streams

#: Philox4x64-10: counter, key, the four numbers that come of them. Random123's known-answer
#: vectors (file kat_vectors, which belongs to Salmon et al., "Parallel random numbers: as easy
#: as 1, 2, 3", SC11, 2011); from memory.
KNOWN_ANSWERS = [
    (
        "0000000000000000 0000000000000000 0000000000000000 0000000000000000",
        "0000000000000000 0000000000000000",
        "16554d9eca36314c db20fe9d672d0fdc d7e772cee186176b 7e68b68aec7ba23b",
    ),
    (
        "ffffffffffffffff ffffffffffffffff ffffffffffffffff ffffffffffffffff",
        "ffffffffffffffff ffffffffffffffff",
        "87b092c3013fe90b 438c3c67be8d0224 9cc7d7c69cd777b6 a09caebf594f0ba0",
    ),
    (
        "243f6a8885a308d3 13198a2e03707344 a4093822299f31d0 082efa98ec4e6c89",
        "452821e638d01377 be5466cf34e90c6c",
        "a528f45403e61d95 38c72dbd566e9788 a5a1610e72fd18b5 57bd43b5e52b7fe6",
    ),
]
_MASK = 2**64 - 1


def philox(counter: list[int], key: list[int]) -> list[int]:
    """Ten rounds of Philox4x64 as the paper writes them (its section 3.3), in plain numbers."""
    first, second, third, fourth = counter
    left, right = key
    for _ in range(10):
        one, other = first * 0xD2E7470EE14C6C93, third * 0xCA5A826395121157
        first, second, third, fourth = (
            other >> 64 ^ second ^ left, other & _MASK, one >> 64 ^ fourth ^ right, one & _MASK
        )  # fmt: skip
        left = left + 0x9E3779B97F4A7C15 & _MASK
        right = right + 0xBB67AE8584CAA73B & _MASK
    return [first, second, third, fourth]


def words(text: str) -> list[int]:
    """Read hexadecimal words."""
    return [int(word, 16) for word in text.split()]


@pytest.mark.parametrize(("counter", "key", "answer"), KNOWN_ANSWERS)
def test_ten_rounds_give_the_known_answers(counter, key, answer):
    assert philox(words(counter), words(key)) == words(answer)


def test_a_stream_is_philox_keyed_by_seed_and_surge_with_purpose_and_block_in_the_counter():
    """Numpy raises the counter before it draws, so the first four numbers are of counter 1."""
    stream = Streams(5, Sample.CONFIRM, 7).stream(Purpose.STAYS, 3)
    key, above = [5, 2 * 2**48 + 7], [3, int(Purpose.STAYS)]
    expected = philox([1, 0, *above], key) + philox([2, 0, *above], key)
    assert stream.bit_generator.random_raw(8).tolist() == expected


def test_a_stream_is_the_philox_of_numpy():
    stream = Streams(5, Sample.CONFIRM, 7).stream(Purpose.STAYS, 3)
    counter = 3 << 128 | int(Purpose.STAYS) << 192
    own = Generator(Philox(key=5 | (2 * 2**48 + 7) << 64, counter=counter))
    assert np.array_equal(stream.standard_normal(1000), own.standard_normal(1000))


SEEDS = [0, 1, 2**31, 2**32, 2**63 - 1, 2**63, 2**63 + 1, 2**64, 2**64 + 5, 2**127, 2**4000 + 3]


def test_streams_of_different_names_differ():
    names = product(SEEDS, Sample, (0, 1, 2**32, 2**48 - 1), Purpose, (0, 1, 4_097, 2**64 - 1))
    first = [
        int(Streams(seed, sample, surge).stream(purpose, block).bit_generator.random_raw())
        for seed, sample, surge, purpose, block in names
    ]
    assert len(set(first)) == len(first)


def test_a_stream_keeps_to_its_own_part_of_the_counter():
    """A million draws move the lower half of the counter alone, where no name stands."""
    stream = Streams(2**64 - 1, 2, 2**48 - 1).stream(Purpose.RESIDUAL_STAYS, 2**64 - 1)
    stream.random(1_000_000)
    counter = stream.bit_generator.state["state"]["counter"].tolist()
    assert counter == [250_000, 0, 2**64 - 1, int(Purpose.RESIDUAL_STAYS)]


def test_a_generator_is_moved_by_its_own_draws_only():
    """Two at hand in turn, and one of the same stream beside them."""
    streams = Streams(1, Sample.RUN, 0)
    alone = streams.stream(Purpose.STAYS).random(6)
    first, other = streams.stream(Purpose.STAYS), streams.stream(Purpose.ENTRIES)
    again = streams.stream(Purpose.STAYS)
    drawn = []
    for _ in range(6):
        drawn.append(first.random())
        other.random(3)
        again.random(2)
    assert drawn == alone.tolist()


@pytest.mark.parametrize(("seed", "surge"), [(-1, 0), (0, -1), (0, 2**48)])
def test_numbers_out_of_range_are_refused(seed, surge):
    with pytest.raises(ValueError, match="0 or more"):
        Streams(seed, 0, surge)
