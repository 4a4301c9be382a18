"""What a second leaves open is settled in that second, worked out on paper in both engines.

Times in minutes.
"""

from __future__ import annotations

import pytest

from surge_sim.engine.log import Count, Use
from tests.engine.conftest import Player
from tests.engine.test_timelines import FILTERS
from tests.engine.tiny import MINUTE, settings, tiny_trace


def test_a_battery_that_is_full_leaves_its_bay_before_one_that_waits_for_the_round(played: Player):
    """Battery 0, worn 0-40, is full at 70 and waits until 420, when battery 1 is full.

    That one is worn from 47 and a second, for 256, and has a second less than 117 to charge.
    """
    changed = settings(charging={"rounds_every": "7 h", "partial_charge_at_reissue": "no"})
    trace = tiny_trace(changed, need=[0, 47 + 1 / 60], room=[40, 256])
    log = played(trace, kits=2, batteries=2, bays=2)
    on_shelf_s = log.use_area[Use.BATTERIES_ON_SHELF].sum()
    assert on_shelf_s == 1 + (47 + 2 * (1440 - 420)) * MINUTE


@pytest.mark.parametrize("lacking_s", [1, 2, 3])
def test_a_battery_that_lacks_less_than_a_second_of_charging_is_issued_a_second_later(
    played: Player, lacking_s: int
):
    """The first four fifths of 480 of run time are charged in three fifths of 180: 3.6 a second."""
    changed = settings(
        charging={"partial_charge_at_reissue": "yes"}, batteries={"minimum_run_time": "49 min"}
    )
    trace = tiny_trace(changed, need=[0, 400], room=[480 - 49 + lacking_s / 60, 10])
    log = played(trace, kits=2, batteries=1, bays=1)
    assert log.in_hand_s[1] - log.end_s[0] == 1


def test_who_joins_the_line_before_one_who_fails_a_check_has_causes_too(played: Player):
    """Entries 1 and 2 are of one wearer, who is free at 100, when entry 3 fails its check."""
    filters = {
        "prefilter_life": "3 h", "he_filter_life": "9 h", "prefilter_change": "5 min",
        "he_filter_turnaround": "3 h", "at_start": "new",
    }  # fmt: skip
    changed = settings(
        filters=filters, supplies={"prefilters": {"spare": "0"}}, cleaning={"drying_time": "20 min"}
    )
    trace = tiny_trace(
        changed, need=[0, 50, 60, 100], room=[60, 50, 5, 5], wearer=[-1, 0, 0, -1],
        prefilter_life=[60], he_life=[900],
    )  # fmt: skip
    log = played(trace, kits=2)
    assert log.wait_s[2] == 20 * MINUTE
    assert log.waited_s[2].sum() == 20 * MINUTE


def test_the_battery_of_a_recalled_kit_goes_away_when_its_bay_fails(played: Player):
    """It is full at 70 and would stay until the round at 720; the kit is recalled from 100 to 1300.

    The bay fails at 200, so the battery comes to the shelf, and goes away: for 1100.
    """
    changed = settings(
        run_out="0 h", charging={"rounds_every": "12 h", "partial_charge_at_reissue": "no"},
        batteries={"charge_time": "1 h"},
        timeline=[
            {"what": "kits recalled", "at": "100 min", "lasts": "20 h", "kits": "1"},
            {"what": "charger failure", "at": "200 min", "lasts": "60 min", "bays": "1"},
        ],
    )  # fmt: skip
    log = played(tiny_trace(changed, need=[0], room=[10]), kits=2, bays=1, batteries=1)
    assert log.use_area[Use.BATTERIES_AWAY].sum() == 1100 * MINUTE


def test_a_kept_kit_stays_with_its_wearer_beside_the_kit_of_an_urgent_entry(played: Player):
    """The urgent entry at 20 takes kit 1; the one at 60 has kit 0 again, free from 240 on."""
    changed = settings(policy={"kit": "held for a shift", "wipe_between_visits": "0 min"})
    trace = tiny_trace(
        changed, need=[0, 20, 60, 300, 300], room=10, wearer=[0, 0, 0, -1, -1],
        urgent=[False, True, False, False, False], shift_end=[240],
    )  # fmt: skip
    log = played(trace, kits=2)
    assert log.blower.tolist()[:3] == [0, 1, 0]
    assert log.wait_s.tolist() == [0] * 5


def test_a_battery_put_into_a_bay_twice_in_a_second_blocks_it_once(played: Player):
    """Back at 30 and in its bay; taken for the entry at 10, whose check fails at once, and back.

    Full at 52.5 it blocks the bay until the round at 120. No prefilter is there: nobody has a kit.
    """
    changed = settings(
        filters=FILTERS, supplies={"prefilters": {"spare": "0"}},
        charging={"partial_charge_at_reissue": "yes", "rounds_every": "2 h"},
    )  # fmt: skip
    trace = tiny_trace(changed, need=[0, 10], room=[30, 5], prefilter_life=[30], he_life=[900])
    log = played(trace, batteries=1, bays=1)
    assert log.failed_checks.tolist() == [0, 1]
    assert log.counts[Count.CHARGES] == 2
    assert log.use_area[Use.BATTERIES_IN_BAY].sum() == 90 * MINUTE
