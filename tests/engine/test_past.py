"""What a decision changes lies after it: everything before its moment stays, to the second."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from surge_sim.engine.log import Kind, Use
from surge_sim.engine.play import Engine, play
from surge_sim.equipment.stock import Stock
from surge_sim.units import HOUR_S
from tests.engine.random_play import DECISIONS, plays, timelines
from tests.engine.test_agreement import SHORT
from tests.engine.tiny import HandMade, settings

#: what may come later on loan is away until then, and counted there
HERE = [use for use in Use if use not in (Use.KITS_AWAY, Use.BATTERIES_AWAY)]


def before(trace: HandMade, stock: Stock, engine: Engine, at_s: int) -> list[np.ndarray]:
    """Everything that is known before a moment: events, lacks, and use in whole hours."""
    case = trace.situation(stock)
    log = play(*case, engine=engine, events=True)
    assert log.events is not None
    events = log.events[log.events[:, 0] < at_s].copy()
    # rows of later needs are numbered behind the entries, of which some may be dropped
    rows = events[events[:, 1] == Kind.JOINS_LINE, 7]
    rows[rows >= case.demand.entries] -= case.demand.entries - 10**6
    events[events[:, 1] == Kind.JOINS_LINE, 7] = rows
    lacks = log.missing_at_s < at_s
    return [
        events, log.missing_at_s[lacks], log.missing_mask[lacks],
        log.use_area[HERE, : at_s // HOUR_S],
    ]  # fmt: skip


@pytest.mark.parametrize("engine", [pytest.param("reference", marks=pytest.mark.slow), "compiled"])
@given(case=plays(), changes=timelines(), at_min=st.integers(1, 900))
@hypothesis_settings(**SHORT | {"max_examples": 100})
def test_nothing_before_a_decision_is_changed_by_it(
    engine: Engine,
    case: tuple[HandMade, Stock],
    changes: list[dict[str, str]],
    at_min: int,
):
    """Decisions of every sort are added from a moment on to surges with timelines of their own."""
    trace, stock = case
    later = [one | {"at": f"{at_min} min"} for one in changes if one["what"] in DECISIONS]
    together = trace.settings.timeline + settings(timeline=later).timeline
    changed = trace.settings.model_copy(update={"timeline": together})
    other = dataclasses.replace(trace, settings=changed)
    one, two = (before(each, stock, engine, at_min * 60) for each in (trace, other))
    for mine, theirs in zip(one, two, strict=True):
        np.testing.assert_array_equal(mine, theirs)
