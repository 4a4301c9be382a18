"""Which kits and parts are missing, away or passed on: rules by hand."""

from __future__ import annotations

import pytest

from surge_sim.equipment.kits import (
    LITTLE_S,
    Missing,
    alarms_in_vain,
    batteries_to_be_away,
    kits_to_be_away,
    lets_pass,
    luck_of,
    missing_parts,
    of_the_unit,
    place_away,
    wait_until_in_hand,
)
from surge_sim.equipment.order import leaves_bay_rank
from surge_sim.equipment.supplies import HOODS, LARGE_HOODS, endless_now, hoods_of_size


def test_each_part_is_missing_when_no_more_are_there_than_are_kept_back() -> None:
    """Two of each are kept back: three suffice, two do not."""
    for part in (Missing.BLOWER, Missing.HOOD, Missing.TUBE):
        blowers, hoods, tubes = (
            2 if one == part else 3 for one in (Missing.BLOWER, Missing.HOOD, Missing.TUBE)
        )
        assert missing_parts(blowers, hoods, tubes, 2, False) == part
        large = Missing.LARGE_HOOD if part == Missing.HOOD else part
        assert missing_parts(blowers, hoods, tubes, 2, True) == large
    assert missing_parts(1, 1, 1, 0, False) == 0


@pytest.mark.parametrize(
    ("missing", "passes"),
    [
        (0, False),
        (Missing.HOOD, True),
        (Missing.LARGE_HOOD, True),
        (Missing.HOOD | Missing.BATTERY, True),
        (Missing.LARGE_HOOD | Missing.BATTERY, True),
        (Missing.BATTERY, False),
        (Missing.HOOD | Missing.TUBE, False),
        (Missing.LARGE_HOOD | Missing.BLOWER, False),
        (Missing.TUBE, False),
        (Missing.BLOWER, False),
    ],
)
def test_who_lacks_nothing_but_a_hood_of_one_size_lets_the_others_pass(
    missing: int, passes: bool
) -> None:
    assert lets_pass(missing) == passes


def test_a_wait_is_what_goes_beyond_one_check_and_one_way_from_the_shelf() -> None:
    """Due at 100, in hand at 500; the check takes 60, the way 30."""
    assert wait_until_in_hand(500, 100, 60, 30) == 310
    assert wait_until_in_hand(500, 100, 60, 0) == 340


def test_alarms_in_a_row_count_while_less_than_a_minute_is_done_in_the_room() -> None:
    assert LITTLE_S == 60
    assert [alarms_in_vain(before, done_s) for before, done_s in (
        (0, 0), (3, 59), (3, 60), (3, 500)
    )] == [1, 4, 0, 0]  # fmt: skip


def test_later_needs_of_an_entry_have_the_luck_of_earlier_entries() -> None:
    """Of entry 5 those of 5, 4 and so on down to 0, and from 5 on again."""
    assert [luck_of(5, part) for part in range(8)] == [5, 4, 3, 2, 1, 0, 5, 4]
    assert [luck_of(0, part) for part in range(3)] == [0, 0, 0]


@pytest.mark.parametrize(
    ("recalled", "come", "lent", "away"),
    [(0, 0, 0, 0), (3, 0, 0, 3), (9, 0, 0, 5), (3, 2, 0, 5), (3, 2, 2, 3), (0, 2, 1, 1)],
)
def test_away_are_recalled_kits_and_those_not_on_loan_now(
    recalled: int, come: int, lent: int, away: int
) -> None:
    """Of five of the unit's own no more are recalled than there are."""
    assert kits_to_be_away(recalled, 5, come, lent) == away


def test_away_are_a_battery_with_each_kit_and_those_not_on_loan_now() -> None:
    assert [batteries_to_be_away(3, *one) for one in ((0, 0), (2, 0), (2, 1), (2, 2))] == [
        3, 5, 4, 3,
    ]  # fmt: skip


def test_of_the_unit_are_away_those_beyond_what_is_not_on_loan() -> None:
    assert [of_the_unit(away, 2) for away in (5, 2, 1)] == [3, 0, 0]


def test_what_is_away_at_the_start_lies_in_a_pile_with_the_lowest_loan_on_top() -> None:
    """Five of the unit's own, 5 to 7 come on loan. 3 and 4 are recalled: they lie below."""
    assert [place_away(number, 3, 5, 8) for number in range(3, 8)] == [0, 1, 4, 3, 2]
    # nothing is recalled, and the first of the loans is there already
    assert [place_away(number, 6, 5, 8) for number in (6, 7)] == [1, 0]


def test_no_part_runs_out_in_the_run_in() -> None:
    answers = [endless_now(*one) for one in ((0, 0), (1, 0), (0, 1), (1, 1))]
    assert answers == [False, True, True, True]


def test_a_hood_comes_from_the_supply_of_its_size() -> None:
    assert (hoods_of_size(False), hoods_of_size(True)) == (HOODS, LARGE_HOODS)


def test_the_battery_that_came_last_leaves_its_bay_of_equals_the_highest_number() -> None:
    ranks = {one: leaves_bay_rank(*one) for one in ((10, 3), (10, 7), (9, 9), (11, 0))}
    assert sorted(ranks, key=ranks.__getitem__) == [(9, 9), (10, 3), (10, 7), (11, 0)]
