"""Each option reaches the work that it is for, in the unit that it has there."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from surge_sim.cli import run as run_command
from surge_sim.cli import size as size_command
from surge_sim.cli.main import cli
from tests.conftest import ROOT

FILE = ROOT / "scenarios" / "rule_out_unit.yaml"


class Asked(Exception):
    """Instead of the work: what it was asked."""


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Any:
    """Run a command with options; return what the work is asked."""
    monkeypatch.chdir(tmp_path)
    found: dict[str, Any] = {}

    def instead(scenario: Any, *stock: Any, **options: Any) -> None:
        found.update(options, scenario=scenario)
        found["stock"] = stock[0] if stock else None
        raise Asked

    monkeypatch.setattr("surge_sim.sizing.size.size", instead)
    monkeypatch.setattr("surge_sim.statistics.run.run", instead)

    def invoke(command: Any, *options: str) -> dict[str, Any]:
        found.clear()
        # through the program: a command alone has other names for its help, and keeps them
        done = CliRunner().invoke(cli, [command.name, str(FILE), *options])
        assert isinstance(done.exception, Asked), done.output
        return dict(found)

    return invoke


def test_every_option_of_size_reaches_the_sizing_in_its_unit(asked: Any) -> None:
    """Target and prices are part of the scenario that is sized, and so of its folder."""
    said = asked(
        size_command.command, "--only", "batteries,bays", "--confidence", "90 %", "--new",
        "--spend", "8000", "--choose", "31", "--surges", "92",
        "--seed", "7", "--processes", "3", "--cluster", "tcp://nowhere.example:1",
        "--target", "wait=7 min,service_level=91%,share_of_surges=82%,most_alarms_per_1000=3,"
        "most_stock_outs=4",
        "--prices", "kit=11,battery=12,charger=13,bays_per_charger=4,hood=15,tube=16,cleaner=17",
    )  # fmt: skip
    expected = {
        "vary": "batteries,bays", "confidence": "90 %", "spend": 8_000.0, "choose": 31,
        "surges": 92, "new": True, "seed": 7, "processes": 3,
        "cluster": "tcp://nowhere.example:1",
    }  # fmt: skip
    assert {name: said[name] for name in expected} == expected
    target = said["scenario"].settings.target
    assert (target.wait, target.service_level, target.share_of_surges) == (420, 0.91, 0.82)
    assert (target.most_alarms_per_1000, target.most_stock_outs) == (3.0, 4)
    prices = said["scenario"].settings.prices
    each = ("kit", "battery", "charger", "bays_per_charger", "hood", "tube", "cleaner")
    assert [getattr(prices, name) for name in each] == [11, 12, 13, 4, 15, 16, 17]


@pytest.mark.parametrize(
    ("options", "choose", "surges"),
    [
        ((), 200, 800),
        (("--quick",), 100, 300),
        (("--quick", "--choose", "50"), 50, 300),
        (("--quick", "--surges", "90"), 100, 90),
    ],
)
def test_numbers_of_surges_are_those_of_the_help(
    asked: Any, options: tuple[str, ...], choose: int, surges: int
) -> None:
    said = asked(size_command.command, *options)
    assert (said["choose"], said["surges"], said["confidence"]) == (choose, surges, "95%")
    assert said["spend"] is said["vary"] is None and not said["new"]


def test_every_option_of_run_reaches_the_run(asked: Any) -> None:
    said = asked(
        run_command.command, "--kits", "21", "--batteries", "32", "--bays", "13", "--surges", "44",
        "--seed", "9", "--processes", "2", "--engine", "reference",
    )  # fmt: skip
    stock = asdict(said["stock"])
    assert (stock["kits"], stock["batteries"], stock["bays"]) == (21, 32, 13)
    assert (said["surges"], said["seed"], said["processes"], said["engine"]) == (
        44,
        9,
        2,
        "reference",
    )
    plain = asked(run_command.command)
    kept = asdict(plain["stock"])
    assert (kept["kits"], kept["batteries"], kept["bays"], plain["surges"]) == (7, 16, 8, 200)
