"""The JSON answer: agreed names, plain numbers."""

import json

import pytest

from surge_sim.cautions import CAUTION
from surge_sim.equipment.stock import Stock
from surge_sim.report.run_folder import run_json, stock_json, target_json
from tests.engine.tiny import settings
from tests.statistics.hand_run import rich_run, run_of_waits

INTERVAL = {"estimate", "low", "high"}


def test_the_agreed_names_are_there():
    answer = run_json(rich_run())
    assert answer["scenario"] == "by_hand"
    assert answer["seed"] == 1
    assert answer["surges"] == 2
    assert answer["stock"] == {"kits": 3, "batteries": 5, "spare_batteries": 2, "bays": 2}
    assert answer["target"] == {
        "wait_minutes": 5.0,
        "service_level": 0.95,
        "share_of_surges": 0.9,
    }
    assert answer["entries_per_surge"] == 4
    assert answer["unserved_per_surge"] == 1
    for name in ("service_level", "share_on_target"):
        assert set(answer[name]) == INTERVAL
    assert list(answer["wait_minutes"]) == ["mean", "p50", "p90", "p95", "p99", "max"]
    assert all(set(interval) == INTERVAL for interval in answer["wait_minutes"].values())
    assert answer["wait_minutes"]["max"] == {"estimate": 10.0, "low": None, "high": None}
    assert answer["cause_of_waiting"] == {
        "kit in use": 0.38095, "kit in contact or drying time": 0.33333,
        "battery waiting for a bay": 0.28571,
    }  # fmt: skip
    assert answer["alarms_per_1000"]["low battery"] == 375.0
    assert answer["used"]["wipes"]["enough"] == answer["used"]["wipes"]["mean"] == 8.0
    assert answer["caution"] == CAUTION


def test_shares_of_waiting_time_add_up():
    assert sum(run_json(rich_run())["cause_of_waiting"].values()) == pytest.approx(1, abs=1e-4)


@pytest.mark.parametrize("waits", [[[]], [[], []], [[0]], [[0, 9]] * 3])
def test_json_can_be_written_whatever_happened(waits):
    text = json.dumps(run_json(run_of_waits(*waits)), allow_nan=False)
    assert json.loads(text)["surges"] == len(waits)


def test_the_share_of_all_entries_is_not_the_mean_of_the_surges_shares():
    """One entry of one in time, and one of three: 2 of 4 are a half, the mean is two thirds."""
    answer = run_json(run_of_waits([0], [0, 9, 9]))
    assert answer["service_level"]["estimate"] == 0.5
    assert answer["service_level_by_surge"]["estimate"] == 0.66667


def test_one_surge_has_null_limits():
    answer = run_json(rich_run(1))
    assert answer["service_level"] == {"estimate": 0.5, "low": None, "high": None}


def test_urgent_ones_are_named_only_where_there_are_some():
    assert run_json(rich_run())["urgent_service_level"]["estimate"] == 0.0
    assert "urgent_service_level" not in run_json(run_of_waits([0]))


def test_extras_and_further_promises_are_named_only_where_there_are_some():
    assert stock_json(Stock(3, 2, 1, extra_cleaners=2))["extra_cleaners"] == 2
    assert stock_json(Stock(3, 2, 1))["spare_batteries"] == 0
    urgent = {"wait": "90 s", "service_level": "99 %"}
    said = target_json(settings(target={"urgent": urgent, "most_stock_outs": "3"}).target)
    assert said["urgent"] == {"wait_minutes": 1.5, "service_level": 0.99}
    assert said["most_stock_outs"] == 3
    assert "most_alarms_per_1000" not in said
