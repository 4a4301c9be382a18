"""Tables and numbers of a run, from surges written by hand."""

from datetime import timedelta

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from surge_sim.cautions import CAUTION_IN_SHORT
from surge_sim.engine.log import Use
from surge_sim.statistics.result import TABLES
from surge_sim.statistics.summary import Summary
from surge_sim.statistics.tables import USED, WORK, frame, use_name, used_rows
from tests.statistics.hand_run import rich_run, run_of_waits


def row(table: pd.DataFrame, column: str, value: object) -> pd.Series:
    found = table[table[column] == value]
    assert len(found) == 1
    return found.iloc[0]


def test_share_of_all_entries_and_mean_of_shares_are_two_things():
    """One surge with 1 of 4 in time, one with 20 of 20: 21/24 of all, but 62.5 % by surge."""
    result = run_of_waits([0, 9, 9, 9], [0] * 20)
    assert result.service_level.estimate == pytest.approx(21 / 24)
    assert result.service_level_by_surge.estimate == pytest.approx(0.625)


def test_surges_on_target_have_exact_limits():
    """Three of four surges keep 95 % of entries within 5 minutes; a wait of exactly 5 is kept."""
    result = run_of_waits([0, 5], [0], [], [0, 5.1])
    assert result.surges["on_target"].tolist() == [True, True, True, False]
    assert result.surges["target_parts_missed"].tolist() == ["", "", "", "wait"]
    exact = stats.binomtest(3, 4).proportion_ci(0.95, method="exact")
    assert result.share_on_target == pytest.approx((0.75, exact.low, exact.high))


@pytest.mark.parametrize(
    ("kept", "missed", "verdict"),
    [(60, 0, "met"), (30, 0, "undecided"), (0, 5, "not met"), (50, 6, "undecided"),
     (30, 20, "not met")],
)  # fmt: skip
def test_the_verdict_leans_on_the_interval_not_on_the_estimate(kept, missed, verdict):
    """90 % of surges are promised: 60 of 60 show it (94 % or more), 30 of 30 do not (88 %)."""
    assert run_of_waits(*[[0]] * kept, *[[9]] * missed).verdict == verdict


def test_waits_are_those_of_all_needs():
    """Waits 0, 0, 0, 6 and 2, 4 minutes: mean 2, median 0, 90 % quantile 6."""
    waits = run_of_waits([0, 0, 0, 6], [2, 4]).wait_minutes
    found = {name: interval.estimate for name, interval in waits.items()}
    assert found == {"mean": 2, "p50": 0, "p90": 6, "p95": 6, "p99": 6, "max": 6}
    assert waits["max"][1:] == (None, None)


def test_groups_add_up_and_carry_their_own_waits():
    result = rich_run()
    nurse = row(result.by_role, "role", "nurse")
    assert nurse["entries_per_surge"] == 2
    assert nurse["service_level"] == 0.5
    assert nurse["wait_mean_min"] == 5
    assert nurse["wait_p95_min"] == 10
    intensive = row(result.by_class, "class", "intensive")
    assert (intensive["service_level"], intensive["wait_p95_min"]) == (1.0, 3)
    urgent = row(result.by_urgency, "urgency", "urgent")
    assert (urgent["service_level"], urgent["unserved_per_1000"]) == (0.0, 1000.0)
    for table in (result.by_role, result.by_class, result.by_urgency, result.by_day,
                  result.by_hour):  # fmt: skip
        assert table["entries_per_surge"].sum() == 4
    assert "no class" not in set(result.by_class["class"]), "a group without entries has no row"


def test_hours_are_named_by_the_clock():
    assert rich_run().by_hour["hour"].tolist() == [0, 1, 2, 3]


def test_waiting_is_split_by_what_was_missing_and_where_it_was():
    """Of 21 minutes a surge 8 for kits in use, 7 for those that dry, 6 for a battery's bay."""
    table = rich_run().cause_of_waiting
    assert table["missing"].tolist() == ["kit", "kit", "battery"]
    causes = ["kit in use", "kit in contact or drying time", "battery waiting for a bay"]
    assert table["cause_of_waiting"].tolist() == causes
    assert table["hours_per_surge"].tolist() == pytest.approx([8 / 60, 7 / 60, 6 / 60])
    assert table["share"].tolist() == pytest.approx([8 / 21, 7 / 21, 6 / 21])


def test_use_is_the_time_average_over_the_horizon_and_the_mean_peak():
    """Surges use 90 and 150 kit-minutes of 24 hours: 120/1440 on average; peaks 2 and 3."""
    result = rich_run()
    use = row(result.use, "state", "kits in use")
    assert use["mean"] == pytest.approx(120 / 1440)
    assert (use["peak_mean"], use["peak_highest"]) == (2.5, 3)
    assert "kits in wipe-down" in set(result.use["state"])


def test_use_over_time_has_the_mean_of_each_hour_and_a_band():
    """Second hour: 1 kit in one surge and 2 in the other: mean 1.5, 10 % 1.1, 90 % 1.9."""
    table = rich_run().use_over_time
    mine = table[table["state"] == use_name(Use.KITS_IN_USE)].set_index("hour")
    assert mine["mean"].tolist()[:3] == [0.5, 1.5, 0.0]
    assert (mine["p10"][1], mine["p90"][1]) == pytest.approx((1.1, 1.9))
    assert len(mine) == 24
    start = rich_run().start
    assert mine["begins"][23] == (start + timedelta(hours=23)).strftime("%Y-%m-%d %H:%M")


