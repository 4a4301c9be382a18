"""Day and hour of an entry: one answer, whoever counts by them."""

from __future__ import annotations

import numpy as np

from surge_sim.purchase.by_wait import late_row
from surge_sim.sizing.player import Seen, row_of
from surge_sim.statistics.rows import surge_columns
from surge_sim.statistics.summary import joined, summarise
from surge_sim.whatif.outcome import outcome
from tests.engine.tiny import settings
from tests.statistics.by_hand import Need, layout_of, log_of, trace_of

TWO_DAYS = settings(start="2031-01-06 07:00:59", horizon="48 h")
#: the last two are due on day 2: one of them was postponed two hours beyond the surge
DUE = [0, 3_541 / 60, 1_440, 3_000]
TRACE = trace_of(DUE, changed=TWO_DAYS)
#: the postponed one is late: the target's wait is 5 min
LOG = log_of([Need(due, wait) for due, wait in zip(DUE, (0, 0, 0, 9), strict=True)], hours=48)


def test_a_postponed_entry_belongs_to_the_last_day_whoever_counts() -> None:
    """Of day 2, 1 of 2 entries is late; on a day of its own it would be 1 of 1."""
    target, layout = TWO_DAYS.target, layout_of(TRACE, TWO_DAYS)
    row = row_of(LOG, TRACE, target)
    assert (row[Seen.WORST_LATE], row[Seen.WORST_ENTRIES]) == (1, 2)
    counted = outcome(TRACE, LOG, target)[0]
    assert (counted["worst_in_time"], counted["worst_entries"]) == (1, 2)
    assert late_row(TRACE, LOG, target, (0, 300, 600)).worst_day.tolist() == [0.5, 0.5, 0.0]
    columns = surge_columns(joined([summarise(TRACE, LOG, layout)]), layout)
    assert columns["worst_day"].tolist() == [2.0]
    assert columns["worst_day_service_level"].tolist() == [0.5]


def test_the_hour_of_the_clock_counts_the_seconds_of_the_start() -> None:
    """59 min 1 s after 07:00:59 it is 08:00:00; the others are due at 07:00:59 and 09:00:59."""
    row, layout = row_of(LOG, TRACE, TWO_DAYS.target), layout_of(TRACE, TWO_DAYS)
    by_hour = row[Seen.BY_HOUR : Seen.LATE_BY_HOUR]
    assert {hour: n for hour, n in enumerate(by_hour.tolist()) if n} == {7: 2, 8: 1, 9: 1}
    assert row[Seen.LATE_BY_HOUR : Seen.CAUSES].nonzero()[0].tolist() == [9]
    summary = summarise(TRACE, LOG, layout)
    assert np.array_equal(summary.rows["entries"][0, layout.where["hour"]], by_hour)
