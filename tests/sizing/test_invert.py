"""A surge turned round says the same as playing every stock."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from surge_sim.equipment.stock import Stock
from surge_sim.sizing.invert import InvertTask, first_true
from surge_sim.sizing.player import keeps_target
from surge_sim.sizing.space import Axis, Space
from tests.sizing.stand_in import TARGET, StandIn


@given(
    low=st.integers(0, 20), length=st.integers(0, 40), answer=st.integers(0, 70),
    guess=st.integers(-5, 80),
)  # fmt: skip
def test_first_true_finds_the_step_from_any_guess(
    low: int, length: int, answer: int, guess: int
) -> None:
    high = low + length
    tried = []

    def test(place: int) -> bool:
        assert low <= place < high
        tried.append(place)
        return place >= answer

    assert first_true(test, low, high, guess) == min(max(answer, low), high)
    assert len(tried) == len(set(tried)) <= 2 * max(length, 1).bit_length() + 2


SPACE_2D = Space(Stock(0, 0, 10), Axis("kits", 3, 14), (Axis("batteries", 10, 30),))
SPACE_3D = Space(
    Stock(0, 0, 0), Axis("kits", 4, 14), (Axis("bays", 4, 12, 4), Axis("batteries", 12, 26, 2))
)


@pytest.mark.parametrize("space", [SPACE_2D, SPACE_3D], ids=["two items", "three items"])
def test_turned_round_surges_say_what_playing_every_stock_says(space: Space) -> None:
    """The stand-in is proved monotone, so the answers must be equal, with far fewer plays."""
    plays = 0
    for number in range(25):
        player = StandIn(3)
        surge = player.surge(1, number)
        found = InvertTask(player, 1, space, guess_rung=5)(number)
        plays += found.plays
        for place, line in enumerate(space.lines):
            kept = [
                keeps_target(surge, space.stock(line, rung), TARGET)
                for rung in range(len(space.ladder))
            ]
            expected = kept.index(True) if any(kept) else len(kept)
            assert found.least[place] == expected, (number, line)
    assert plays <= 2.0 * 25 * len(space.lines)


def test_closed_lines_are_not_played_and_take_their_neighbours_answer() -> None:
    length = len(SPACE_2D.axes[0])
    open_lines = tuple(place % 2 == 0 or place == length - 1 for place in range(length))
    closed = Space(SPACE_2D.base, SPACE_2D.ladder, SPACE_2D.axes, open_lines)
    whole = InvertTask(StandIn(3), 1, SPACE_2D)(0).least
    some = InvertTask(StandIn(3), 1, closed)(0).least
    np.testing.assert_array_equal(whole[::2], some[::2])
    assert (some[1::2] >= whole[1::2]).all()


def test_one_line_alone() -> None:
    space = Space(Stock(0, 22, 10), Axis("kits", 0, 15))
    found = InvertTask(StandIn(3), 1, space)(0)
    surge = StandIn(3).surge(1, 0)
    kept = [keeps_target(surge, space.stock((), rung), TARGET) for rung in range(16)]
    assert found.least.tolist() == [kept.index(True)]
