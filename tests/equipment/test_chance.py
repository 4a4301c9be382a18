"""Work draws: asking for more moves nothing already drawn."""

import pickle
from itertools import permutations

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from surge_sim.equipment import chance
from surge_sim.equipment.chance import BLOCK, WorkDraws, usual_wipes
from surge_sim.equipment.timeline import InForce
from surge_sim.randomness import Purpose, Streams
from surge_sim.units import DAY_S
from tests.demand.chance import agrees, follows
from tests.demand.ward import settings

HOUR_S = 3_600


def times(shape, mean):
    return {"shape": shape, "mean": mean, "cv": "70 %"}


EVERYTHING = {
    "cleaning": {"wipe_down": times("gamma", "5 min")},
    "filters": {
        "prefilter_life": times("weibull", "80 h"),
        "he_filter_life": times("lognormal", "400 h"),
        "prefilter_change": "4 min",
        "he_filter_turnaround": "1 d",
    },
    "failures": {
        "blower_run_between_failures": "500 h",
        "repair_time": {"shape": "exponential", "mean": "30 h"},
        "battery_run_between_failures": "500 h",
        "battery_replacement_time": {"shape": "exponential", "mean": "30 h"},
        "charger_time_between_failures": "20 d",
        "charger_repair_time": {"shape": "exponential", "mean": "30 h"},
    },
}


def draws(seed=1, surge=0, **changes):
    return WorkDraws.of(settings(**(EVERYTHING | changes)), seed, 0, surge)


@pytest.mark.parametrize("order", list(permutations(range(3))))
def test_any_two_sizes_agree_wherever_both_have_a_value(order):
    sizes = [(10, 3, 2, BLOCK + 1), (500, 2 * BLOCK + 1, 3, 4), (40, BLOCK + 1, 9, 2 * BLOCK)]
    fresh = [draws().sized(*size) for size in sizes]
    one = draws()
    asked = {number: one.sized(*sizes[number]) for number in order}
    for number, arrays in enumerate(fresh):
        for other in (*fresh, asked[number]):
            for name, mine, theirs in zip(arrays._fields, arrays, other, strict=True):
                both = tuple(
                    slice(min(pair)) for pair in zip(mine.shape, theirs.shape, strict=True)
                )
                assert mine[both].size > 0
                assert_array_equal(mine[both], theirs[both], err_msg=name)


def test_there_is_at_least_as_much_as_was_asked_for():
    arrays = draws().sized(wipes=70, blowers=BLOCK + 1, generations=5)
    assert len(arrays.wipe_s) >= 70
    for table in (arrays.prefilter_life_s, arrays.he_life_s, arrays.failure_run_s, arrays.repair_s):
        assert table.shape[0] >= 5 and table.shape[1] == 2 * BLOCK
    assert len(arrays.prefilter_used_s) == len(arrays.he_used_s) == 2 * BLOCK
    for array in arrays:
        assert array.dtype == np.int64 and not array.flags.writeable


def test_features_that_are_not_there_have_empty_tables():
    bare = WorkDraws.of(settings(), 1, 0, 0).sized(5, 3, 2)
    assert bare.wipe_s.tolist() == [300] * 5
    of_blowers = bare.prefilter_life_s, bare.he_life_s, bare.failure_run_s, bare.repair_s
    for table in (*of_blowers, bare.battery_run_s, bare.replacement_s):
        assert table.shape == (0, 0)
    assert bare.prefilter_used_s.shape == bare.he_used_s.shape == (0,)
    instant = draws(cleaning={"by": "central", "wipe_down": None, "rounds": ["08:00"],
                              "turnaround": "4 h"})  # fmt: skip
    assert instant.sized(3, 1, 1).wipe_s.tolist() == [0, 0, 0]


def test_a_feature_moves_no_draw_of_another():
    whole = draws().sized(100, 10, 4)
    assert_array_equal(draws(failures={}).sized(100, 10, 4).he_life_s, whole.he_life_s)
    assert_array_equal(draws(filters=None).sized(100, 10, 4).failure_run_s, whole.failure_run_s)


