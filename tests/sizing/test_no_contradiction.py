"""Random small scenarios: one verdict a stock, stages that the tables bear out, money that adds up.

Each number that a stage claims is counted again from plays of the reference engine.
"""

from __future__ import annotations

import json
import math
import random
from itertools import pairwise
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from surge_sim.engine.play import play
from surge_sim.equipment.situation import situation_of
from surge_sim.equipment.stock import ITEMS, Stock
from surge_sim.errors import OutOfReach
from surge_sim.randomness import Sample
from surge_sim.report.folder import result_folder
from surge_sim.report.sizing_answer import size_document
from surge_sim.report.sizing_folder import fill_size_folder
from surge_sim.report.terminal import render
from surge_sim.scenario.load import Scenario, scenario_from_text
from surge_sim.sizing.result import SizeResult
from surge_sim.sizing.size import size

#: random numbers here are arguments of scenarios, not draws: no chance of a false alarm;
#: how many scenarios there are, how many of them are no study, how many are quick
SCENARIOS, SLOW, QUICK = 200, 40, 1

TEXT = """
title: Small unit {number} (invented)
question: What is missing?
note: An invented unit in a place that does not exist.
start: 2031-03-03 07:00
horizon: 30 h
arrivals: {{baseline: {baseline} per day, initial_census: 3}}
classes:
  ward:
    share: 100 %
    length_of_isolation: {{shape: exponential, mean: 1 d}}
    entries: {{nurse: 14 per day}}
roles:
  nurse: {{room_time: {{shape: gamma, mean: {room} min, cv: 60 %}}}}
kit:
  pre_use_check: 1 min
  don: 3 min
  doff: 3 min
  levels: [{{flow: 180 L/min, run_time: {run_time} h}}]
batteries: {{charge_time: 2 h, minimum_run_time: 40 min, low_battery_alarm: 5 min,
  end_of_charge: straight,
  issued: fullest}}
cleaning: {{{cleaning}, wipe_down: 5 min, contact_time: 2 min, drying_time: 10 min}}
{parts}
stock: {{kits: {kits}, batteries: {batteries}, bays: {bays}}}
prices: {{currency: talers, kit: {kit}, battery: {battery}, charger: {charger},
  bays_per_charger: {per_charger}, cleaner: {cleaner}, hood: 30}}
limits: {{kits: 14, batteries: 24, bays: 12, cleaners: 6}}
target: {{wait: 5 min, service_level: {entries} %, share_of_surges: {surges} %}}
sources: {{arrivals: invented}}
"""
CREW = "by: crew, crew: [{start: 07:00, end: 19:00, cleaners: 1}, " \
    "{start: 19:00, end: 07:00, cleaners: 1}]"  # fmt: skip


def scenario(number: int) -> Scenario:
    """Write and read a random scenario."""
    dice = random.Random(number)
    whole = dice.randint
    text = TEXT.format(
        number=number, baseline=whole(2, 6), room=whole(8, 20), run_time=whole(2, 6),
        cleaning=CREW if dice.random() < 0.3 else "by: wearer",
        parts="failures: {hood_damage: 10 %}\nsupplies: {hoods: {spare: 1}}"
        if dice.random() < 0.3 else "",
        kits=whole(0, 4), batteries=whole(0, 6), bays=whole(0, 3), kit=whole(500, 2000),
        battery=whole(100, 400), charger=whole(100, 900), per_charger=dice.choice((1, 2, 4)),
        cleaner=whole(0, 3000), entries=whole(80, 95), surges=whole(60, 85),
    )  # fmt: skip
    return scenario_from_text(text, name=f"small_{number}")


def numbers() -> list[Any]:
    return [
        *range(QUICK),
        *(pytest.param(one, marks=pytest.mark.slow) for one in range(QUICK, SLOW)),
        *(pytest.param(one, marks=pytest.mark.study) for one in range(SLOW, SCENARIOS)),
    ]


@pytest.mark.parametrize("number", numbers())
def test_no_stock_carries_two_verdicts_and_money_adds_up(number: int, tmp_path: Path) -> None:
    small = scenario(number)
    new = number % 4 == 0
    spend = 3_000.0 if number % 5 == 0 else None
    try:
        result = size(small, new=new, spend=spend, choose=40, surges=120, confidence=0.8,
                      processes=1)  # fmt: skip
    except OutOfReach:
        return
    with result_folder(tmp_path / "out", small, ["surge-sim"], {}) as folder:
        fill_size_folder(folder, result)
    summary = json.loads((tmp_path / "out/summary.json").read_text("utf-8"))
    stages = pd.read_csv(tmp_path / "out/tables/stages.csv").to_dict("records")
    tested = pd.read_csv(tmp_path / "out/tables/tested.csv").to_dict("records")
    one_verdict(summary, stages, tested)
    limits_by_hand(tested)
    money_adds_up(small, stages, result)
    order_holds(tested, summary)
    screen = (tmp_path / "out/answer.txt").read_text("utf-8")
    assert screen == render(size_document(result)) + "\n"
    played_again(small, stages, result)


def counts(row: dict[str, Any]) -> tuple[int, ...]:
    # a sizing without large hoods has no column of them
    return tuple(int(row.get(item.field, 0)) for item in ITEMS.values())


