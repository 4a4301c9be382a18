"""What stock costs, and how it is put in words."""

from __future__ import annotations

import numpy as np

from surge_sim.equipment.stock import Stock
from surge_sim.scenario.goal import Prices
from surge_sim.sizing.items import ITEMS, count_words, one_less, stock_cost, stock_words
from surge_sim.sizing.next_item import _mean_gain


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
    assert count_words("batteries", 1200) == "1,200 batteries"


def test_a_change_that_made_no_difference_in_any_surge_may_help_or_hurt_in_others() -> None:
    """No spread is seen, so neither limit is known; a lower limit of 0 would say 'never hurts'."""
    assert _mean_gain(np.zeros(40), 0.95) == (0.0, -1.0, 1.0)
