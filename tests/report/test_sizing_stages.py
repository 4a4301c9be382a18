"""Words of a sizing's answer."""

import pytest

from surge_sim.equipment.stock import Stock
from surge_sim.report.sizing_stages import bought_in_short


@pytest.mark.parametrize(
    ("stock", "said"),
    [
        (Stock(8, 10, 4), "1-0-0"),
        (Stock(7, 12, 4), "0-2-0"),
        (Stock(10, 15, 8), "3-5-4"),
        (Stock(7, 11, 8), "0-1-4"),
        (Stock(8, 10, 4, extra_hoods=3), "1-0-0, 3 hoods"),
        (Stock(7, 10, 4, extra_cleaners=1), "1 cleaner"),
    ],
)
def test_what_is_bought_is_written_as_a_stock_is_and_other_items_by_name(stock, said):
    assert bought_in_short(Stock(7, 10, 4), stock) == said


def test_cleaners_are_told_by_their_number_where_they_are_among_the_first():
    names = ("kits", "batteries", "bays", "cleaners")
    assert bought_in_short(Stock(7, 10, 4), Stock(7, 10, 8, extra_cleaners=2), names) == "0-0-4-2"
