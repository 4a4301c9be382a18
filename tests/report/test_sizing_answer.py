"""Words of a sizing's answer."""

import pytest

from surge_sim.equipment.stock import Stock
from surge_sim.report.sizing_answer import step_words


@pytest.mark.parametrize(
    ("stock", "said"),
    [
        (Stock(8, 10, 4), "+1 kit"),
        (Stock(7, 12, 4), "+2 batteries"),
        (Stock(10, 15, 8), "+3-5-4"),
        (Stock(7, 11, 8), "+0-1-4"),
        (Stock(8, 10, 4, extra_hoods=3), "+1 kit, 3 hoods"),
        (Stock(7, 10, 4, extra_cleaners=1), "+1 cleaner"),
    ],
)
def test_a_step_names_one_thing_and_writes_several_as_the_stock_is_written(stock, said):
    assert step_words(Stock(7, 10, 4), stock) == said
