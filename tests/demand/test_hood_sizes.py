"""Which wearers need a large hood: as many as the scenario says, each of one size, and no more."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.random import Generator
from numpy.testing import assert_array_equal

from surge_sim.demand.hood_sizes import large_hoods
from surge_sim.demand.plan import plan_of
from surge_sim.randomness import Purpose, Streams
from tests.demand.chance import share_agrees
from tests.demand.test_entries import steady
from tests.demand.ward import settings

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


def wearers_of_three_roles() -> tuple[np.ndarray, np.ndarray]:
    """Ends of shifts, and roles and groups: four of rooms and four of boarded patients each."""
    whose = [(role, group) for role in (0, 1, 2) for group in (0, 1, 2, 3, -1, -2, -3, -4)]
    ends_s = np.repeat([8 * 3_600, 20 * 3_600], len(whose))
    return ends_s, np.array(whose * 2, dtype=np.int64)


def test_no_two_wearers_share_their_luck() -> None:
    """48 wearers in 80 surges; that two of them always agree has a chance of 1e-21."""
    plan = plan_of(settings(kit={"large_hood_share": "50 %"}))
    ends_s, wearers = wearers_of_three_roles()
    each = np.arange(len(wearers))
    sizes = [large_hoods(plan, Streams(1, 0, one), each, ends_s, wearers) for one in range(80)]
    assert len({tuple(column) for column in np.array(sizes).T.tolist()}) == len(wearers) == 48


def test_sizes_are_drawn_in_blocks_of_a_role_and_a_shift(monkeypatch: pytest.MonkeyPatch) -> None:
    """Entries without a named wearer, wearers of a log; 2**40 times a role's number and 2, and the
    second at which its shift ends.
    """
    asked: set[int] = set()
    give = Streams.stream

    def noted(self: Streams, purpose: Purpose, block: int = 0) -> Generator:
        assert purpose == Purpose.HOOD_SIZES
        asked.add(block)
        return give(self, purpose, block)

    monkeypatch.setattr(Streams, "stream", noted)
    plan = plan_of(settings(kit={"large_hood_share": "50 %"}))
    ends_s, wearers = wearers_of_three_roles()
    nobody = np.full(5, -1)
    large_hoods(plan, Streams(1, 0, 0), nobody, ends_s, wearers)
    assert asked == {0} | {
        role * 2**40 + hour * 3_600 for role in (2, 3, 4) for hour in (8, 20)
    }  # fmt: skip
    asked.clear()
    large_hoods(plan, Streams(1, 0, 0), nobody, ends_s, None)
    assert asked == {0, 1}
