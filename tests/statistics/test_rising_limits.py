"""Along a curve that can only rise, limits do so too, and never get narrower."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from surge_sim.statistics.intervals import Interval
from surge_sim.statistics.tables import waits_of
from surge_sim.statistics.waits import QUANTILES, rising_limits
from tests.statistics.hand_run import run_of_waits

limits = st.one_of(st.none(), st.integers(0, 9).map(float))
points = st.lists(st.builds(Interval, st.just(5.0), limits, limits), max_size=12)


def test_a_hump_of_the_upper_limit_lifts_what_lies_behind_it():
    """Upper limits 2, 6, 3, 9 become 2, 6, 6, 9; lower limits 0, 2, 1, 5 become 0, 1, 1, 5."""
    found = rising_limits(
        [Interval(1, 0, 2), Interval(2, 2, 6), Interval(2, 1, 3), Interval(7, 5, 9)]
    )
    assert found == [(1, 0, 2), (2, 1, 6), (2, 1, 6), (7, 5, 9)]


def test_a_limit_that_is_not_known_stays_unknown_and_widens_no_other():
    known, unknown = Interval(4.0, 3.0, 5.0), Interval(2.0, None, None)
    assert rising_limits([known, unknown, known]) == [known, unknown, known]
    assert rising_limits([]) == []


@given(points)
def test_limits_end_up_in_order_and_contain_those_that_were_there(before):
    after = rising_limits(before)
    for old, new in zip(before, after, strict=True):
        assert old.estimate == new.estimate
        assert (old.low is None) == (new.low is None) and (old.high is None) == (new.high is None)
        assert old.low is None or new.low <= old.low
        assert old.high is None or new.high >= old.high
    for place in (1, 2):
        known = [point[place] for point in after if point[place] is not None]
        assert known == sorted(known)


@pytest.mark.usefixtures("limits_however_few_surges")
def test_the_share_that_waits_longer_has_a_band_that_falls():
    """One need of ten is late in each of 3 surges: 10 % wait longer than 5 min, in all alike. Only
    one waits longer than 7 min, and 1/30 has an upper limit far above 10 %, which holds before.
    """
    result = run_of_waits([0] * 9 + [6], [0] * 9 + [6], [0] * 9 + [20])
    alone = dict(waits_of(result.summary, result.layout).share_within())
    worst = max(1 - within.low for wait_s, within in alone.items() if wait_s > 7 * 60)
    assert 1 - alone[300].low < 0.11 < worst, "point by point the limit rises"
    table = result.wait_curve
    assert table["low"].is_monotonic_decreasing and table["high"].is_monotonic_decreasing
    assert table.loc[table["wait_min"] == 5, "high"].item() == worst
    assert (table["low"] <= table["share_longer"]).all()
    assert (table["high"] >= table["share_longer"]).all()


@pytest.mark.usefixtures("limits_however_few_surges")
def test_a_higher_quantile_of_the_wait_has_no_lower_limits():
    """Two surges: the median is 4 min in both, and the 90 % quantile may be as short as 1."""
    result = run_of_waits([2, 4, 4, 20, 20], [1, 4, 4, 9, 9])
    alone = [waits_of(result.summary, result.layout).quantile(share).low for share in QUANTILES]
    assert alone == [240, 60, 60, 60], "alone, the limit falls"
    rows = result.waits[result.waits["measure"].isin(["p50", "p90", "p95", "p99"])]
    assert rows["low"].tolist() == [1, 1, 1, 1]
