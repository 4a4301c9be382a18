"""How a stock is judged surge by surge: what the search plays, and what is counted in full."""

from __future__ import annotations

import pytest

from surge_sim.engine.log import Score
from surge_sim.equipment.stock import Stock
from surge_sim.randomness import Sample
from surge_sim.scenario.load import scenario_from_text
from surge_sim.scenario.schema import Settings, Target, UrgentTarget
from surge_sim.sizing.player import ScenarioPlayer, Seen, Work, missed_by, one_by_one
from surge_sim.sizing.size import _cleaner_hours
from tests.engine.tiny import settings
from tests.sizing.test_reasons import WARD

STOCKS = [Stock(kits, 2 * kits + 1, 6) for kits in range(2, 8)]


def played(late_by: str) -> dict[tuple[int, Stock], tuple[bool, bool, bool, int]]:
    """Whether the search keeps each stock, by both of its looks; and the whole play."""
    scenario = scenario_from_text(WARD)
    asked = {"late_by": late_by, "service_level": 0.97}
    player = ScenarioPlayer(scenario, scenario.settings.target.model_copy(update=asked), 1)
    found = {}
    for number in range(3):
        surge = player.surge(Sample.CHOOSE, number)
        for stock in STOCKS:
            row = surge.row(stock)
            kept, missed = surge.kept(stock), surge.missed(stock)
            found[number, stock] = kept, missed == 0, bool(row[Seen.ON_TARGET]), int(row[Seen.LATE])
    return found


def test_the_search_judges_as_a_whole_play_does_by_waits_and_by_delays() -> None:
    """Where wearers are named, delays make more entries late: some stock then misses the target."""
    by_wait, by_delay = played("wait"), played("delay")
    for found in (by_wait, by_delay):
        for kept, on_target, whole, _ in found.values():
            assert kept == on_target == whole
        assert len({kept for kept, *_ in found.values()}) == 2
    assert all(by_delay[one][3] >= by_wait[one][3] for one in by_wait)
    assert any(by_wait[one][0] and not by_delay[one][0] for one in by_wait)


def test_a_surge_is_the_one_of_its_seed_sample_and_number_with_its_own_inputs() -> None:
    """How long donning takes is uncertain; once drawn, it is the same for all of the surge."""
    scenario = scenario_from_text(WARD.replace("don: 3 min", "don: {low: 1 min, high: 5 min}"))
    player = ScenarioPlayer(scenario, scenario.settings.target, 7)
    for sample, number in ((Sample.CHOOSE, 5), (Sample.CONFIRM, 2)):
        demand = player.surge(sample, number).situation.demand
        assert (demand.seed, demand.sample, demand.surge) == (7, sample, number)
        don = scenario.settings_for(7, sample, number).kit.don
        assert don.mean != scenario.settings.kit.don.mean
        assert set(demand.don_s.tolist()) == {don.mean}


def target(**more: object) -> Target:
    return settings().target.model_copy(update=more)


def score(late: int, urgent_late: int = 0, stock_outs: int = 0, alarms: int = 0) -> Score:
    """A play of 100 entries, 20 of them urgent."""
    return Score(100, 20, late, urgent_late, alarms, stock_outs, given_up=False)


URGENT = {"urgent": UrgentTarget(wait=120, service_level=0.9)}


@pytest.mark.parametrize(
    ("asked", "seen", "missed"),
    [
        # of 100 entries 5 may be late: 3 too many are 3/5
        (target(), score(5), 0),
        (target(), score(8), 1 + 3 / 5),
        # of 20 urgent ones 2 may be late
        (target(**URGENT), score(5, urgent_late=2), 0),
        (target(**URGENT), score(5, urgent_late=3), 1 + 1 / 2),
        (target(**URGENT), score(8, urgent_late=5), 1 + 3 / 5 + 3 / 2),
        (target(**URGENT), score(8, urgent_late=1), 1 + 3 / 5),
        # where none may be, each counts as one
        (target(urgent=UrgentTarget(wait=120, service_level=1.0)), score(5, urgent_late=3), 1 + 3),
        (target(service_level=1.0), score(3), 1 + 3),
        (target(most_stock_outs=0), score(0, stock_outs=2), 1 + 2),
        (target(most_stock_outs=4), score(0, stock_outs=4), 0),
        (target(most_stock_outs=4), score(0, stock_outs=6), 1 + 2 / 4),
        (target(most_stock_outs=4), score(8, stock_outs=1), 1 + 3 / 5),
        # too many alarms, and nobody too late: more stock would not help that
        (target(most_alarms_per_1000=10), score(0, alarms=1), 0),
        (target(most_alarms_per_1000=10), score(0, alarms=2), 1),
    ],
)
def test_by_how_much_a_target_is_missed_counts_what_is_too_many_of_what_may_be(
    asked: Target, seen: Score, missed: float
) -> None:
    assert missed_by(seen, asked) == pytest.approx(missed)


@pytest.mark.parametrize(
    ("cleaning", "horizon", "hours"),
    [
        # 12 h and 4.5 h a day, for two days and for ten
        ([("07:00", "19:00"), ("19:00", "23:30")], "2 d", 33),
        ([("07:00", "19:00"), ("19:00", "23:30")], "10 d", 165),
        # past midnight, half a day of a surge
        ([("22:00", "06:00")], "12 h", 4),
        # all day, told by its start alone
        ([("07:00", "07:00")], "3 d", 72),
    ],
)
def test_one_more_cleaner_on_every_shift_works_the_hours_of_all_shifts_in_a_surge(
    cleaning: list[tuple[str, str]], horizon: str, hours: float
) -> None:
    crew = [{"start": start, "end": end, "cleaners": "1"} for start, end in cleaning]
    asked: Settings = settings(cleaning={"by": "crew", "crew": crew}, horizon=horizon)
    assert _cleaner_hours(asked) == pytest.approx(hours)
    by_wearers = settings(cleaning={"by": "wearer", "crew": crew}, horizon=horizon)
    assert _cleaner_hours(by_wearers) == 0


def test_work_is_done_in_the_order_of_the_numbers_and_told_one_by_one() -> None:
    assert list(one_by_one(lambda number: 2 * number, [3, 1, 2])) == [6, 2, 4]
    assert Work()(lambda number: 2 * number, [3, 1, 2], "label") == [6, 2, 4]
