"""Which wearers need a large hood: as many as the scenario says, each of one size, and no more."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from tests.demand.chance import share_agrees
from tests.demand.test_entries import steady

#: nurses with three patients each in two shifts a day; others come as they are
NAMED = {
    "roles": {
        "nurse": {"room_time": "6 min", "patients_per_wearer": 3, "shifts": ["07:00", "19:00"]},
        "other": {"room_time": "6 min"},
    },
    "classes": {
        "ward": {
            "length_of_isolation": "400 d", "entries": {"nurse": "20 per day", "other": "9 per day"}
        }
    },
}  # fmt: skip
HOODS = {"large_hood_share": "30 %"}


def test_a_share_of_entries_needs_a_large_hood_and_nothing_else_moves() -> None:
    """One binomial count of about 20,000; false alarm 1 in a million."""
    plain, sized = steady(seed=51), steady(seed=51, kit=HOODS)
    assert not plain.large_hood.any()
    assert share_agrees(int(sized.large_hood.sum()), sized.entries, 0.3)
    for name in ("due_s", "room_s", "don_s", "doff_s", "patient", "hood_torn", "mark", "wearer"):
        assert_array_equal(getattr(sized, name), getattr(plain, name), err_msg=name)
    assert steady(horizon="2 d", kit={"large_hood_share": "100 %"}).large_hood.all()


def test_a_named_wearer_needs_one_size_for_the_shift() -> None:
    """Some 800 wearers, one binomial count of them; false alarm 1 in a million."""
    trace = steady(seed=52, kit=HOODS, **NAMED)
    named = trace.wearer >= 0
    assert named.any() and (~named).any()
    entries = np.bincount(trace.wearer[named])
    large = np.bincount(trace.wearer[named], weights=trace.large_hood[named])
    assert (entries > 1).any()
    assert ((large == 0) | (large == entries)).all()
    assert share_agrees(int((large[entries > 0] > 0).sum()), int((entries > 0).sum()), 0.3)


@pytest.mark.parametrize("seed", [53, 54])
def test_what_comes_later_moves_no_size(seed: int) -> None:
    """The first ten days of 100 are those of 50."""
    long = steady(seed=seed, kit=HOODS, **NAMED)
    short = steady(seed=seed, kit=HOODS, **(NAMED | {"horizon": "50 d"}))
    sizes = []
    for trace in (short, long):
        early = (trace.due_s < 10 * 86_400) & (trace.wearer >= 0)
        shift_end_s = trace.shift_end_s[trace.wearer[early]]
        assert trace.wearers is not None
        group = trace.wearers[trace.wearer[early], 1]
        keys = zip(shift_end_s.tolist(), group.tolist(), strict=True)
        sizes.append(dict(zip(keys, trace.large_hood[early].tolist(), strict=True)))
    assert len(sizes[0]) > 50
    assert sizes[0] == sizes[1]
