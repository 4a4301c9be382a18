"""What one surge must keep, and what stock costs."""

from __future__ import annotations

import pytest

from surge_sim.engine.log import Score
from surge_sim.equipment.stock import Stock
from surge_sim.scenario.goal import Prices, Target, UrgentTarget
from surge_sim.sizing.items import ITEMS, count_words, one_less, stock_cost, stock_words
from surge_sim.sizing.target import late_allowed, on_target, parts_missed
from tests.sizing.stand_in import TARGET


@pytest.mark.parametrize(
    ("entries", "share", "allowed"),
    [(100, 0.95, 5), (99, 0.95, 4), (0, 0.95, 0), (20, 0.95, 1), (19, 0.95, 0), (1000, 0.9, 100),
     (7, 1.0, 0), (7, 0.0, 7)],
)  # fmt: skip
def test_late_entries_allowed(entries: int, share: float, allowed: int) -> None:
    assert late_allowed(entries, share) == allowed


def scored(entries: int = 100, late: int = 0, **other: int) -> Score:
    values = {"urgent_entries": 0, "urgent_late": 0, "alarms": 0, "stock_outs": 0, **other}
    return Score(entries=entries, late=late, given_up=False, **values)


def test_every_part_of_the_target_must_be_kept() -> None:
    """95 % of all, 90 % of urgent within their own wait, 20 alarms in 1,000, 1 stock-out."""
    urgent = UrgentTarget.model_construct(wait=60, share_of_entries=0.9)
    target = Target.model_construct(
        **{**dict(TARGET), "urgent": urgent, "most_alarms_per_1000": 20.0, "most_stock_outs": 1}
    )
    good = {"late": 5, "urgent_entries": 10, "urgent_late": 1, "alarms": 2, "stock_outs": 1}
    assert on_target(scored(**good), target)
    assert parts_missed(scored(**good), target) == []
    for part, words in (
        ("late", "the wait of all entries"),
        ("urgent_late", "the wait of urgent entries"),
        ("alarms", "the number of alarms"),
        ("stock_outs", "the number of stock-outs"),
    ):
        worse = scored(**{**good, part: good[part] + 1})
        assert not on_target(worse, target)
        assert parts_missed(worse, target) == [words]


def test_a_surge_without_entries_is_on_target_and_a_play_given_up_is_not() -> None:
    assert on_target(scored(entries=0), TARGET)
    assert not on_target(scored(late=1)._replace(given_up=True), TARGET)


def test_bays_are_sold_by_the_charger() -> None:
    """3 kits at 10, 5 batteries at 2, 7 bays in chargers of 6 at 5: 30 + 10 + 10 = 50."""
    prices = Prices(kit=10, battery=2, charger=5, bays_per_charger=6)
    assert stock_cost(Stock(3, 5, 7), prices) == 50
    assert stock_cost(Stock(3, 5, 6), prices) == 45
    assert ITEMS["bays"].lot(prices) == 6
    assert one_less(Stock(3, 5, 7), prices) == [
        ("one kit less", Stock(2, 5, 7)),
        ("one charger less", Stock(3, 5, 1)),
        ("one battery less", Stock(3, 4, 7)),
    ]


def test_stock_in_words() -> None:
    assert stock_words(Stock(1, 2, 1)) == "1 kit, 2 batteries, 1 bay"
    assert stock_words(Stock(2, 2, 2, extra_cleaners=1)).endswith("1 extra cleaner")
    assert count_words("crew", 3) == "3 cleaners"