def test_surges_seeds_and_items_have_their_own_draws():
    first = draws().sized(100, 2 * BLOCK, 4)
    for other in (draws(surge=1), draws(seed=2)):
        for name, mine, theirs in zip(
            first._fields, first, other.sized(100, 2 * BLOCK, 4), strict=True
        ):
            assert (mine != theirs).mean() > 0.9, name
    assert (first.he_life_s[:, :BLOCK] != first.he_life_s[:, BLOCK:]).all()


def test_part_worn_filters_have_lost_an_even_share_of_their_first_life():
    """Kolmogorov-Smirnov over 20 blocks; false alarm 1 in a million each."""
    arrays = draws().sized(1, 20 * BLOCK, 1)
    for used_s, life_s in (
        (arrays.prefilter_used_s, arrays.prefilter_life_s[0]),
        (arrays.he_used_s, arrays.he_life_s[0]),
    ):
        assert (used_s >= 0).all() and (used_s < life_s).all()
        assert follows(used_s / life_s, lambda x: np.clip(x, 0, 1))


def test_run_between_failures_is_exponential_and_repairs_follow_their_times():
    """Means of 12,800; false alarm 1 in a million each."""
    arrays = draws(seed=6).sized(1, 4 * BLOCK, 50)
    root = np.sqrt(arrays.failure_run_s.size)
    assert agrees(arrays.failure_run_s.mean() / HOUR_S, 500, 500 / root)
    assert agrees(arrays.repair_s.mean() / HOUR_S, 30, 30 / root)
    packs = draws(seed=6).sized(1, 1, 50, 4 * BLOCK)
    assert agrees(packs.battery_run_s.mean() / HOUR_S, 500, 500 / root)
    assert agrees(packs.replacement_s.mean() / HOUR_S, 30, 30 / root)
    assert agrees(arrays.prefilter_life_s.mean() / HOUR_S, 80, 0.7 * 80 / root)
    assert arrays.failure_run_s.min() >= 1
    quick = draws(failures={"blower_run_between_failures": "500 h"}).sized(1, 1, 2)
    assert quick.failure_run_s.shape == quick.repair_s.shape and not quick.repair_s.any()


def over_time(rows):
    """Seconds and counts of bays that have failed."""
    assert set(rows[:, 1].tolist()) <= {InForce._fields.index("bays_failed")}
    return rows[:, 0].tolist(), rows[:, 2].tolist()


def test_chargers_fail_with_all_their_bays_and_none_moves_the_faults_of_another():
    """Ten bays in chargers of four: two chargers of four and one of two."""
    one = draws(seed=3)
    alone = [one.bay_failures(4, 4, 200 * DAY_S), one.bay_failures(8, 4, 200 * DAY_S)]
    assert set(over_time(alone[0])[1]) == {0, 4}
    assert set(over_time(alone[1])[1]) <= {0, 4, 8}
    assert set(over_time(alone[0])[0]) <= set(over_time(alone[1])[0])
    last = set(over_time(one.bay_failures(10, 4, 2_000 * DAY_S))[1])
    assert {0, 2, 4} <= last <= {0, 2, 4, 6, 8, 10}
    short = over_time(one.bay_failures(8, 4, 100 * DAY_S))[0]
    assert short == [at_s for at_s in over_time(alone[1])[0] if at_s in short]
    assert len(draws(failures={}).bay_failures(10, 4, 200 * DAY_S)) == 0


def test_chargers_are_out_for_the_share_that_faults_and_repairs_make():
    """Works 20 d, is out 5 d on average: a fifth of a long time; false alarm 1 in a million.

    In a renewal process the share of n cycles has about the variance 2 (a b / (a + b)^2)^2 / n,
    with means a and b of exponential times; 2,000 chargers run for 80 cycles each.
    """
    faults = {
        "charger_time_between_failures": "20 d",
        "charger_repair_time": {"shape": "exponential", "mean": "5 d"},
    }
    until_s, chargers = 2_000 * DAY_S, 2_000
    at_s, failed = over_time(draws(seed=8, failures=faults).bay_failures(chargers, 1, until_s))
    edges = np.clip([*at_s, until_s], 0, until_s)
    share = (np.diff(edges) * failed).sum() / until_s / chargers
    # all work at second 0: a fifth x (1 - exp(-t / 4 d)) of them are out after a time t
    settled = 0.2 - 0.2 * 4 * DAY_S / until_s
    error = np.sqrt(2) * 0.8 * 0.2 / np.sqrt(chargers * 80)
    assert agrees(share, settled, error)


