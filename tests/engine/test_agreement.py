"""Both engines give the same log to the last bit on random scenarios; nothing is lost or doubled.

A long run: `python -m tests.engine.test_agreement 20000`.
"""

from __future__ import annotations

import re
import sys
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, given, reject, seed
from hypothesis import settings as hypothesis_settings

from surge_sim.engine.log import Count, Exhausted, Missing, Outcome, Use
from surge_sim.engine.play import first_sizes, play, score
from surge_sim.engine.reference.play import set_up
from surge_sim.engine.verify import compare_engines
from surge_sim.equipment.causes import Cause
from surge_sim.equipment.numbers import numbers_of
from surge_sim.equipment.order import SUPPLIES
from surge_sim.equipment.stock import Stock
from surge_sim.equipment.supplies import HOODS, LARGE_HOODS
from surge_sim.errors import ScenarioError
from tests.engine.random_play import plays
from tests.engine.tiny import HandMade

#: random scenarios on which the engines are compared, and how many of them by the quick tests
SCENARIOS, QUICK = 300, 60
#: no shrinking: it takes minutes here, and the failing case is printed whole anyway
SHORT: dict[str, Any] = {
    "max_examples": SCENARIOS,
    "deadline": None,
    "suppress_health_check": list(HealthCheck),
    "phases": [Phase.explicit, Phase.reuse, Phase.generate],
}


def compare(trace: HandMade, stock: Stock) -> None:
    """Play both engines and compare every value of the logs and of the scores, or the refusal."""
    case = trace.situation(stock)
    try:
        found = compare_engines(case)
    except ScenarioError as refused:
        with pytest.raises(ScenarioError, match=re.escape(str(refused))):
            play(*case, engine="compiled")
        return
    assert (found.differing, found.parting) == ((), None)


@pytest.mark.parametrize("scenarios", [QUICK, pytest.param(SCENARIOS, marks=pytest.mark.slow)])
def test_engines_agree_on_every_column_and_every_event(scenarios: int):
    rules = hypothesis_settings(**SHORT | {"max_examples": scenarios})
    rules(given(plays(run_in=True))(lambda case: compare(*case)))()


@given(plays())
@hypothesis_settings(**SHORT | {"max_examples": 100})
def test_every_need_ends_once_and_the_tables_add_up(case: tuple[HandMade, Stock]):
    """Entries in = served + unserved; counts of alarms, checks and worn seconds agree with rows."""
    made, stock = case
    trace, *rest = made.situation(stock)
    log = play(trace, *rest)
    assert set(log.outcome.tolist()) <= {int(outcome) for outcome in Outcome}
    served = log.outcome == Outcome.SERVED
    assert (log.wait_s >= 0).all()
    assert (log.in_hand_s[served] >= log.need_s[served]).all()
    assert (log.worn_s[~served] == 0).all()
    assert (log.need_s >= 0).all()
    firsts = log.entry[log.part == 0]
    assert firsts.tolist() == list(range(trace.entries))
    assert log.counts[Count.CHECKS] >= served.sum()
    assert log.counts[Count.FAILED_CHECKS] >= log.failed_checks.sum()
    uses = log.use_area[Use.KITS_IN_USE : Use.KITS_AWAY + 1].sum()
    total = numbers_of(*made.parts(stock)).counts.kits
    assert uses == total * trace.horizon_s


