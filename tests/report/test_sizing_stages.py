"""Words of a sizing's answer."""

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from surge_sim.equipment.stock import Stock
from surge_sim.report.sizing_stages import NO_CANDIDATE, bought_in_short, stages_read
from surge_sim.sizing.ledger import UNDECIDED, Entry


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


@pytest.mark.parametrize(("above", "told"), [(True, True), (False, False)])
def test_a_stage_that_is_undecided_with_a_high_lower_limit_is_explained(above, told):
    """The chain of candidates ended before it: its limit is good, and proves nothing together."""
    first, best = Stock(7, 10, 4), Stock(9, 10, 4)
    stages = (first, Stock(8, 10, 4), best)
    plain = Entry(first, 100, 95, 0.86, 0.99, UNDECIDED, False, ((95, 100),), "stage")
    entries = {one: replace(plain, stock=one) for one in stages}
    entries[stages[1]] = replace(entries[stages[1]], low=0.91 if above else 0.86, above=above)
    result: Any = SimpleNamespace(
        replay=None, stages=stages, recommended=best, owned=first,
        ledger=SimpleNamespace(entry=entries.get, rows=lambda stock: np.zeros((100, 1))),
    )  # fmt: skip
    assert (NO_CANDIDATE in stages_read(result)) is told
