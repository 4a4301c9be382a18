"""The table of surges, a row for each, and its columns: one surge worked out by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from surge_sim.engine.log import Count, Use
from surge_sim.equipment.stock import Stock
from surge_sim.randomness import Sample
from surge_sim.scenario.ranges import Range
from surge_sim.scenario.schema import Settings
from surge_sim.scenario.timeline import BatteriesOnLoan, Change, ChargersOnLoan, KitsOnLoan
from surge_sim.statistics.result import RunResult
from surge_sim.statistics.rows import inputs_table, surge_table
from surge_sim.statistics.summary import Summary, joined, summarise
from tests.engine.tiny import settings
from tests.statistics.by_hand import LEFT, RENEGED, Need, layout_of, log_of, trace_of
from tests.statistics.hand_run import result_of, run_of_waits, surge_of

#: two days, the first of them until minute 1,440
CHANGED: Settings = settings(horizon="48 h", kit={"large_hood_share": "10 %"})
COUNTED = {
    Count.WIPE_DOWNS: 20, Count.SHORT_WIPES: 3, Count.HOODS_USED: 11, Count.TUBES_USED: 12,
    Count.PREFILTERS_USED: 13, Count.HE_FILTERS_USED: 14, Count.LARGE_HOODS_USED: 15,
    Count.ALARMS_BATTERY: 2, Count.ALARMS_FLOW: 1, Count.ALARMS_FAILURE: 3,
    Count.ALARMS_BATTERY_FAILURE: 4, Count.STOCK_OUTS_HOODS: 10, Count.STOCK_OUTS_TUBES: 20,
    Count.STOCK_OUTS_PREFILTERS: 30, Count.STOCK_OUTS_HE_FILTERS: 40,
    Count.STOCK_OUTS_LARGE_HOODS: 50,
}  # fmt: skip

#: the columns in their order. Of five entries one is in time: the first goes on after an alarm and
#: is left waiting, an urgent one waits 9.5 min, and two give up after 45 and 6. Waits come to
#: 9.5 + 2 + 45 + 6 + 2,000 = 2,062.5 min of six requests. On the first day one of three is in time,
#: on the second none of two. By delay the one in time is late, too.
BY_HAND = {
    "surge": 4,
    "on_target": False,
    "target_parts_missed": "wait",
    "entries": 5,
    "in_time": 1,
    "service_level": 0.2,
    "urgent_entries": 2,
    "urgent_late": 1,
    "requests": 6,
    "wait_mean_min": 343.75,
    "wait_max_min": 2000.0,
    "hours_waited": 34.375,
    "unserved": 3,
    "reached_maximum_wait": 2,
    "waiting_at_end": 1,
    "alarms": 10,
    "stock_outs": 150,
    "hoods_used": 11,
    "tubes_used": 12,
    "prefilters_used": 13,
    "he_filters_used": 14,
    "large_hoods_used": 15,
    "wipe_downs": 23,
    "worst_day": 2,
    "worst_day_service_level": 0.0,
    "patients": 6,
    "boarded": 1,
    "diverted": 2,
    "peak_kits_in_use": 3,
    "peak_waiting": 2,
    "late_by_wait": 4,
    "late_by_delay": 5,
}


def by_hand(changed: Settings = CHANGED) -> Summary:
    rooms = np.array([0, -1, 1, -2, -2, 0])
    trace = trace_of([0, 10, 20, 1450, 1460], 4, [False, True, True, False, False], changed=changed)
    patients = replace(trace.patients, room=rooms)
    log = log_of(
        [
            Need(0), Need(10, 9.5), Need(20, 2), Need(1450, 45, RENEGED), Need(1460, 6, RENEGED),
            Need(30, 2000, LEFT, entry=0, part=1),
        ],
        COUNTED,
        peaks={Use.KITS_IN_USE: 3, Use.ENTRIES_WAITING: 2, Use.KITS_DRYING: 9},
        hours=48,
    )  # fmt: skip
    delay_s = np.where(log.entry == 2, 25 * 60, log.wait_s)
    trace = replace(trace, patients=patients)
    return summarise(trace, log, layout_of(trace, changed), delay_s)


def empty() -> Summary:
    trace = trace_of([], changed=CHANGED)
    return summarise(trace, log_of([], hours=48), layout_of(trace, CHANGED))


def test_every_surge_is_one_row_in_the_agreed_columns() -> None:
    table = surge_table(by_hand(), layout_of(trace_of([]), CHANGED))
    assert list(table.columns) == list(BY_HAND)
    assert table.iloc[0].to_dict() == BY_HAND


def test_large_hoods_have_a_column_where_somebody_needs_one_only() -> None:
    changed = settings(horizon="48 h")
    table = surge_table(by_hand(changed), layout_of(trace_of([]), changed))
    assert list(table.columns) == [name for name in BY_HAND if name != "large_hoods_used"]


def test_a_surge_without_entries_has_no_share_no_wait_and_no_worst_day() -> None:
    told = surge_table(empty(), layout_of(trace_of([]), CHANGED)).iloc[0]
    nothing = ["service_level", "wait_mean_min", "wait_max_min", "worst_day"]
    assert told[[*nothing, "worst_day_service_level"]].isna().all()
    assert told["on_target"] and told["target_parts_missed"] == ""
    assert told["entries"] == told["requests"] == told["hours_waited"] == 0


def test_a_surge_with_one_entry_has_its_share_its_wait_and_its_day() -> None:
    layout = layout_of(trace_of([]), settings())
    told = surge_table(surge_of(0, [3.0], settings()), layout).iloc[0]
    assert (told["service_level"], told["wait_mean_min"], told["wait_max_min"]) == (1, 3, 3)
    assert (told["worst_day"], told["worst_day_service_level"]) == (1, 1)


def two_surges(first: Summary) -> RunResult:
    layout = layout_of(trace_of([]), CHANGED)
    return result_of([first, by_hand()], CHANGED, layout)


def test_shares_of_urgent_entries_and_by_wait_and_by_delay_are_those_of_all_surges() -> None:
    """In another surge two urgent entries are in time and one gives up.

    In both, three of five urgent ones are in time; by waits three of eight entries, by delays two.
    """
    trace = trace_of([0, 10, 20], 5, [True] * 3, changed=CHANGED)
    log = log_of([Need(0), Need(10, 1), Need(20, 2, RENEGED)], hours=48)
    result = two_surges(summarise(trace, log, layout_of(trace, CHANGED)))
    assert result.urgent_service_level.estimate == pytest.approx(3 / 5)
    assert result.service_level_by_wait.estimate == pytest.approx(3 / 8)
    assert result.service_level_by_delay.estimate == pytest.approx(2 / 8)
    assert result.service_level.estimate == pytest.approx(3 / 8)
    assert result.service_level_by_surge.estimate == pytest.approx((2 / 3 + 1 / 5) / 2)
    assert result.urgent_unserved == 1 / 2
    assert result.per_surge("entries").estimate == 4
    # in one of the surges a named wearer was kept by a wait
    assert result.hides_waits
    assert not run_of_waits([0, 9], [0]).hides_waits


def test_limits_of_shares_stay_between_none_and_all() -> None:
    """One surge of 13 is far off the others: without a bound the limits would lie beyond it."""

    def result(odd: float, usual: float) -> RunResult:
        few = [[usual] * (100 - count) + [odd] * count for count in [1] * 4 + [2] * 8]
        surges = [[odd] * 100, *few]
        urgent = [True] * 100
        made = [surge_of(n, waits, settings(), urgent=urgent) for n, waits in enumerate(surges)]
        return result_of(made)

    mostly_in_time, mostly_late = result(9, 0), result(0, 9)
    for name in ("service_level", "service_level_by_surge", "service_level_by_wait",
                 "service_level_by_delay", "urgent_service_level"):  # fmt: skip
        high, low = getattr(mostly_in_time, name), getattr(mostly_late, name)
        assert 0.85 < high.estimate < 0.95 and high.high == 1
        assert 0.05 < low.estimate < 0.15 and low.low == 0
    assert mostly_in_time.per_surge("hours_waited").low == 0
    assert mostly_in_time.per_surge("in_time", highest=100).high == 100


def test_the_date_of_the_worst_day_stands_behind_it() -> None:
    """The surge of hand-made times begins on 6 January, so its second day is the 7th."""
    table = two_surges(empty()).surges
    where = list(table.columns).index("worst_day")
    assert table.columns[where + 1] == "worst_day_date"
    assert table["worst_day_date"].tolist() == [None, "2031-01-07"]


def test_uncertain_inputs_stand_in_columns_with_their_units() -> None:
    """Each range is one number: 90 s, 48 per day, 2 per day, 180 L/min, a half, and 3."""
    ranges = (
        Range(("kit", "pre_use_check"), "time", 90.4, 90.4),
        Range(("rooms", "air_changes"), "rate", 48.0, 48.0),
        Range(("arrivals", "baseline"), "rate", 2.0, 2.0),
        Range(("kit", "minimum_flow"), "flow", 180.0, 180.0),
        Range(("target", "share"), "share", 0.5, 0.5),
        Range(("arrivals", "initial_census"), "number", 3.0, 3.0),
    )
    table = inputs_table(ranges, 1, np.array([0, 7]))
    assert table.to_dict("list") == {
        "kit.pre_use_check_min": [1.5, 1.5],
        "rooms.air_changes_per_h": [2.0, 2.0],
        "arrivals.baseline_per_day": [2.0, 2.0],
        "kit.minimum_flow_l_per_min": [180.0, 180.0],
        "target.share": [0.5, 0.5],
        "arrivals.initial_census": [3.0, 3.0],
    }
    result = result_of([surge_of(0, [0], settings()), surge_of(1, [0], settings())], ranges=ranges)
    pd.testing.assert_frame_equal(result.surges[list(table)], table)


def test_an_uncertain_input_is_the_one_of_its_surge() -> None:
    """What is drawn for the surge of that number, in whatever order they are asked for."""
    one = Range(("kit", "pre_use_check"), "number", 0.0, 1.0)
    first, second = inputs_table((one,), 1, np.array([3, 5])).iloc[:, 0]
    again = inputs_table((one,), 1, np.array([5, 3])).iloc[:, 0].tolist()
    assert again == [second, first] and first != second
    assert [first, second] == [one.drawn(1, Sample.RUN, surge) for surge in (3, 5)]


KITS_LENT = KitsOnLoan(what="kits on loan", at="0 min", kits=9)
BATTERIES_LENT = BatteriesOnLoan(what="batteries on loan", at="0 min", batteries=9)
CHARGERS_LENT = ChargersOnLoan(what="chargers on loan", at="0 min", chargers=9)
NOBODY = "The stock has no {}, so nobody is ever served and every entry is late."


@pytest.mark.parametrize(
    ("stock", "said"),
    [
        (Stock(0, 5, 2), NOBODY.format("kits")),
        (Stock(3, 0, 2), NOBODY.format("batteries")),
        (Stock(0, 0, 0), NOBODY.format("kits")),
        (Stock(3, 5, 0), "The stock has no charger bays, so no battery is ever charged again."),
        (Stock(3, 5, 2), None),
        (Stock(1, 1, 1), None),
    ],
)
def test_a_stock_without_kits_batteries_or_bays_is_the_first_thing_that_is_said(
    stock: Stock, said: str | None
) -> None:
    warnings = run_of_waits(*[[0.0, 9.0]] * 99, stock=stock, notes=("Of the scenario.",)).warnings
    assert warnings[0] == (said or "Of the scenario.")
    assert [one for one in warnings if one.startswith("The stock has no")] == [said] * bool(said)


@pytest.mark.parametrize(
    ("stock", "lent", "said"),
    [
        (Stock(0, 0, 2), [KITS_LENT], None),
        (Stock(3, 0, 2), [BATTERIES_LENT], None),
        (Stock(0, 0, 2), [BATTERIES_LENT], NOBODY.format("kits")),
        (Stock(3, 0, 2), [CHARGERS_LENT], NOBODY.format("batteries")),
        (Stock(3, 5, 0), [CHARGERS_LENT], None),
        (Stock(0, 5, 0), [KITS_LENT], "The stock has no charger bays, so no battery is ever "
         "charged again."),
    ],
)  # fmt: skip
def test_a_stock_has_what_comes_on_loan(stock: Stock, lent: list[Change], said: str | None) -> None:
    run = run_of_waits(*[[0.0, 9.0]] * 99, stock=stock, timeline=tuple(lent))
    assert [one for one in run.warnings if one.startswith("The stock has no")] == (
        [said] if said else []
    )


def test_what_the_scenario_says_of_its_bays_is_not_said_again() -> None:
    note = "ward.yaml:16: stock.bays is 0: no battery is ever charged again."
    warnings = run_of_waits(
        *[[0.0, 9.0]] * 99, stock=Stock(3, 5, 0), notes=(note, "Other.")
    ).warnings
    assert warnings[0] == note
    assert not any(one.startswith("The stock has no") for one in warnings)


def test_surges_of_which_every_entry_is_late_have_entries() -> None:
    assert (
        "No surge had any entry: this says nothing about the stock."
        not in run_of_waits(*[[9.0]] * 99).warnings
    )
    assert (
        "No surge had any entry: this says nothing about the stock."
        in run_of_waits(*[[]] * 99).warnings
    )


@pytest.mark.parametrize(
    ("waits", "endless", "said"),
    [
        # from a mean of one day on
        ([1_440.0] * 2, True, True),
        ([1_439.0] * 2, True, False),
        ([2_880.0] * 2, False, False),
        ([], True, False),
    ],
)
def test_a_mean_wait_of_days_is_said_where_entries_may_wait_without_end(
    waits: list[float], endless: bool, said: bool
) -> None:
    result = run_of_waits(*[waits] * 120, missing_maximum_wait="urgent_maximum_wait" * endless)
    told = [one for one in result.warnings if one.startswith("The mean wait is")]
    assert bool(told) == said
    if said:
        assert told[0].startswith("The mean wait is 1.0 d: entries without a maximum wait (policy.")
        assert "(policy.urgent_maximum_wait)" in told[0]


def test_surges_that_follow_one_another_are_joined_in_their_order() -> None:
    layout = layout_of(trace_of([]), settings())
    parts = [surge_of(number, [0.0] * number, settings()) for number in (2, 0, 1)]
    table = surge_table(joined(parts), layout)
    assert table["surge"].tolist() == table["entries"].tolist() == [2, 0, 1]
