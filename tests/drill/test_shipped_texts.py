"""What the facilitator of a shipped exercise is told to expect is what is computed.

Only claims of order and of number that the texts make; a text without its claim fails, too, so that
neither is changed alone.
"""

from __future__ import annotations

import numpy as np
import pytest

from surge_sim.drill.branches import Surges
from surge_sim.drill.compare import chosen_surge, column, compare
from surge_sim.drill.tree import Tree
from surge_sim.report.exercise_hot_wash import ran_out_words
from surge_sim.report.exercise_sheets import facilitator_sheet, players_sheet
from surge_sim.report.exercise_words import path_named
from surge_sim.report.page import page
from surge_sim.report.terminal import render
from surge_sim.scenario.exercise import load_exercise
from surge_sim.statistics.intervals import mean_interval
from tests.drill.small import SHIPPED

pytestmark = pytest.mark.slow


class Played:
    """A shipped exercise with all its other surges."""

    def __init__(self, name):
        (path,) = (one for one in SHIPPED if one.stem == name)
        self.exercise = load_exercise(path)
        number = chosen_surge(self.exercise)
        self.tree = Tree(Surges(self.exercise).surge(number))
        self.comparison = compare(self.exercise, number)
        self.place = {path_named(one): at for at, one in enumerate(self.exercise.paths)}

    def here(self, path, of="late"):
        return int(column(self.comparison.here[self.place[path]], of))

    def average(self, path, of="late"):
        return float(column(self.comparison.others[:, self.place[path]], of).mean())

    def clear(self, one, other, of="late"):
        """Whether the first path has fewer on average, and the interval says so."""
        others = column(self.comparison.others, of)
        found = mean_interval(others[:, self.place[one]] - others[:, self.place[other]])
        return found.high is not None and found.high < 0

    def expect(self, number):
        return " ".join(self.exercise.moments[number].expect.split())


@pytest.fixture(scope="module")
def evening():
    return Played("evening")


@pytest.fixture(scope="module")
def fortnight():
    return Played("fortnight")


def others(*fixed):
    """Return every path with `{}` in its place for the choice that is compared."""
    last = range(1, 4)
    return [
        one.replace("?", str(a)).replace("!", str(b)) for one in fixed for a in last for b in last
    ]


def test_evening_at_1830_hardly_anybody_has_waited(evening):
    assert "At 18:30 hardly anybody has waited, whatever was chosen" in evening.expect(0)
    for chosen in range(3):
        found = evening.tree.branch((chosen,)).stretch
        assert found.late == 0 and found.waited_s < 60
    ready = [int(evening.tree.branch((one,)).seen.kits_ready[-1]) for one in range(3)]
    assert "see the clean kits on the shelf then, which tell what comes" in evening.expect(0)
    assert ready[0] < ready[2] < ready[1]


def test_evening_the_loan_is_better_than_visits_together_only_with_the_called_cleaner(evening):
    said = evening.expect(0)
    assert (
        "If another cleaner is called at 18:30, the loan leaves fewer late entries than visits "
        "made together, on average over the other surges; if the group carries on with one "
        "cleaner, about as many." in said
    )
    assert all(evening.clear(f"2-2-{last}", f"3-2-{last}") for last in (1, 2, 3))
    for last in (1, 2, 3):
        loan, together = f"2-1-{last}", f"3-1-{last}"
        assert not evening.clear(loan, together) and not evening.clear(together, loan)
        assert abs(evening.average(loan) - evening.average(together)) < 3
        assert evening.here(together) < evening.here(loan) - 20
    assert (
        "On the surge that is played, with one cleaner, visits made together come out better"
        in said
    )


def test_evening_a_visit_takes_a_kit_away_for_as_long_as_the_players_read(evening):
    assert "each takes a kit away for about 40 min" in evening.expect(0)
    assert "An entry takes a kit away for about 40 min," in " ".join(
        render(players_sheet(evening.tree)).split()
    )


def test_evening_a_cleaner_leaves_fewer_late_than_a_reserve_and_the_reserve_fewer_urgent(evening):
    said = evening.expect(1)
    assert "another cleaner leaves fewer entries late than a reserve" in said
    assert "a reserve leaves fewer urgent ones late" in said
    for path in others("?-{}-!"):
        cleaner, reserve, nothing = (path.format(one) for one in (2, 3, 1))
        assert evening.clear(cleaner, reserve)
        assert evening.average(reserve, "urgent_late") < evening.average(nothing, "urgent_late")
        assert evening.average(reserve) > evening.average(nothing)


