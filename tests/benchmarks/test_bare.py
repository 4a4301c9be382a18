"""The bare pool of kits gives the tool's own waits where it knows all that happens."""

from __future__ import annotations

from surge_sim.engine.play import play
from surge_sim.equipment.stock import Stock
from tests.benchmarks.bare import play_bare
from tests.engine.tiny import settings, tiny_trace


def test_the_bare_pool_waits_like_the_reference_engine_when_only_kits_are_short():
    """Kit 0-21 min (check 1), wiped until 31: the entry at 10 waits 21 min, the next 52 more."""
    plain = settings(
        kit={"pre_use_check": "1 min"},
        cleaning={"by": "wearer", "wipe_down": "5 min", "drying_time": "5 min"},
    )
    trace = tiny_trace(plain, need=[0, 10, 20], room=20, wipe=[5])
    case = trace.situation(Stock(1, 9, 9))
    waits = play_bare(trace, case.unit.rules, 1, [300] * 3)
    assert waits == [0, 21 * 60, 42 * 60]
    assert play(*case, engine="reference").wait_s.tolist() == waits
