"""What a run says of waits, of those who left, and of few surges is true wherever it is said."""

from __future__ import annotations

import dataclasses
import re
import warnings
from types import SimpleNamespace
from typing import Any

import pytest

from surge_sim.report.check_answer import check_answer
from surge_sim.report.columns import meaning
from surge_sim.report.figures import draw_recorded_by_entry, draw_wait_curve, new_figure
from surge_sim.report.rounding import percent_range
from surge_sim.report.run_answer import run_answer
from surge_sim.report.run_figures import run_figures, use_title
from surge_sim.report.terminal import render
from surge_sim.scenario.load import scenario_from_text
from surge_sim.scenario.schema import Settings
from surge_sim.statistics.intervals import Interval, clopper_pearson
from surge_sim.statistics.result import RunResult
from surge_sim.statistics.run import run
from surge_sim.statistics.summary import summarise
from tests.engine.tiny import settings
from tests.report.test_run_answer import rows
from tests.scenario.base import BASE
from tests.statistics.by_hand import RENEGED, SERVED, Need, layout_of, log_of, trace_of
from tests.statistics.hand_run import result_of, rich_run, run_of_waits


def run_of(needs: list[Need], changed: Settings, **more: Any) -> RunResult:
    """One surge of these needs, each due when it begins."""
    trace = trace_of([one.need for one in needs], changed=changed)
    layout = layout_of(trace, changed)
    return result_of([summarise(trace, log_of(needs), layout)], changed, layout, **more)


def target_words_of(result: RunResult) -> list[str]:
    """What the figure of waits says of the target."""
    figure = next(figure for name, figure, _ in run_figures(result) if name == "wait_curve")
    return [one for one in figure.axes[0].get_legend_handles_labels()[1] if "target" in one]


def test_waits_of_hours_are_on_the_right_side_of_the_target_and_none_exceeds_the_longest():
    """A wait of 7 h 15 min 30 s is kept as 7 h 16 min; a target of just that is met by it."""
    changed = settings(target={"wait": "7 h 15 min 30 s"})
    result = run_of([Need(0, 435.5), Need(10, 435.5)], changed)
    curve = result.wait_curve.set_index("wait_min")["share_longer"]
    assert result.service_level.estimate == 1.0
    assert curve.iloc[:-1].eq(1.0).all() and curve[435.5] == 0.0
    waits = result.waits.set_index("measure")["estimate"]
    assert waits["p50"] == waits["p99"] == waits["max"] == 435.5
    assert result.by_role["wait_p95_min"].tolist() == [435.5]


def test_the_curve_of_waits_has_no_target_where_some_left_before_it():
    """Whoever leaves after a minute is late, and waited no longer than five."""
    left = [Need(0), Need(10, 1, RENEGED)]
    stayed = [Need(0), Need(10, 8, RENEGED), Need(20, 9, SERVED)]
    assert target_words_of(run_of(left, settings())) == []
    said = "target of each surge: at most 5 % longer than 5 min"
    assert target_words_of(run_of(stayed, settings())) == [said]


def test_the_curve_of_waits_of_a_recorded_period_speaks_of_replications():
    replay: Any = SimpleNamespace(file="log.csv", drawn=("wipe-down times",), alike=False)
    result = run_of_waits([0.0, 3.0], [9.0], replay=replay)
    figure = next(figure for name, figure, _ in run_figures(result) if name == "wait_curve")
    assert target_words_of(result)[0].startswith("target of each replication: ")
    assert figure.axes[0].get_title(loc="left").endswith("all replications together")


def test_figures_of_waits_have_an_axis_where_nobody_waits_and_the_target_is_0():
    none = run_of_waits([0.0], [0.0]).wait_curve
    recorded = run_of_waits([0.0]).surges.assign(recorded_min=0.0, simulated_min=0.0)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        draw_wait_curve(none, 0.0, 0.9, new_figure().axes[0])
        draw_recorded_by_entry(recorded, 0.0, new_figure().axes[0])