def test_evening_more_batteries_change_little_where_clean_kits_are_short(evening):
    assert "Where clean kits are short, more batteries change little" in evening.expect(2)
    for path in ("1-1-{}", "2-1-{}", "2-3-{}"):
        assert evening.average(path.format(1)) - evening.average(path.format(2)) < 2


def test_fortnight_the_hoods_on_the_shelf_would_last_until_sunday(fortnight):
    """376 on day 4, and 120 a day: three days."""
    assert "some 120 now: they would last for three days" in fortnight.expect(0)
    first = fortnight.tree.branch(())
    hoods = dict(zip(first.at_s, first.seen.hoods.tolist(), strict=True))
    used = hoods[first.to_s - 86_400 + first.to_s % 1_800] - hoods[first.to_s]
    assert 105 <= used <= 135
    assert 2.5 < hoods[first.to_s] / 120 < 3.5


def test_fortnight_keeping_kits_costs_the_time_of_wearers(fortnight):
    assert "“wearer hours” is what that costs" in fortnight.expect(0)
    for path in ("{}-2-1", "{}-2-2", "{}-2-3"):
        kept, together = (fortnight.here(path.format(one), "delayed_s") for one in (2, 3))
        assert kept > 2 * together


def test_fortnight_the_loan_brings_most_after_the_recall(fortnight):
    assert "the loan brings most, though it comes last" in fortnight.expect(1)
    for path in others("?-{}-!"):
        loan, nothing, cleaner = (path.format(one) for one in (2, 1, 3))
        assert fortnight.clear(loan, nothing) and fortnight.clear(loan, cleaner)
        assert fortnight.here(loan) < min(fortnight.here(nothing), fortnight.here(cleaner))


def test_fortnight_a_cleaner_is_better_than_a_reserve_also_for_urgent_ones_after_the_loan(
    fortnight,
):
    said = fortnight.expect(2)
    assert (
        "A reserve of two of so few kits helps urgent entries and makes many routine ones" in said
    )
    for path in others("?-!-{}"):
        nothing, cleaner, reserve = (path.format(one) for one in (1, 2, 3))
        assert fortnight.average(reserve, "urgent_late") < fortnight.average(nothing, "urgent_late")
        assert fortnight.average(reserve) > fortnight.average(nothing)
        assert fortnight.clear(cleaner, reserve)
    assert "Where kits were borrowed, the cleaner leaves fewer urgent entries late" in said
    for first in (1, 2, 3):
        assert fortnight.clear(f"{first}-2-2", f"{first}-2-3", "urgent_late")


def test_fortnight_hoods_run_out_a_second_time_on_most_paths_without_kept_kits(fortnight):
    assert "hoods run out a second time on most paths, on day 11 or 12" in fortnight.expect(2)
    again = []
    for path in fortnight.exercise.paths:
        (words,) = ran_out_words(fortnight.tree, path)
        is_again = "from day 11" in words or "from day 12" in words
        if path[0] == 1:
            assert not is_again
        else:
            again.append(is_again)
    assert sum(again) > len(again) / 2
    # the board shows the clean kits without a hood then
    seen = fortnight.tree.branch((0, 0, 1)).seen
    assert (seen.kits_without_hood[seen.hoods == 0] > 0).any()


def test_each_sheet_shows_a_path_whose_outcome_here_flatters_it(evening, fortnight):
    for one in (evening, fortnight):
        sheet = facilitator_sheet(one.tree, one.comparison)
        said = " ".join(render(sheet).split())
        named = said.split("Show path ")[1].split(" ")[0].rstrip("*")
        late = column(one.comparison.here, "late")
        average = column(one.comparison.others, "late").mean(axis=0)
        place = one.place[named]
        before_here, before = (late < late[place]).sum(), (average < average[place]).sum()
        assert before > before_here + 2
        assert f"On this surge {late[place]:,} entries are late with it" in said
        assert f"{before_here} of the other 26 paths have fewer" in said
        assert f"are late, and {before} have fewer" in said
        assert np.isfinite(average).all() and page(sheet)
