"""What is added costs, and how it is put in words."""

from __future__ import annotations

from surge_sim.engine.play import play
from surge_sim.equipment.stock import (
    ITEMS,
    Stock,
    added_words,
    count_words,
    money,
    per_surge,
    purchase,
    stock_words,
)
from surge_sim.scenario.schema import Prices
from surge_sim.sizing.player import Seen, row_of
from surge_sim.sizing.result import stock_columns, stock_table, thinned
from tests.engine.tiny import settings, tiny_trace


def test_only_what_is_added_costs_and_bays_are_sold_by_the_charger() -> None:
    """2 kits at 10, no battery, 7 bays in chargers of 6 at 5: 20 + 10 = 30."""
    prices = Prices(kit=10, battery=2, charger=5, bays_per_charger=6)
    owned = Stock(3, 5, 7)
    assert money(owned, Stock(5, 4, 14), prices) == 30
    assert money(owned, Stock(5, 4, 13), prices) == 25
    assert ITEMS["bays"].lot(prices) == 6
    assert money(owned, owned, prices) == 0


def test_large_hoods_are_an_item_of_their_own() -> None:
    """A usual hood at 35 and three large ones at 38: 149."""
    prices = Prices(hood=35, large_hood=38)
    owned, stock = Stock(3, 5, 7), Stock(3, 5, 7, extra_hoods=1, extra_large_hoods=3)
    assert money(owned, stock, prices) == 149
    assert added_words(owned, stock) == "1 hood and 3 large hoods"
    assert stock_words(stock).endswith("1 extra hood, 3 extra large hoods")


def test_a_table_has_a_column_of_large_hoods_only_where_there_are_any() -> None:
    some, none = (stock_columns(Stock(1, 1, 1, extra_large_hoods=n)) for n in (2, 0))
    assert "extra_large_hoods" not in stock_table([none])
    table = stock_table([none, some])
    assert table["extra_large_hoods"].tolist() == [0, 2]
    assert [*table][[*table].index("extra_he_filters") + 1] == "extra_large_hoods"


def test_what_is_paid_for_each_surge_is_kept_apart() -> None:
    prices = Prices(kit=10, cleaner=700)
    owned, stock = Stock(3, 5, 7), Stock(4, 5, 7, extra_cleaners=2)
    assert (purchase(owned, stock, prices), per_surge(owned, stock, prices)) == (10, 1400)
    assert money(owned, stock, prices) == 1410


def test_stock_in_words() -> None:
    assert stock_words(Stock(1, 2, 1)) == "1 kit, 2 batteries, 1 bay"
    assert stock_words(Stock(2, 2, 2, extra_cleaners=1)).endswith("1 extra cleaner")
    assert count_words("cleaners", 3) == "3 cleaners"
    assert count_words("batteries", 1200) == "1,200 batteries"
    assert added_words(Stock(1, 2, 1), Stock(3, 2, 2)) == "2 kits and 1 bay"


def test_of_many_stages_the_first_the_last_before_the_best_and_two_beyond_it_are_shown() -> None:
    """Eight of 20: of the 18 up to the best the last four, and two evenly from the others."""
    assert thinned(range(20), 17, 8) == (0, 7, 14, 15, 16, 17, 18, 19)
    assert thinned(range(6), 4, 8) == tuple(range(6))


def test_the_worst_day_is_the_one_with_the_largest_share_of_late_entries() -> None:
    """One kit: on day 1 the only entry has it at once, on day 2 the second of two waits."""
    changed = settings(horizon="48 h")
    trace = tiny_trace(changed, need=[0, 1_440, 1_441], room=30)
    log = play(*trace.situation(Stock(1, 9, 9)), engine="reference")
    row = row_of(log, trace, changed.target)
    assert (row[Seen.WORST_LATE], row[Seen.WORST_ENTRIES]) == (1, 2)