def test_a_visit_that_comes_again_after_its_maximum_wait_is_not_said_to_be_left_undone():
    text = BASE + "policy: {maximum_wait: 1 min, after_maximum_wait: postponed, postponed_by: 5 h}"
    result = run(scenario_from_text(text), surges=4, processes=1)
    assert (result.surges["requests"] > result.surges["entries"]).any(), "some came again"
    said = f"{rows(result)['Left the queue']} {render(run_answer(result, full=False))}"
    assert "not served, and counted as late; what is done then, unless the visit is " in said


@pytest.mark.parametrize("late_by", ["wait", "delay"])
def test_urgent_entries_are_named_by_what_makes_them_late(late_by):
    target = settings().target.model_copy(update={"late_by": late_by})
    result = dataclasses.replace(rich_run(), target=target)
    due = " of due time" * (late_by == "delay")
    assert f"\nUrgent within 5 min{due} (%)" in render(run_answer(result))


def test_limits_of_a_share_are_never_written_as_what_is_asked_for():
    """40 of 50: the upper limit is 89.97 %, so 90 % is shown to be missed."""
    low, high = clopper_pearson(40, 50)
    assert 0.8995 < high < 0.9
    interval = Interval(0.8, low, high)
    assert percent_range(interval) == "66 to 90 %"
    assert percent_range(interval, 0.9) == "66 to under 90 %"
    result = run_of_waits(*[[0.0]] * 40, *[[9.0]] * 10)
    assert result.verdict == "not met"
    for full in (True, False):
        assert "66 to under 90 % of " in render(run_answer(result, full))


def test_the_share_of_a_recorded_period_is_never_written_as_what_is_asked_for():
    """126 of 2,500 late: 94.96 % in time is not 95 %."""
    replay: Any = SimpleNamespace(file="log.csv", drawn=(), alike=True)
    result = run_of_waits([0.0] * 2374 + [9.0] * 126, replay=replay)
    assert result.verdict == "not met"
    assert re.search(r"\nKit within 5 min \(%\) +under 95\n", render(run_answer(result)))


@pytest.mark.parametrize(("surges", "said"), [(1, "One surge says"), (7, "7 surges are too few")])
def test_few_surges_are_not_said_to_have_no_limits_at_all(surges, said):
    """The exact interval of the share of surges holds for any number of them, and is shown."""
    result = run_of_waits(*[[0.0, 9.0]] * surges)
    assert "95 % interval from" in rows(result)["Confidence"]
    warning = next(one for one in result.warnings if one.startswith(said))
    assert warning.endswith("intervals of shares of entries or of waits.")


def test_columns_say_that_entries_are_judged_by_delay_and_that_some_are_not_served():
    assert "counts delays" in (meaning("tables/surges", "in_time") or "")
    late = meaning("tables/recorded_waits_by_entry", "share_of_replications_late")
    assert "not served" in (late or "")
    requested = meaning("tables/recorded_waits_by_entry", "requested_min")
    assert requested == "moment of the request in the log, after the start [min]"
    assert "`no class` for entries of a log" in (meaning("tables/by_class", "class") or "")
    assert "postponed beyond the horizon" in (meaning("tables/by_day", "day") or "")
    away = (
        "batteries away: gone with a kit that is away, or of a loan that has not begun or is over"
    )
    assert away in (meaning("tables/use", "state") or "")


def test_a_range_with_a_likely_value_is_not_said_to_be_at_its_middle():
    """Likely 2, in the middle of 1 and 6 lies 3.5: the workload is that of 2."""
    triangle = {"low": "1 per day", "likely": "2 per day", "high": "6 per day"}
    scenario = scenario_from_text(BASE).changed({"arrivals.baseline": triangle})
    assert scenario.ranges[0].central == 2.0
    said = " ".join(render(check_answer(scenario)).split())
    assert "1 uncertain input at typical value" in said


def test_the_figure_of_equipment_says_a_part_of_an_hour_with_three_digits():
    table = rich_run().use_over_time.query("hour == 0").assign(hours=17 / 60)
    assert " in each 0.283 hours, " in use_title(table)
