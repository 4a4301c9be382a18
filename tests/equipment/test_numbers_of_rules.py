"""Each setting of a unit comes to the engines under its own name, in whole numbers."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from surge_sim.equipment.batteries import Issue
from surge_sim.equipment.charge_curve import FULL, STEPS
from surge_sim.equipment.numbers import Rules, numbers_of, rules_of
from surge_sim.equipment.stock import Start, Stock
from surge_sim.equipment.timeline import NO_LIMIT, InForce
from tests.engine.tiny import settings, tiny_trace

MINUTE, HOUR = 60, 3_600


def supply(number: int) -> dict[str, str]:
    """A spare part with numbers of its own."""
    return {
        "spare": str(10 * number + 1), "reorder_point": str(10 * number + 2),
        "order_quantity": str(10 * number + 3), "lead_time": f"{10 * number + 4} min",
    }  # fmt: skip


#: no two settings have the same number
EVERYTHING: dict[str, Any] = {
    # a Thursday
    "start": "2031-01-09 07:30",
    "kit": {
        "pre_use_check": "61 s",
        "levels": [
            {"run_time": "8 h"},
            {"run_time": "6 h", "further_life": "20 %"},
            {"run_time": "5 h", "further_life": "30 %"},
        ],
        "recheck": {"first_after": "40 min", "then_every": "20 min"},
        "single_use_hoods": "yes",
    },
    "filters": {
        "prefilter_life": "30 h", "he_filter_life": "90 h", "prefilter_change": "5 min",
        "he_filter_turnaround": "26 h",
        "working_hours": {"start": "09:00", "end": "17:00", "weekend": "no"},
    },
    "failures": {"blower_run_between_failures": "500 h"},
    "batteries": {"minimum_run_time": "31 min", "low_battery_alarm": "7 min",
                  "issued": "least charged that will do"},
    "charging": {"charge_below": "62.5 %", "rounds_every": "95 min", "cool_down": "11 min",
                 "time_to_connect": "3 min", "partial_charge_at_reissue": "no"},
    "prices": {"bays_per_charger": "6"},
    "cleaning": {"contact_time": "4 min", "drying_time": "9 min"},
    "carrying": {"fetch": "2 min", "bring_back": "8 min", "to_cleaning": "6 min"},
    "supplies": {
        name: supply(number)
        for number, name in enumerate(
            ("hoods", "tubes", "prefilters", "he_filters", "large_hoods"), 1
        )
    },
    "policy": {"wipe_between_visits": "90 s", "after_maximum_wait": "postponed",
               "postponed_by": "8 h", "reserved_for_urgent": "2", "kit": "per round"},
    "target": {"wait": "6 min", "urgent": {"wait": "2 min", "service_level": "99 %"}},
}  # fmt: skip


def test_each_setting_has_its_number() -> None:
    found = rules_of(settings(**EVERYTHING))._asdict()
    expected = {
        "check_s": 61, "recheck_first_s": 40 * MINUTE, "recheck_every_s": 20 * MINUTE,
        "single_use_hoods": 1, "run_time_s": [8 * HOUR, 6 * HOUR, 5 * HOUR],
        # 20 % more at the second level, and 30 % more at the third
        "life_ppm": [1_000_000, 1_200_000, 1_500_000],
        "has_filters": 1, "has_failures": 1, "has_battery_failures": 0,
        "prefilter_change_s": 300, "main_turnaround_s": 26 * HOUR,
        "first_clock_s": 7 * HOUR + 1_800, "first_weekday": 3,
        "open_s": 9 * HOUR, "shut_s": 17 * HOUR, "weekend": 0,
        "reserve_s": 420,
        # 31 min of 480, 360 and 300, rounded up
        "least_charge": [-(-31 * FULL // run) for run in (480, 360, 300)],
        "issued": 2, "charge_below_ppm": 625_000, "rounds_every_s": 95 * MINUTE,
        "cool_down_s": 660, "connect_s": 180, "bays_per_charger": 6,
        "cleaning": 0, "contact_and_drying_s": 13 * MINUTE,
        "fetch_s": 120, "bring_back_s": 480, "to_cleaning_s": 360,
        "endless": [0] * 5, "spares": [11, 21, 31, 41, 51], "reorder_point": [12, 22, 32, 42, 52],
        "lot": [13, 23, 33, 43, 53], "lead_s": [60 * minutes for minutes in (14, 24, 34, 44, 54)],
        "wipe_between_visits_s": 90, "postponed": 1, "postponed_by_s": 8 * HOUR,
        "wait_s": 360, "urgent_wait_s": 120,
        "usual": InForce(reserved=2, kept=2, partial_charge_at_reissue=0),
    }  # fmt: skip
    for name, value in expected.items():
        mine = found[name]
        assert (mine.tolist() if isinstance(mine, np.ndarray) else mine) == value, name
    # what is left: the fleet and its curve, and what the clock brings, have tests of their own
    assert set(Rules._fields) - set(expected) == {"fleet", "end_of_charge", "calendar"}
    arrays = [value for value in found.values() if isinstance(value, np.ndarray)]
    assert len(arrays) == 10 and not any(array.flags.writeable for array in arrays)


def test_what_a_scenario_does_not_have_takes_nothing() -> None:
    found = rules_of(settings())
    assert (found.recheck_first_s, found.recheck_every_s, found.single_use_hoods) == (0, 1, 0)
    assert (found.has_filters, found.has_failures, found.has_battery_failures) == (0, 0, 0)
    assert (found.prefilter_change_s, found.main_turnaround_s) == (0, 0)
    assert (found.open_s, found.shut_s, found.weekend) == (0, 24 * HOUR, 1)
    assert (found.rounds_every_s, found.charge_below_ppm) == (0, 1_000_000)
    assert found.endless.tolist() == [1] * 5 and found.spares.tolist() == [0] * 5
    assert found.reorder_point.tolist() == [-1] * 5 and found.lot.tolist() == [1] * 5
    assert found.lead_s.tolist() == [0] * 5
    assert (found.postponed, found.wait_s, found.urgent_wait_s) == (0, 300, 300)
    assert found.usual == InForce(partial_charge_at_reissue=1)


@pytest.mark.parametrize(
    ("changes", "name", "value"),
    [
        ({"failures": {"battery_run_between_failures": "90 h"}}, "has_battery_failures", 1),
        ({"failures": {"battery_run_between_failures": "90 h"}}, "has_failures", 0),
        ({"batteries": {"issued": "fullest"}}, "issued", Issue.FULLEST),
        ({"batteries": {"issued": "any usable"}}, "issued", Issue.ANY_USABLE),
        ({"batteries": {"issued": "longest on the shelf"}}, "issued", Issue.LONGEST_ON_SHELF),
        # a postponement of no time is one of a second, so that time goes on
        ({"policy": {"after_maximum_wait": "postponed", "postponed_by": "0 s"}},
         "postponed_by_s", 1),
        ({"policy": {"after_maximum_wait": "postponed", "postponed_by": "2 s"}},
         "postponed_by_s", 2),
    ],
)  # fmt: skip
def test_one_setting_by_itself(changes: dict[str, Any], name: str, value: int) -> None:
    assert getattr(rules_of(settings(**changes)), name) == value


@pytest.mark.parametrize(("kit", "kept"), [("per entry", 0), ("held for a shift", 1)])
def test_for_how_long_a_kit_is_kept(kit: str, kept: int) -> None:
    assert rules_of(settings(policy={"kit": kit})).usual.kept == kept


@pytest.mark.parametrize(("run_in", "weekday"), [("2 d", 1), ("5 d", 5), ("14 d", 3)])
def test_a_play_begins_on_the_weekday_of_its_run_in(run_in: str, weekday: int) -> None:
    """The surge begins on a Thursday; two days before is a Tuesday, five days a Saturday."""
    found = rules_of(settings(start="2031-01-09 07:30", run_in=run_in))
    assert (found.first_weekday, found.first_clock_s) == (weekday, 7 * HOUR + 1_800)


def test_supplies_that_the_scenario_has_stand_beside_endless_ones() -> None:
    """Of tubes and HE filters; HE filters are never ordered again."""
    shelf = {"tubes": supply(2), "he_filters": {"spare": "7"}}
    found = rules_of(settings(supplies=shelf))
    assert found.endless.tolist() == [1, 0, 1, 0, 1]
    assert found.spares.tolist() == [0, 21, 0, 7, 0]
    assert found.reorder_point.tolist() == [-1, 22, -1, -1, -1]


def test_the_end_of_a_charge_is_a_table_or_a_straight_line() -> None:
    """Of no numbers; or shares at equal steps, from none of what is missing to all of it."""
    straight = rules_of(settings(batteries={"end_of_charge": "straight"})).end_of_charge
    assert straight.tolist() == [] and not straight.flags.writeable
    table = rules_of(settings(batteries={"end_of_charge": "exponential"})).end_of_charge
    assert len(table) == STEPS + 1 and table[[0, -1]].tolist() == [0, FULL]


def test_a_battery_that_holds_next_to_nothing_has_a_knee_above_0() -> None:
    """A billionth of the charge: one unit, of which 30 % are rounded to none."""
    fleet = {"state_of_health": ["100 %", "0.0000001 %"], "constant_current_to": "30 %",
             "constant_current_time": "30 %"}  # fmt: skip
    found = rules_of(settings(batteries=fleet)).fleet.tolist()
    assert found == [[FULL, 300_000_000, 3_240, 10_800], [1, 1, 0, 0]]


def play(stock: Stock, start: Start | None = None, **changes: Any) -> Any:
    """The counts of a play of a day and the day after."""
    parts = list(tiny_trace(settings(**changes), need=[1, 2], room=1).parts(stock))
    if start is not None:
        parts[2] = start
    return numbers_of(*parts).counts


def test_counts_of_a_play() -> None:
    numbers = {"hoods": 1, "tubes": 2, "large_hoods": 5}
    shelf = {name: supply(number) for name, number in numbers.items()}
    found = play(Stock(4, 6, 3, extra_hoods=1, extra_large_hoods=2), supplies=shelf)
    assert (found.horizon_s, found.closing_s, found.entries_before) == (24 * HOUR, 48 * HOUR, 0)
    assert (found.kits, found.batteries, found.bays) == (4, 6, 3)
    assert (found.hoods, found.tubes, found.large_hoods) == (4 + 11 + 1, 4 + 21, 51 + 2)
    assert found.spares.tolist() == [12, 21, 0, 0, 53]
    assert found.reorder_point.tolist() == [13, 22, -1, -1, 54]
    assert len(found.cells) == 6
    # large hoods never run out here
    assert play(Stock(4, 6, 3)).large_hoods == NO_LIMIT


@pytest.mark.parametrize("worn", [False, True])
def test_whether_filters_are_part_worn_is_told(worn: bool) -> None:
    assert play(Stock(1, 1, 1), Start(filters_part_worn=worn)).part_worn == worn