def one_verdict(
    summary: dict[str, Any], stages: list[dict[str, Any]], tested: list[dict[str, Any]]
) -> None:
    """Each stock has the same counts, limits and verdict wherever it stands."""
    known = {counts(row): row for row in tested}
    assert len(known) == len(tested)
    rows = [*stages, *summary["stages"], *summary["tested"]]
    rows += [summary[name] for name in ("in_hand", "recommended", "spend") if summary[name]]
    for row in rows:
        mine = known[counts(row)]
        for name in ("surges", "surges_on_target", "verdict"):
            assert row[name] == mine[name]
        for name in ("low", "high", "cost"):
            assert row[name] == pytest.approx(mine[name], rel=1e-5)
    best = known[counts(summary["recommended"])]
    assert best["verdict"] == "confirmed"
    assert best["cost"] == min(row["cost"] for row in tested if row["verdict"] == "confirmed")


def limits_by_hand(tested: list[dict[str, Any]]) -> None:
    """The limits follow from the row by the formula of columns.txt."""
    for row in tested:
        q, bar = row["required_share"], math.log(1 / row["alpha"])
        blocks = [
            tuple(map(int, one.split(" of "))) for one in row["on_target_by_block"].split(";")
        ]

        def stake(p: float, passes_side: bool, row=row, blocks=blocks, q=q, bar=bar) -> float:  # type: ignore[no-untyped-def]
            total = 0.0
            for end, (s, surges) in zip((500, 800, 2000), blocks, strict=False):
                u = min(0.75, math.sqrt(2 * bar * q / ((1 - q) * end)))
                v = min(0.75, math.sqrt(2 * bar * (1 - q) / (q * end)))
                m = surges - s
                if passes_side:
                    total += s * math.log(1 + u * (1 - p) / p) + m * math.log(1 - u)
                else:
                    total += m * math.log(1 + v * p / (1 - p)) + s * math.log(1 - v)
            return total

        low, high = row["low"], row["high"]
        if low > 1e-6:
            assert stake(low * 0.999, True) > bar > stake(low * 1.001, True)
        if high < 0.999:
            assert stake(high * 0.999, False) < bar < stake(1 - (1 - high) * 0.99, False)
        if row["verdict"] == "confirmed":
            assert low >= q - 1e-5
        assert (row["verdict"] == "not met") == (high < q)


def order_holds(tested: list[dict[str, Any]], summary: dict[str, Any]) -> None:
    """Candidates are confirmed from the first up to the answer, and none after it."""
    chain = sorted((r for r in tested if r["order_of_test"] > 0), key=lambda r: r["order_of_test"])
    place = next(n for n, r in enumerate(chain) if counts(r) == counts(summary["recommended"]))
    assert all(row["verdict"] == "confirmed" for row in chain[: place + 1])
    assert not any(row["verdict"] == "confirmed" for row in chain[place + 1 :])
    prices = [row["cost"] for row in chain]
    assert prices == sorted(prices, reverse=True)
    least = summary["least_cost"]
    assert 0 <= least["low"] <= least["high"] == summary["recommended"]["cost"]


def money_adds_up(small: Scenario, stages: list[dict[str, Any]], result: SizeResult) -> None:
    """Each stage has more than the one before and costs what its lots cost."""
    prices = small.settings.prices
    one = {"kits": prices.kit, "batteries": prices.battery, "extra_cleaners": prices.cleaner,
           "extra_hoods": prices.hood}  # fmt: skip
    first = stages[0]
    assert first["cost"] == 0 and counts(first) == tuple(
        item.of(result.owned) for item in ITEMS.values()
    )
    for before, row in pairwise(stages):
        assert all(a <= b for a, b in zip(counts(before), counts(row), strict=True))
        assert row["cost"] > before["cost"] or row["bought"].endswith("cleaner")
    for row in stages:
        chargers = -(-(row["bays"] - first["bays"]) // prices.bays_per_charger)
        total = chargers * prices.charger
        total += sum(price * (row[name] - first[name]) for name, price in one.items())
        assert row["cost"] == pytest.approx(total)
        assert row["cost"] == pytest.approx(row["purchase"] + row["paid_per_surge"])
        assert row["paid_per_surge"] == row["extra_cleaners"] * prices.cleaner


def played_again(small: Scenario, stages: list[dict[str, Any]], result: SizeResult) -> None:
    """The first and the recommended stage, played in the reference engine on the first surges."""
    wait_s, share = small.settings.target.wait, small.settings.target.service_level
    for row in (stages[0], next(row for row in stages if row["recommended"])):
        stock = Stock(*counts(row))
        rows = result.ledger.rows(stock)
        for surge in range(3):
            case = situation_of(small, stock, result.seed, surge, Sample.CONFIRM)
            log = play(*case, engine="reference")
            late = {int(e) for e in log.entry[(log.outcome != 1) | (log.wait_s > wait_s)]}
            entries = case.demand.entries
            allowed = math.floor(entries * (1 - share) + 1e-9)
            assert rows[surge][:4].tolist() == [
                int(len(late) <= allowed), entries, len(late), int(log.wait_s.sum())
            ]  # fmt: skip
