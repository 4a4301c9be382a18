"""The checks of chance can fail."""

import numpy as np

from tests.demand.chance import agrees, count_agrees, counts_agree, follows, share_agrees


def test_checks_pass_what_is_near_and_refuse_what_is_far():
    assert agrees(10.4, 10, 0.1) and not agrees(10.6, 10, 0.1)
    assert count_agrees(1_100, 1_000) and not count_agrees(1_200, 1_000)
    assert not count_agrees(800, 1_000)
    assert counts_agree([95, 110], [100, 100]) and not counts_agree([95, 170], [100, 100])
    assert share_agrees(520, 1_000, 0.5) and not share_agrees(600, 1_000, 0.5)
    even = (np.arange(10_000) + 0.5) / 10_000
    assert follows(even, lambda x: x) and not follows(even**1.2, lambda x: x)
