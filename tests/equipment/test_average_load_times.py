"""For how long entries bind kits, batteries and bays at average rates, by hand."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from surge_sim.equipment.average_load import ExpectedLoad, expected_load, start_shows_s
from tests.demand.ward import scenario, settings
from tests.equipment.test_average_load import TEN_PATIENTS

STRAIGHT = {"end_of_charge": "straight"}
#: nothing takes time but the wipe-down of 5 min
AT_ONCE: dict[str, Any] = {
    "kit": {"pre_use_check": "0 min", "don": "0 min", "doff": "0 min"},
    "roles": {"nurse": {"room_time": "0 min"}},
}


def load_of(**changes: Any) -> ExpectedLoad:
    """The load of ten entries an hour."""
    return expected_load(settings(**TEN_PATIENTS, **changes))


def test_a_kit_is_bound_from_its_way_from_the_shelf_until_it_is_dry() -> None:
    """1 min check, ways of 2, 3 and 4, 2 + 6 + 3 min worn, 5 of wipe-down, 7 wet and 8 dry: 41.

    The battery is in it for 1 + 2 + 3 + 11 min, and in a bay afterwards.
    """
    load = load_of(
        carrying={"fetch": "2 min", "bring_back": "3 min", "to_cleaning": "4 min"},
        cleaning={"contact_time": "7 min", "drying_time": "8 min"},
    )
    assert load.kits_busy_at_peak == pytest.approx(10 * 41 / 60)
    in_kits = load.batteries_busy_at_peak - load.bays_busy_at_peak
    assert in_kits == pytest.approx(10 * 17 / 60)
    assert load.battery_hours_per_day_peak == pytest.approx(240 * 11 / 60)


@pytest.mark.parametrize(
    ("own", "worn"),
    [({"don": "4 min"}, 4 + 6 + 3), ({"doff": "9 min"}, 2 + 6 + 9),
     ({"don": "4 min", "doff": "9 min"}, 4 + 6 + 9)],
)  # fmt: skip
def test_a_role_puts_on_and_takes_off_in_its_own_times(own: dict[str, str], worn: float) -> None:
    load = load_of(roles={"nurse": own})
    assert load.battery_hours_per_day_peak == pytest.approx(240 * worn / 60)


def test_entries_that_drain_nothing_need_no_bay() -> None:
    load = load_of(charging={"cool_down": "9 min"}, **AT_ONCE)
    assert load.bays_busy_at_peak == load.batteries_busy_at_peak == 0
    assert load.kits_busy_at_peak == pytest.approx(10 * 5 / 60)


def test_hours_without_entries_take_nothing_from_the_others() -> None:
    """Twenty entries an hour by day, of 11 min worn: as many a day as without weights."""
    even = load_of(batteries=STRAIGHT)
    by_day = load_of(
        batteries=STRAIGHT,
        roles={"nurse": {"hours_of_day": [0] * 12 + [1] * 12, "room_time": "6 min"}},
    )
    assert by_day.bays_busy_at_peak == pytest.approx(even.bays_busy_at_peak)
    assert by_day.bays_busy_in_busiest_hour == pytest.approx(2 * even.bays_busy_at_peak)


def test_a_battery_of_half_the_health_is_drained_by_a_long_visit_and_full_in_half_the_time() -> (
    None
):
    """6 h in the room, 365 min worn of 480: 0.76 of the charge, of which 0.56 is quick.

    That takes (0.4 + 0.56 / 0.8 x 0.6) x 180 min; the battery of half the health is empty before,
    and full in 90 min. Each of them cools for 10 min and is connected for 5 after each use.
    """
    load = load_of(
        batteries=STRAIGHT | {"state_of_health": ["100 %", "50 %"]},
        charging={"cool_down": "10 min", "time_to_connect": "5 min"},
        roles={"nurse": {"room_time": "6 h"}},
    )
    full_min = (0.4 + (365 / 480 - 0.2) / 0.8 * 0.6) * 180
    bay_min = (full_min + 90) / 2 + 5
    assert load.bays_busy_at_peak == pytest.approx(10 * bay_min / 60)
    assert load.batteries_busy_at_peak == pytest.approx(10 * (366 + 10 + bay_min) / 60)


def test_two_healths_below_a_threshold_are_charged_after_other_numbers_of_uses() -> None:
    """Half of 480 min are passed with the 22nd entry of 11 min, half of 240 with the 11th.

    So a charge of 242 min of 480 every 22 entries, or of 121 of 240 every 11, in half the time;
    and one connecting of 5 min and one cooling of 10 each time.
    """
    load = load_of(
        batteries=STRAIGHT | {"state_of_health": ["100 %", "50 %"]},
        charging={"charge_below": "50 %", "cool_down": "10 min", "time_to_connect": "5 min"},
    )
    charge_min = (0.4 + (242 / 480 - 0.2) / 0.8 * 0.6) * 180
    bay_min = ((charge_min + 5) / 22 + (charge_min / 2 + 5) / 11) / 2
    cool_min = (10 / 22 + 10 / 11) / 2
    assert load.bays_busy_at_peak == pytest.approx(10 * bay_min / 60)
    assert load.batteries_busy_at_peak == pytest.approx(10 * (12 + cool_min + bay_min) / 60)


@pytest.mark.parametrize(
    ("hours", "day"),
    # 24 hours from 13 on, whose middle is 1 h after midnight; and the same nine days later
    [((13, 36), 2), ((229, 252), 11), ((0, 5), 1), ((2, 20, 280, 281, 282), 12)],
)
def test_the_day_of_the_peak_is_that_of_the_middle_of_its_24_hours(
    tmp_path: Path, hours: tuple[int, ...], day: int
) -> None:
    rows = "".join(f"{60 * hour},5,nurse\n" for hour in hours)
    (tmp_path / "log.csv").write_text("requested,room_minutes,role\n" + rows)
    log = scenario(tmp_path, entries={"from": "log.csv"}, arrivals=None, classes=None,
                   horizon="12 d")  # fmt: skip
    assert expected_load(log.settings).peak_day == day


@pytest.mark.parametrize(
    ("changes", "hours"),
    [
        # nobody comes before noon, then 20 an hour: the eighth at 12.4 h, charged in 3 h
        ({"roles": {"nurse": {"hours_of_day": [0] * 12 + [1] * 12}}}, 12.4 + 3),
        # nothing is drained: each battery is used once
        (AT_ONCE, 0.8 + 3),
        # of 50 entries the 45th takes the last kit at 4.5 h, wiped down 5 min later
        ({"horizon": "5 h", "stock": {"kits": 45}}, 4.5 + 5 / 60),
        # without a battery nothing is ever used
        ({"horizon": "5 h", "stock": {"batteries": 0}}, 5),
    ],
)
def test_until_when_a_start_shows(changes: dict[str, Any], hours: float) -> None:
    assert start_shows_s(settings(**TEN_PATIENTS, **changes)) == pytest.approx(hours * 3_600, abs=1)