def test_alarms_are_counted_per_thousand_entries():
    """One and two battery alarms in two surges of four entries: 3 in 8 entries."""
    alarm = row(rich_run().alarms, "cause", "low battery")
    assert (alarm["per_surge"], alarm["per_1000_entries"]) == (1.5, 375.0)
    assert rich_run().alarms_per_1000.estimate == 375.0


def test_consumables_hold_the_wipes_of_whole_and_wipe_between_visits_downs():
    """Three wipe-downs and one short wipe a surge, two wipes each."""
    table = rich_run().consumables
    wipes = row(table, "what", "wipes")
    assert (wipes["enough"], wipes["per_surge"]) == (8, 8)
    assert row(table, "what", "hoods")["per_surge"] == 2


def test_what_is_enough_is_a_quantile_over_surges_with_limits_of_its_own():
    """Uses 1 to 100 in 100 surges: 90 is enough in 9 of 10, on average 50.5. The limits are the
    84th and the 96th in order: P(Binomial(100, 0.9) <= 83) = 0.021 and <= 95: 0.976.
    """
    surges = pd.DataFrame(dict.fromkeys(USED, np.arange(100) + 1))
    hoods = row(frame(used_rows(surges, 0.9)), "what", "hoods")
    assert (hoods["enough"], hoods["per_surge"]) == (90, 50.5)
    assert (hoods["enough_low"], hoods["enough_high"]) == (84, 96)
    assert not {"per_surge_low", "per_surge_high"} & set(frame(used_rows(surges, 0.9)).columns)


def test_work_and_stock_outs_are_listed():
    result = rich_run()
    assert row(result.work, "what", "stock-outs of hoods")["per_surge"] == 0.5
    # nobody needs a large hood there
    assert [*WORK.values()] == [*result.work["what"], "stock-outs of large hoods"]
    assert "large hoods" not in set(result.consumables["what"])
    assert result.surges["stock_outs"].tolist() == [0, 1]


def test_unmet_entries_are_told_by_how_they_ended():
    surges = rich_run().surges
    assert surges["unserved"].tolist() == surges["reached_maximum_wait"].tolist() == [1, 1]
    assert surges["waiting_at_end"].tolist() == [0, 0]


def test_the_spread_over_surges_is_told_apart_from_the_uncertainty_of_the_mean():
    """Shares 0, 1/99 ... 1 over 100 surges: 80 % of them span most; the mean is surer than that."""
    result = run_of_waits(*([0] * good + [9] * (99 - good) for good in range(100)))
    spread = result.spread.set_index(["quantity", "share_of_surges"])["estimate"]
    wide = spread[("service_level", 0.9)] - spread[("service_level", 0.1)]
    assert wide == pytest.approx(80 / 99)
    interval = result.service_level_by_surge
    assert interval.high - interval.low < wide / 5


def test_one_surge_has_estimates_and_no_limits():
    result = rich_run(1)
    assert result.service_level[1:] == (None, None)
    assert result.by_role["service_level_low"].isna().all()
    assert any("no intervals" in warning for warning in result.warnings)


def test_few_surges_are_warned_about_and_a_hundred_are_not():
    few, enough = run_of_waits(*[[0, 9]] * 99), run_of_waits(*[[0, 9]] * 100)
    assert any("too narrow" in warning for warning in few.warnings)
    assert enough.warnings == ()


def test_no_late_entry_at_all_is_not_proof_of_none():
    """59 surges without: at most 1 - 0.05^(1/59) = 5 % of surges, 95 % sure."""
    (warning,) = [text for text in run_of_waits(*[[0]] * 59).warnings if "No entry" in text]
    assert "up to 5 %" in warning


def test_surges_without_entries_are_said_to_be_so():
    result = run_of_waits([], [])
    assert "No surge had any entry: this says nothing about the stock." in result.warnings
    assert result.service_level.estimate is None
    assert result.share_on_target.estimate == 1.0
    for name in TABLES:
        assert isinstance(getattr(result, name), pd.DataFrame)


def test_memory_for_surges_does_not_grow_but_for_one_row_each():
    """After 400 surges with the same waits all but the rows is as large as after 250."""

    def size(summary: Summary) -> int:
        others = (summary.waits, summary.use_s, summary.band, summary.by_entry)
        return sum(other.nbytes for other in others)

    few, many = (run_of_waits(*[[0, 3]] * surges).summary for surges in (250, 400))
    assert size(few) == size(many)
    assert many.rows.nbytes / 400 == few.rows.nbytes / 250 < 10_000


def test_a_printed_table_of_roles_shows_entries_and_waits():
    """On 80 columns pandas leaves out those in the middle."""
    with pd.option_context("display.width", 80, "display.max_columns", 0):
        head = str(rich_run().by_role).splitlines()[0].split()
    assert head[:2] == ["role", "entries_per_surge"] and head[-1] == "wait_p95_min"


def test_a_run_shows_itself_in_a_few_lines_with_the_caution():
    shown = repr(run_of_waits([0], [0, 9]))
    assert "2 surges: 66.66 % of entries in time; the target was met in 1 of them." in shown
    assert all(name in shown for name in TABLES)
    assert shown.endswith(CAUTION_IN_SHORT) and len(shown) < 600
    assert "no entries" in repr(run_of_waits([]))


def test_a_result_is_not_said_to_be_all_in_time_where_it_is_not():
    assert "99.96 % of entries in time" in repr(run_of_waits([0.0] * 2499 + [9.0]))
    assert "100 % of entries in time" in repr(run_of_waits([0.0] * 20))
