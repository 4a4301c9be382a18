"""Batteries and chargers that fail, cool-down and connecting: timelines on paper, in both engines.

All times are in minutes. Charging is straight: 180 from empty, so 90 after 240 of 480 worn. Unless
a test says so, batteries are handed out only when they are full.
"""

from __future__ import annotations

from typing import Any

from surge_sim.engine.log import Alarm, Count, Use
from surge_sim.equipment.causes import Cause
from tests.engine.conftest import Player
from tests.engine.test_bays_and_crews import STRAIGHT, failing
from tests.engine.test_timelines import waits
from tests.engine.tiny import MINUTE, settings, tiny_trace


def charging(**what: str) -> dict[str, Any]:
    return {"batteries": STRAIGHT, "charging": {"partial_charge_at_reissue": "no"} | what}


def test_a_battery_cools_down_before_it_is_charged(played: Player):
    """Back at 240, cool at 270, full at 360: the visit of 241 waits 119, 29 of them for that."""
    trace = tiny_trace(settings(**charging(cool_down="30 min")), need=[0, 241], room=[240, 10])
    log = played(trace, batteries=1)
    assert waits(log) == [0, 119]
    assert log.waited_s[1, Cause.BATTERY_COOLING] == 29 * MINUTE
    assert log.waited_s[1, Cause.BATTERY_NOT_FULL] == 90 * MINUTE
    # and again after the second visit
    assert log.use_area[Use.BATTERIES_COOLING].sum() == 2 * 30 * MINUTE


def test_a_bay_is_taken_while_a_battery_is_connected(played: Player):
    """Back at 240, current from 250, full at 340; the second has the bay from then until 440."""
    trace = tiny_trace(
        settings(**charging(time_to_connect="10 min")), need=[0, 0, 241, 242],
        room=[240, 240, 10, 10],
    )  # fmt: skip
    assert waits(played(trace, kits=2, batteries=2, bays=1)) == [0, 0, 99, 198]


def test_an_outage_that_is_over_before_a_battery_is_connected_costs_nothing(played: Player):
    """No power from 230 to 250, connected at 250; from 230 to 255 it costs 5."""
    for until, wait in ((250, 99), (255, 104)):
        outage = {"what": "power outage", "at": "230 min", "lasts": f"{until - 230} min"}
        changed = settings(**charging(time_to_connect="10 min"), timeline=[outage])
        trace = tiny_trace(changed, need=[0, 241], room=[240, 10])
        assert waits(played(trace, batteries=1)) == [0, wait]


def test_a_battery_may_be_taken_while_it_cools_and_then_cools_anew(played: Player):
    """Partial charge allowed: back at 240, taken from 250 to 260, cool at 290, then in a bay.

    It cools 10 and 30. The end of the first cooling, at 270, brings it into no bay.
    """
    changed = settings(**charging(cool_down="30 min", partial_charge_at_reissue="yes"))
    trace = tiny_trace(changed, need=[0, 250, 300], room=[240, 10, 0])
    log = played(trace, batteries=1)
    assert waits(log) == [0, 0, 0]
    assert log.use_area[Use.BATTERIES_COOLING].sum() == (10 + 30 + 30) * MINUTE
    assert log.counts[Count.CHARGES] == 2


def test_a_battery_that_fails_ends_the_visit_and_is_replaced_by_a_full_one(played: Player):
    """It fails after 100 of 240; a full one is there 50 later, and runs the other 140.

    The blower is well, so the kit is wiped and ready at once.
    """
    changed = settings(
        **charging(), failures={"battery_run_between_failures": "9 h",
                              "battery_replacement_time": "1 h"},
    )  # fmt: skip
    trace = tiny_trace(changed, need=[0], room=[240], battery_run=[100, 900], replacement=[50])
    log = played(trace, batteries=1)
    assert log.alarm.tolist() == [Alarm.BATTERY_FAILURE, Alarm.NONE]
    assert (log.worn_s / MINUTE).tolist() == [100, 140]
    assert waits(log) == [0, 50]
    assert log.waited_s[1, Cause.BATTERY_OUT] == 50 * MINUTE
    assert log.use_area[Use.BATTERIES_OUT].sum() == 50 * MINUTE
    assert log.counts[Count.BATTERY_REPLACEMENTS] == log.counts[Count.ALARMS_BATTERY_FAILURE] == 1
    assert log.counts[Count.BLOWER_REPAIRS] == 0


def test_a_kit_whose_battery_failed_is_kept_for_the_shift_and_gets_another(played: Player):
    """Fails at 100 and, with the other battery, at 200; the first is replaced at 150."""
    changed = settings(
        **charging(), policy={"kit": "held for a shift", "wipe_between_visits": "0 min"},
        failures={"battery_run_between_failures": "9 h"},
    )  # fmt: skip
    trace = tiny_trace(
        changed, need=[0], room=[240], wearer=[0], shift_end=[900], battery_run=[100, 100, 900],
        replacement=[50],
    )  # fmt: skip
    log = played(trace, batteries=2)
    assert waits(log) == [0, 0, 0]
    assert log.battery.tolist() == [0, 1, 0]
    assert log.blower.tolist() == [0, 0, 0]
    assert log.counts[Count.BATTERY_SWAPS] == 2


def test_a_fault_of_battery_and_blower_at_once_is_the_battery_s_and_both_are_mended(
    played: Player,
):
    """Both at 100; the blower is repaired until 120, the battery replaced at 150."""
    changed = settings(
        **charging(),
        failures={"battery_run_between_failures": "9 h", "blower_run_between_failures": "9 h"},
    )
    trace = tiny_trace(
        changed, need=[0], room=[240], battery_run=[100, 900], replacement=[50],
        failure_run=[100, 900], repair=[20],
    )  # fmt: skip
    log = played(trace, batteries=1)
    assert log.alarm.tolist() == [Alarm.BATTERY_FAILURE, Alarm.NONE]
    assert waits(log) == [0, 50]
    assert log.counts[Count.BLOWER_REPAIRS] == 1


def test_a_charger_that_fails_by_chance_is_like_one_that_the_timeline_names(played: Player):
    """Two in bays from 240 and 250; one bay fails from 270 to 300: see the test of the timeline."""
    found = []
    for changes, failed in ((failing(bays="1"), ()), (charging(), (270, 1, 300, 0))):
        trace = tiny_trace(
            settings(**changes), need=[0, 10, 320, 321], room=[240, 240, 100, 100],
            bays_failed=failed,
        )  # fmt: skip
        found.append(waits(played(trace, kits=2, batteries=2, bays=2)))
    assert found == [[0, 0, 10, 49]] * 2


def test_bays_on_loan_work_while_the_unit_s_own_have_failed(played: Player):
    """The only bay fails from 100 on; one on loan from 260 on: full at 350."""
    loan = {"what": "chargers on loan", "chargers": "1", "at": "260 min"}
    changed = settings(**charging(), timeline=[loan])
    trace = tiny_trace(changed, need=[0, 241], room=[240, 10], bays_failed=[100, 1])
    assert waits(played(trace, batteries=1, bays=1)) == [0, 109]
