"""The target as one surge is judged by it."""

import pytest

from surge_sim.engine.log import Score
from surge_sim.statistics.target import kept, late_allowed, parts_missed
from tests.engine.tiny import settings

PLAIN = Score(100, 10, 0, 0, 0, 0, False)


@pytest.mark.parametrize(
    ("entries", "share", "allowed"),
    [(100, 0.95, 5), (99, 0.95, 4), (20, 0.95, 1), (19, 0.95, 0), (0, 0.95, 0), (7, 1.0, 0),
     (1000, 0.999, 1), (10, 0.0, 10), (300, 0.9, 30)],
)  # fmt: skip
def test_so_many_entries_may_be_late(entries, share, allowed):
    assert late_allowed(entries, share) == allowed


def test_one_late_entry_too_many_misses_the_target():
    target = settings().target
    assert kept(PLAIN._replace(late=5), target)
    assert parts_missed(PLAIN._replace(late=6), target) == ("wait",)


def test_every_promise_must_be_kept():
    target = settings(
        target={
            "urgent": {"wait": "1 min", "service_level": "90 %"},
            "most_alarms_per_1000": "20",
            "most_stock_outs": "0",
        }
    ).target
    assert kept(PLAIN._replace(urgent_late=1, alarms=2), target)
    worst = PLAIN._replace(late=6, urgent_late=2, alarms=3, stock_outs=1)
    assert parts_missed(worst, target) == ("wait", "urgent wait", "alarms", "stock-outs")


def test_a_surge_without_entries_keeps_the_target_and_one_given_up_does_not():
    target = settings().target
    assert kept(PLAIN._replace(entries=0, urgent_entries=0), target)
    assert not kept(PLAIN._replace(given_up=True), target)