@given(plays())
@hypothesis_settings(**SHORT | {"max_examples": 200})
def test_the_causes_of_a_wait_add_up_to_it_and_go_with_what_was_missing(
    case: tuple[HandMade, Stock],
):
    """All of a wait, but for failed checks, wearers who are busy and kits on their way at the end.

    Whoever waits for a kit waits for nothing but what the first in line lacks.
    """
    trace, stock = case
    log = play(*trace.situation(stock))
    assert (log.waited_s >= 0).all()
    in_line = log.waited_s.sum(axis=1)
    assert (in_line <= log.wait_s).all()
    rules = numbers_of(*trace.parts(stock)).rules
    # taken, and on its way or in its check when all ends: not waited for, and not yet in hand
    begun = log.wait_s - in_line <= rules.fetch_s + rules.check_s
    at_end = (log.outcome == Outcome.WAITING_AT_END) & ((in_line == 0) | begun)
    other = (log.failed_checks > 0) | at_end
    assert (in_line == log.wait_s)[~other].all()
    masks = set(log.missing_mask.tolist())
    seconds = log.waited_s.sum(axis=0)
    kits, hoods = seconds[: Cause.HOOD_ON_ORDER], seconds[Cause.HOOD_ON_ORDER : Cause.NO_LARGE_HOOD]
    large = seconds[Cause.NO_LARGE_HOOD : Cause.TUBE_ON_ORDER]
    tubes = seconds[Cause.TUBE_ON_ORDER : Cause.BATTERY_IN_USE]
    for found, bit in (
        (hoods, Missing.HOOD), (large, Missing.LARGE_HOOD), (tubes, Missing.TUBE),
    ):  # fmt: skip
        assert not found.any() or any(m & bit and not m & Missing.BLOWER for m in masks)
    assert not kits.any() or any(m & Missing.BLOWER for m in masks)


@given(plays())
@hypothesis_settings(**SHORT | {"max_examples": 60})
def test_kits_batteries_and_parts_are_conserved_at_every_second(case: tuple[HandMade, Stock]):
    """After every second each kit and battery is in one place, and no charge is out of bounds."""
    trace, stock = case
    numbers = numbers_of(*trace.parts(stock))
    sizes = first_sizes(trace, numbers.counts.kits, numbers.counts.batteries)
    sizes = sizes._replace(generations=400, new_needs=40_000)
    played = trace.situation(stock)
    ward = set_up(played.demand, numbers, sizes.arrays(played.unit), sizes.new_needs)

    def watch() -> bool:
        there = ward.usage.now_there
        assert sum(there[Use.KITS_IN_USE : Use.KITS_AWAY + 1]) == len(ward.kits)
        assert sum(there[Use.BATTERIES_IN_USE : Use.BATTERIES_AWAY + 1]) == len(ward.batteries)
        assert min(there) >= 0
        assert there[Use.BATTERIES_IN_BAY] == ward.bays_taken
        assert ward.bays_taken <= stock.bays + ward.numbers.bays_lent
        assert there[Use.KITS_READY] == ward.kits_ready == sum(map(len, ward.shelf))
        assert ward.wiping >= 0
        large = sum(kit.has_hood and kit.large_hood for kit in ward.kits)
        in_kits = sum(kit.has_hood for kit in ward.kits) - large
        assert ward.ready_hoods + ward.hoods_away + in_kits <= ward.spares[HOODS] + len(ward.kits)
        assert ward.ready_large_hoods + large == ward.spares[LARGE_HOODS]
        for supply in range(SUPPLIES):
            assert ward.on_order[supply] >= 0
            assert ward.spares[supply] >= 0
        for battery in ward.batteries:
            assert 0 <= battery.charge <= ward.numbers.capacity[battery.number]
        return False

    try:
        ward.clock.play_until(numbers.counts.closing_s, watch)
    except Exhausted:
        # visits postponed again and again need more rows than this test lays out
        reject()


@given(plays())
@hypothesis_settings(**SHORT | {"max_examples": 60})
def test_a_limit_on_late_entries_never_changes_the_verdict(case: tuple[HandMade, Stock]):
    """A play is given up exactly when the full play has more late entries than the limit."""
    trace, stock = case
    full = score(*trace.situation(stock))
    for limit in (0, 1, trace.entries // 2):
        short = score(*trace.situation(stock), late_limit=limit)
        assert short.given_up == (full.late > limit)


def long_run(scenarios: int, batch: int = 500) -> None:
    """Compare the engines on so many random scenarios; each batch is drawn from its own seed."""
    for first in range(0, scenarios, batch):
        count = min(batch, scenarios - first)
        rules = hypothesis_settings(**SHORT | {"max_examples": count, "database": None})
        rules(seed(first)(given(plays(run_in=True))(lambda case: compare(*case))))()
        print(f"{first + count} scenarios: no difference between the engines", flush=True)


if __name__ == "__main__":
    long_run(int(sys.argv[1]))
