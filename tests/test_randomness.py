"""Streams: named by their key and by nothing else."""

import numpy as np
import pytest

from surge_sim import randomness
from surge_sim.randomness import Purpose, Sample, Streams, stream, streams_of_several


@pytest.mark.parametrize("seed", [0, 1, 2**31, 2**32 - 1, 2**32, 2**64 + 5, 2**127, 2**160 + 3])
@pytest.mark.parametrize("surge", [0, 1, 9_999, 2**32 - 1])
def test_quick_streams_are_the_very_streams(seed, surge):
    for sample in Sample:
        quick = Streams(seed, sample, surge)
        for purpose in (Purpose.INPUTS, Purpose.ENTRIES, Purpose.DOFFING, Purpose.ENTRIES):
            for block in (0, 1, 4_097, 1_000_000):
                expected = stream(seed, sample, surge, purpose, block)
                found = quick.stream(purpose, block)
                assert found.bit_generator.state == expected.bit_generator.state


def test_streams_are_the_same_whatever_other_surges_asked_for(monkeypatch):
    """Also beyond the number of keys that are remembered, and a second time."""
    monkeypatch.setattr(randomness._Asked, "most", 20)
    monkeypatch.setattr(randomness, "_asked", randomness._Asked())
    for surge in range(3):
        quick = Streams(1, 0, surge)
        for block in (*range(surge, 30 + surge), 3):
            found = quick.stream(Purpose.STAYS, block).bit_generator.state
            assert found == stream(1, 0, surge, Purpose.STAYS, block).bit_generator.state
            assert len(randomness._asked.place) <= 20


def test_surges_share_no_stream_when_their_streams_are_worked_out_together():
    for _ in range(2):
        several = streams_of_several(2**64 + 5, 1, [7, 3, 2**32 - 1])
        for surge, quick in zip((7, 3, 2**32 - 1), several, strict=True):
            for block in (0, 5):
                found = quick.stream(Purpose.FAULTS, block).bit_generator.state
                expected = stream(2**64 + 5, 1, surge, Purpose.FAULTS, block)
                assert found == expected.bit_generator.state


def test_streams_of_different_keys_differ():
    keys = [(seed, sample, surge, purpose, block) for seed in (0, 1) for sample in Sample
            for surge in (0, 1) for purpose in Purpose for block in (0, 1)]  # fmt: skip
    first = {int(stream(*key).integers(2**63)) for key in keys}
    assert len(first) == len(keys)


def test_a_stream_is_named_by_numpys_seed_sequence():
    key = (int(Sample.CERTIFY), 7, int(Purpose.STAYS), 3)
    own = np.random.Generator(np.random.PCG64DXSM(np.random.SeedSequence(5, spawn_key=key)))
    assert stream(5, Sample.CERTIFY, 7, Purpose.STAYS, 3).random() == own.random()