def test_lives_last_a_second_or_more():
    tiny = {"prefilter_life": {"shape": "exponential", "mean": "1 s"}}
    arrays = draws(filters=EVERYTHING["filters"] | tiny).sized(1, 3, 400)
    assert arrays.prefilter_life_s.min() == 1


def test_a_blower_and_a_battery_run_for_a_second_or_more_until_they_fail():
    """An exponential time of mean 2 s is below half a second in a fifth of the cases."""
    tiny = {"blower_run_between_failures": "2 s", "battery_run_between_failures": "2 s"}
    arrays = draws(failures=EVERYTHING["failures"] | tiny).sized(1, 3, 400)
    assert arrays.failure_run_s.min() == arrays.battery_run_s.min() == 1


def test_the_ages_of_the_two_filters_of_a_blower_have_nothing_to_do_with_each_other():
    fixed = {"prefilter_life": "1000 h", "he_filter_life": "1000 h"}
    arrays = draws(filters=EVERYTHING["filters"] | fixed).sized(1, 20 * BLOCK, 1)
    # of 1,280 the correlation passes 0.14 with a chance of 1 in a million
    assert abs(np.corrcoef(arrays.prefilter_used_s, arrays.he_used_s)[0, 1]) < 0.14


def test_repairs_and_replacements_may_take_no_time():
    """An exponential time of mean 1 s is below half a second in two of five cases."""
    second = {"shape": "exponential", "mean": "1 s"}
    tiny = {"repair_time": second, "battery_replacement_time": second | {}}
    arrays = draws(failures=EVERYTHING["failures"] | tiny).sized(1, 3, 400)
    for table in (arrays.repair_s, arrays.replacement_s):
        assert 0.38 < (table == 0).mean() < 0.41


def test_draws_travel_without_their_arrays():
    one = draws()
    before = one.sized(2_000, 200, 20)
    assert len(pickle.dumps(one)) < 50_000
    again = pickle.loads(pickle.dumps(one)).sized(2_000, 200, 20)
    assert_array_equal(again.he_life_s, before.he_life_s)


OF_STREAM = {
    Purpose.PREFILTERS: {"prefilter_life_s", "prefilter_used_s"},
    Purpose.HE_FILTERS: {"he_life_s", "he_used_s"},
    Purpose.FILTER_AGES: {"prefilter_used_s", "he_used_s"},
    Purpose.FAULTS: {"failure_run_s"},
    Purpose.REPAIRS: {"repair_s"},
    Purpose.BATTERY_FAILURES: {"battery_run_s"},
    Purpose.BATTERY_REPLACEMENTS: {"replacement_s"},
    Purpose.WIPE_DOWN: {"wipe_s"},
    Purpose.CHARGER_FAULTS: {"bays_failed"},
    Purpose.CHARGER_REPAIRS: {"bays_failed"},
}


def streams_with_another(odd, asked):
    """Stand in for streams: one purpose gets those of another seed; what is asked for is noted."""

    class Others(Streams):
        def stream(self, purpose, block=0):
            asked.add((self.seed, self.sample, self.surge, purpose, block))
            if purpose is odd:
                return Streams(self.seed + 1, self.sample, self.surge).stream(purpose, block)
            return super().stream(purpose, block)

    return Others


