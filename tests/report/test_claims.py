"""Sentences, figures and tables claim what was counted: by wait or delay, and where it is shown."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from surge_sim import compare, load_scenario, matters
from surge_sim.engine.log import Outcome
from surge_sim.report import matters_answer, sizing_answer
from surge_sim.report.comparison_tables import how_to_read, short_table
from surge_sim.report.figures import draw_spread, draw_wait_curve, new_figure
from surge_sim.report.phrases import counted_plays, entries_clause, in_time_words
from surge_sim.report.rounding import limit_number
from surge_sim.report.run_answer import run_answer
from surge_sim.report.terminal import render
from surge_sim.scenario.load import Scenario
from surge_sim.statistics.intervals import Interval
from surge_sim.statistics.summary import summarise
from surge_sim.whatif.differences import MEASURES, Difference
from surge_sim.whatif.matters import Effect, PassingStock
from tests.conftest import ROOT
from tests.engine.tiny import settings
from tests.report.test_run_answer import rows
from tests.statistics.by_hand import Need, layout_of, log_of, trace_of
from tests.statistics.hand_run import result_of, run_of_waits

FILE = ROOT / "scenarios" / "rule_out_unit.yaml"
DELAYED = "served 5 min or less later than with ample stock"
BY_DELAY = {"target.late_by": "delay"}
RANGE = {"arrivals.baseline": {"low": "1 per day", "high": "4 per day"}}


@pytest.fixture(scope="module")
def unit() -> Scenario:
    """The smallest shipped scenario, cut to two days, with one range."""
    return load_scenario(FILE).changed({"horizon": "2 d", **RANGE})


def moves(unit: Scenario, money: Interval) -> str:
    """Say what an input moves by which 0 or 1 kit would be bought, and 90 or 80 % are in time."""
    rungs = (PassingStock(Interval(float(place), None, None)) for place in (0, 1))
    by = Interval(-0.1, -0.2, -0.05)
    service = Difference(MEASURES[0], 0.9, 0.8, by, 9)
    one = Effect(unit.ranges[0], service, (1.0, 0.5), None, tuple(rungs), money)  # type: ignore[arg-type]
    stocks = [SimpleNamespace(name=name) for name in ("nothing", "1 kit")]
    result: Any = SimpleNamespace(
        scenario=unit, replay=None, worth=lambda place: 1400.0 * place, stocks=stocks
    )
    return matters_answer._moves(result, one)


@pytest.mark.parametrize(
    ("low", "high", "bought"), [(0.0, 90.0, False), (None, None, False), (5.0, 90.0, True)]
)
def test_what_would_be_bought_is_a_sentence_only_where_the_difference_is_shown(
    unit, monkeypatch, low, high, bought
):
    monkeypatch.setattr(matters_answer, "passing_words", lambda result, at: f"stock {at.place}")
    said = moves(unit, Interval(50.0, low, high))
    assert ("stock 1 for 1,400" in said) is bought
    assert ("With the stock in hand 90.0 % of entries wait 5 min or less" in said) is not bought


def test_entries_in_time_by_delay_are_not_told_as_waits(unit):
    late = unit.changed(BY_DELAY)
    target = late.settings.target
    assert in_time_words(target) == f"are {DELAYED}"
    assert entries_clause(target) == f"95 % of entries are {DELAYED}"
    assert f"90.0 % of entries are {DELAYED} at its low value" in moves(late, Interval(0, 0, 0))
    found = compare(late, {"more": {"stock.kits": 9}}, surges=4, processes=1)
    assert f"In time: entries that are {DELAYED};" in how_to_read(found)
    studied = matters(late, surges=4, stock=False, processes=1)
    assert f"In time: entries that are {DELAYED}, with the stock" in " ".join(str(studied).split())
    assert studied.plot().axes[-1].get_xlabel() == f"entries that are {DELAYED} [%]"


def test_a_target_of_seconds_is_not_rounded_to_minutes_in_the_figure(unit):
    studied = matters(unit.changed({"target.wait": "90 s"}), surges=4, stock=False, processes=1)
    label = studied.plot().axes[-1].get_xlabel()
    assert label == "entries that wait 1 min 30 s or less [%]"


def test_the_curve_of_waits_has_no_target_where_delays_are_judged():
    table = run_of_waits([0.0, 3.0], [9.0]).wait_curve
    labels = []
    for share in (0.95, None):
        ax = draw_wait_curve(table, 5.0, share, new_figure().axes[0])
        labels.append([one for one in ax.get_legend_handles_labels()[1] if "target" in one])
    assert len(labels[0]) == 1 and labels[1] == []


def test_an_entry_late_by_delay_alone_is_told_as_late(program, tmp_path):
    """Its wearer was kept by an earlier wait, so it did not wait itself."""
    text = FILE.read_text(encoding="utf-8")
    (tmp_path / "unit.yaml").write_text(
        text.replace("  wait: 5 min", "  wait: 5 min\n  late_by: delay")
    )
    done = program("explain", "unit.yaml", "--entry", "84", "--lines", "1")
    said = " ".join(done.stdout.split())
    assert (
        "Entry 84 did not wait (target 5 min: late, served 8 min 42 s later than with ample stock)"
        in said
    )


def test_a_broken_price_has_all_its_digits_before_the_point(unit):
    dear = unit.changed({"prices.kit": 12_345.67, "prices.battery": 240.35})
    asked = {"kit": {"stock.kits": 8}, "battery": {"stock.batteries": 17}}
    found = compare(dear, asked, surges=4, processes=1)
    prices = {row[0]: row[-1] for row in short_table(found).rows}
    assert (prices["kit"], prices["battery"]) == ("12,346", "240.35")


@pytest.mark.parametrize(
    ("limit", "asked", "said"),
    [(0.9996, 0.995, "99.96"), (0.0004, 0.005, "0.04"), (0.996, 0.995, "99.6"), (1.0, 0.995, "100"),
     (0.89996, 0.9, "under 90"), (0.999999, 0.995, "over 99.99")],
)  # fmt: skip
def test_a_limit_is_never_written_as_all_or_nothing_unless_it_is(limit, asked, said):
    assert limit_number(limit, asked) == said


def test_surges_without_entries_are_counted_beside_the_figure_of_their_spread():
    result = run_of_waits([0.0, 3.0], [], [9.0])
    ax = draw_spread(result.surges, 0.95, new_figure().axes[0])
    assert ax.get_xlabel() == "entries in time in one surge [%]; 1 surge without entries left out"
    ax = draw_spread(run_of_waits([0.0], [9.0]).surges, 0.95, new_figure().axes[0])
    assert ax.get_xlabel() == "entries in time in one surge [%]"


@pytest.mark.parametrize(
    ("outcome", "said"),
    [
        (Outcome.RENEGED, "at their maximum wait: not served"),
        (Outcome.WAITING_AT_END, "at the end of the run-out period: not served"),
    ],
)
def test_a_maximum_wait_is_named_only_where_one_ran_out(outcome, said):
    changed = settings()
    trace = trace_of([0.0, 10.0])
    log = log_of([Need(0.0, 0.0), Need(10.0, 30.0, outcome=int(outcome))])
    result = result_of([summarise(trace, log, layout_of(trace, changed))])
    assert rows(result)["Left the queue"].startswith(said)
    assert "Left the queue" in render(run_answer(result))


def test_parts_that_run_out_in_a_recorded_period_are_counted_by_replications():
    row = {"part": "hoods", "on_shelf_recommended": 3, "reorder_point": None,
           "surges_short_in_hand": 100, "surges": 100}  # fmt: skip
    for alike, said in ((False, " in 100 of 100 replications."), (True, " run out.")):
        table = SimpleNamespace(to_dict=lambda _: [row])
        result: Any = SimpleNamespace(parts_table=table, replay=SimpleNamespace(alike=alike))
        [(_, told)] = sizing_answer._parts(result)
        assert told.endswith(said), told


def test_one_play_is_one():
    replay: Any = SimpleNamespace(alike=True)
    assert counted_plays(1, replay) == "1 replication"
    assert counted_plays(1200, None) == "1,200 surges"
