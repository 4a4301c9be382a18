"""What there is of each item, what more of it costs, and how it is put in words."""

from __future__ import annotations

import pytest

from surge_sim.equipment.stock import (
    EXTRA,
    ITEMS,
    MOST_PARTS,
    PARTS,
    Start,
    Stock,
    added_words,
    count_words,
    listed,
    money,
    per_surge,
    poorest,
    purchase,
    start_of,
    stock_in_hand,
    stock_words,
    within,
)
from surge_sim.scenario.schema import Prices, SearchLimits
from tests.engine.test_timelines import FILTERS
from tests.engine.tiny import settings

#: as many of each item as its place in this order, so that none is taken for another
EACH = Stock(
    kits=1, batteries=2, bays=3, extra_cleaners=4, extra_hoods=5, extra_tubes=6,
    extra_prefilters=7, extra_he_filters=8, extra_large_hoods=9,
)  # fmt: skip
NAMES = ["kits", "batteries", "bays", "cleaners", "hoods", "tubes", "prefilters", "he_filters",
         "large_hoods"]  # fmt: skip
#: a lot of each item costs another power of ten
PRICES = Prices(
    kit=1, battery=10, charger=100, bays_per_charger=2, cleaner=1_000, hood=10_000, tube=10**5,
    prefilter=10**6, he_filter=10**7, large_hood=10**8,
)  # fmt: skip


def test_each_item_is_counted_in_its_own_field() -> None:
    assert [ITEMS[name].of(EACH) for name in NAMES] == [1, 2, 3, 4, 5, 6, 7, 8, 9]
    assert list(ITEMS) == NAMES
    assert EACH.extra_parts == (5, 6, 7, 8, 9)
    assert tuple(NAMES[4:]) == PARTS and tuple(NAMES[3:]) == EXTRA
    for name, item in ITEMS.items():
        more = item.put(EACH, 20)
        assert item.of(more) == 20
        assert [ITEMS[one].of(more) for one in NAMES if one != name] == [
            number for number, one in enumerate(NAMES, 1) if one != name
        ]


def test_spare_are_the_batteries_beyond_one_for_each_kit() -> None:
    assert [Stock(3, n, 0).spare_batteries for n in (2, 3, 8)] == [0, 0, 5]


@pytest.mark.parametrize(("count", "error"), [(-1, ValueError), (1.5, TypeError)])
def test_a_count_is_a_whole_number_of_0_or_more(count: int, error: type[Exception]) -> None:
    with pytest.raises(error, match="bays"):
        Stock(1, 1, count)


def test_each_item_has_its_price_and_bays_come_in_chargers_of_two() -> None:
    """One more of everything, the three bays in two chargers; extra cleaners come each surge."""
    owned = Stock(0, 1, 0, 3, 4, 5, 6, 7, 8)
    assert purchase(owned, EACH, PRICES) == 111_110_211
    assert per_surge(owned, EACH, PRICES) == 1_000
    assert money(owned, EACH, PRICES) == 111_111_211
    assert money(EACH, owned, PRICES) == purchase(EACH, owned, PRICES) == 0
    # of four kits two are owned
    assert purchase(Stock(2, 5, 5), Stock(4, 5, 5), PRICES) == 2


def test_prices_with_a_comma_add_up_to_what_they_are() -> None:
    """0.1 three times is 0.3, not a little more."""
    assert purchase(Stock(0, 0, 0), Stock(3, 0, 0), Prices(kit=0.1)) == 0.3


def test_the_search_goes_as_far_as_its_limits_and_in_parts_as_far_as_there_are_plenty() -> None:
    limits = SearchLimits(kits=11, batteries=22, bays=33, cleaners=44)
    found = [ITEMS[name].limit(limits) for name in NAMES]
    assert found == [11, 22, 33, 44, *[MOST_PARTS] * 5]


def test_a_stock_lies_within_another_that_has_at_least_as_many_of_everything() -> None:
    assert within(EACH, EACH)
    for item in ITEMS.values():
        more = item.put(EACH, 20)
        assert within(EACH, more) and not within(more, EACH)


def test_the_poorest_stock_has_so_much_of_everything_as_each_has_at_least() -> None:
    some = [item.put(EACH, 0) for item in ITEMS.values()]
    assert poorest(some) == Stock(0, 0, 0)
    assert poorest([Stock(1, 9, 3), Stock(2, 8, 4)]) == Stock(1, 8, 3)


def test_a_stock_is_told_with_what_there_is_beyond_the_scenario() -> None:
    assert stock_words(EACH) == (
        "1 kit, 2 batteries, 3 bays, 4 extra cleaners, 5 extra hoods, 6 extra tubes, "
        "7 extra prefilters, 8 extra HE filters, 9 extra large hoods"
    )
    assert stock_words(Stock(0, 1, 1)) == "0 kits, 1 battery, 1 bay"
    ones = Stock(1, 1, 1, 1, 1, 1, 1, 1, 1)
    assert stock_words(ones) == (
        "1 kit, 1 battery, 1 bay, 1 extra cleaner, 1 extra hood, 1 extra tube, "
        "1 extra prefilter, 1 extra HE filter, 1 extra large hood"
    )


def test_so_many_parts_as_the_search_may_try_are_plenty() -> None:
    plenty = Stock(MOST_PARTS, 1, 1, extra_cleaners=MOST_PARTS, extra_he_filters=MOST_PARTS)
    assert stock_words(plenty) == (
        "10,000 kits, 1 battery, 1 bay, 10,000 extra cleaners, plenty of HE filters"
    )
    few = stock_words(Stock(1, 1, 1, extra_tubes=MOST_PARTS - 1, extra_hoods=MOST_PARTS + 1))
    assert few.endswith("1 bay, plenty of hoods, 9,999 extra tubes")


def test_what_is_added_is_told_as_a_list() -> None:
    owned = Stock(1, 1, 1)
    assert added_words(owned, EACH) == (
        "1 battery, 2 bays, 4 cleaners, 5 hoods, 6 tubes, 7 prefilters, 8 HE filters "
        "and 9 large hoods"
    )
    assert added_words(owned, EACH, without=PARTS) == "1 battery, 2 bays and 4 cleaners"
    assert added_words(owned, Stock(3, 1, 0)) == "2 kits"
    assert added_words(EACH, owned) == added_words(EACH, EACH) == "nothing"
    assert [listed(["a"]), listed(["a", "b"]), listed(["a", "b", "c"])] == [
        "a", "a and b", "a, b and c",
    ]  # fmt: skip
    assert [count_words("kits", number) for number in (-1, 0, 1, 1_200)] == [
        "-1 kit", "0 kits", "1 kit", "1,200 kits",
    ]  # fmt: skip


def test_the_stock_in_hand_is_the_scenario_s_and_nothing_beyond() -> None:
    changed = settings(stock={"kits": "7", "batteries": "11", "bays": "5"})
    assert stock_in_hand(changed) == Stock(7, 11, 5)


def test_filters_are_part_worn_at_the_start_unless_the_scenario_says_that_they_are_new() -> None:
    assert start_of(settings()) == Start(filters_part_worn=True) == Start()
    for words, worn in (("new", False), ("part worn", True)):
        filters = FILTERS | {"at_start": words}
        assert start_of(settings(filters=filters)).filters_part_worn == worn