@pytest.mark.parametrize("odd", OF_STREAM, ids=lambda purpose: purpose.name)
def test_each_table_comes_from_the_streams_of_its_name_surge_by_surge(monkeypatch, odd):
    """Seed 3, sample 2, surge 5; two blocks of blowers, three of batteries, four chargers."""

    def tables():
        one = WorkDraws.of(settings(**EVERYTHING), 3, 2, 5)
        found = one.sized(50, 2 * BLOCK, 3, 3 * BLOCK)._asdict()
        return found | {"bays_failed": one.bay_failures(16, 4, 300 * DAY_S)}

    usual, asked = tables(), set()
    monkeypatch.setattr(chance, "Streams", streams_with_another(odd, asked))
    unlike = {name for name, table in tables().items() if not np.array_equal(table, usual[name])}
    assert unlike == OF_STREAM[odd]
    blocks = {name: 2 for name in OF_STREAM} | {
        Purpose.BATTERY_FAILURES: 3, Purpose.BATTERY_REPLACEMENTS: 3, Purpose.WIPE_DOWN: 1,
        Purpose.CHARGER_FAULTS: 4, Purpose.CHARGER_REPAIRS: 4,
    }  # fmt: skip
    assert asked == {
        (3, 2, 5, purpose, block) for purpose, count in blocks.items() for block in range(count)
    }


def test_what_suffices_has_enough_of_everything():
    """70 wipes, 64 blowers with 5 lives, 128 batteries with 5: one more of any is too many."""
    arrays = draws().sized(wipes=70, blowers=BLOCK, generations=5, batteries=BLOCK + 1)
    enough = (70, BLOCK, 5, 2 * BLOCK)
    assert arrays.suffices(*enough) and arrays.suffices(1, 1, 1, 1)
    for place in range(4):
        assert not arrays.suffices(*(n + (k == place) for k, n in enumerate(enough)))
    bare = WorkDraws.of(settings(), 1, 0, 0).sized(70, BLOCK, 5)
    assert bare.suffices(70, 10**6, 10**6, 10**6) and not bare.suffices(71, 1, 1, 1)


def test_an_eighth_more_wipe_downs_than_entries_and_64_are_usual():
    """Every entry has one, and a kit that fails its check another."""
    assert [usual_wipes(entries) for entries in (0, 8, 800)] == [64, 73, 964]


def test_chargers_work_from_the_start_and_out_of_order_for_as_long_as_they_are_repaired():
    """One charger of three bays, repaired in 30 h each time."""
    faults = {"charger_time_between_failures": "20 d", "charger_repair_time": "30 h"}
    at_s, failed = over_time(draws(seed=4, failures=faults).bay_failures(3, 3, 3_000 * DAY_S))
    assert len(at_s) > 100 and at_s[0] > 0
    assert failed == [3, 0] * (len(failed) // 2)
    assert set(np.diff(at_s)[::2].tolist()) == {30 * HOUR_S}
    assert at_s[-2] < 3_000 * DAY_S
    whole = over_time(draws(seed=4, failures=faults).bay_failures(3, 3, at_s[10]))[0]
    assert whole == at_s[:10]


def test_a_charger_fails_for_the_first_time_after_its_first_time_between_failures():
    """Of its own stream: works, is repaired in 30 h, works again, and so on; 40 times and more."""
    faults = {"charger_time_between_failures": "20 d", "charger_repair_time": "30 h"}
    at_s, _ = over_time(draws(seed=4, failures=faults).bay_failures(1, 1, 3_000 * DAY_S))
    works_s = Streams(4, 0, 0).stream(Purpose.CHARGER_FAULTS).standard_exponential(200) * 20 * DAY_S
    expected, now_s = [], 0
    for works in np.rint(works_s).astype(int).tolist():
        expected += [now_s + works, now_s + works + 30 * HOUR_S]
        now_s = expected[-1]
    assert len(at_s) > 80 and at_s == expected[: len(at_s)]


@pytest.mark.parametrize(
    "repair",
    [
        times("gamma", "30 h"), times("weibull", "30 h"), times("lognormal", "30 h"),
        {"values": ["20 h", "30 h", "70 h"]},
    ],
)  # fmt: skip
def test_the_faults_of_a_charger_are_the_same_however_many_are_drawn_at_once(monkeypatch, repair):
    faults = {"charger_time_between_failures": "20 d", "charger_repair_time": repair}
    found = []
    for at_once in (1, 16, 17):
        monkeypatch.setattr(chance, "USUAL_LIVES", at_once)
        rows = draws(seed=4, failures=faults).bay_failures(2, 1, 1_000 * DAY_S)
        found.append(rows.tolist())
    assert len(found[0]) > 100
    assert found[0] == found[1] == found[2]
