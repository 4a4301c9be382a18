"""All random checks together fail in under 1 of 1,000 runs of a program that is right."""

from __future__ import annotations

import re

from tests.conftest import ROOT
from tests.false_alarms import RANDOM, README, chances, with_table
from tests.validation.check import WHOLE_SUITE

#: files that draw numbers, and whose claims hold whatever is drawn: two ways to one result, sums
#: that add up, equal bytes, bounds that cannot be passed, or draws that merely must differ
EXACT = {
    "cli/test_explain.py",
    "demand/test_clock.py",
    "demand/test_draw.py",
    "demand/test_draws.py",
    "demand/test_epidemic.py",
    "demand/test_log_input.py",
    "demand/test_replay.py",
    "demand/test_rounds.py",
    "demand/test_wearers.py",
    "engine/test_agreement.py",
    "engine/test_cache.py",
    "engine/test_cluster.py",
    "equipment/test_situation.py",
    "everything/test_every_feature.py",
    "report/test_columns.py",
    "scenario/test_load.py",
    "scenario/test_shipped.py",
    "sizing/test_choosing.py",
    "sizing/test_search.py",
    "shadow/test_run_accounts.py",
    "statistics/test_intervals.py",
    "statistics/test_recorded.py",
    "statistics/test_run.py",
    "statistics/test_joined.py",
    "statistics/test_waits.py",
}
#: files that only name what draws numbers
NO_DRAWS = {"test_false_alarms.py", "test_layout.py"}
#: what draws numbers in a test
DRAWS = re.compile(r"default_rng|draw_demand|\bKnown\(|\bStandIn\(|\.poisson\(|\.rvs\(")


def test_the_sum_of_all_chances_stays_below_one_in_a_thousand() -> None:
    """Chances add up at most, whatever the checks have in common."""
    assert 0 < sum(chance for _, chance in chances().values()) < WHOLE_SUITE
    assert all(chance > 0 for _, chance in chances().values())


def test_the_table_is_that_of_the_tests() -> None:
    text = README.read_text(encoding="utf-8")
    assert with_table(text) == text, "python -m tests.false_alarms writes it anew"


def test_every_file_that_draws_numbers_says_how_often_it_errs_or_cannot() -> None:
    """Files of demand count their checks by chance.py, those of the catalogue by check.py."""
    tests = ROOT / "tests"
    silent = []
    for path in sorted(tests.rglob("test_*.py")):
        name, text = str(path.relative_to(tests)), path.read_text(encoding="utf-8")
        counted = "tests.demand.chance" in text or path.name in NO_DRAWS
        if DRAWS.search(text) and not counted and name not in RANDOM and name not in EXACT:
            silent.append(name)
    assert silent == []
