"""Many surges of a real scenario: the same numbers however they are come by."""

import io
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

import surge_sim
from surge_sim.engine.play import score
from surge_sim.equipment.stock import Stock
from surge_sim.scenario.load import Scenario
from surge_sim.statistics.summary import Layout, summarise
from surge_sim.statistics.target import kept
from tests.conftest import ROOT
from tests.scenario.test_doubtful import CROWDED

SURGES = 6
STOCK = Stock(kits=4, batteries=6, bays=3)


@pytest.fixture(scope="module")
def scenario() -> Scenario:
    """A few days of the small shipped unit."""
    whole = surge_sim.load_scenario(ROOT / "scenarios" / "rule_out_unit.yaml")
    return replace(whole, settings=whole.settings.model_copy(update={"horizon": 4 * 86_400}))


def run(scenario: Scenario, **more):  # type: ignore[no-untyped-def]
    asked = {"surges": SURGES, "seed": 3, "processes": 1, **more}
    return surge_sim.run(scenario, STOCK, **asked)


@pytest.fixture(scope="module")
def result(scenario: Scenario):  # type: ignore[no-untyped-def]
    return run(scenario)


def assert_same(first, second) -> None:  # type: ignore[no-untyped-def]
    for table in ("surges", "waits", "wait_curve", "by_role", "by_day", "by_hour",
                  "cause_of_waiting", "use", "use_over_time", "work", "spread"):  # fmt: skip
        pd.testing.assert_frame_equal(
            getattr(first, table), getattr(second, table), check_exact=True, obj=table
        )


def test_processes_do_not_change_the_result(scenario, result):
    """The reference engine takes long enough to be shared."""
    assert_same(run(scenario, processes=2, engine="reference"), result)


def test_engines_give_the_same_result(scenario, result):
    assert_same(run(scenario, engine="reference"), result)


def test_the_warnings_are_those_of_the_stock_that_is_played():
    """Kits enough, and one battery for all of them; the file has 2 kits and 9 batteries."""
    played = Stock(kits=40, batteries=1, bays=1)
    crowded = surge_sim.scenario_from_text(CROWDED)
    found = surge_sim.run(crowded, played, surges=1, processes=1, engine="reference")
    assert "batteries are busy on average with 1 in stock" in found.notes[-1]


def test_another_seed_is_another_result(scenario, result):
    with pytest.raises(AssertionError):
        assert_same(run(scenario, seed=4), result)


def test_more_surges_begin_with_the_same_ones(scenario, result):
    more = run(scenario, surges=SURGES + 2)
    pd.testing.assert_frame_equal(more.surges.head(SURGES), result.surges)


def test_the_table_of_needs_gives_every_number_again(scenario, result):
    """Shares, waits and reasons worked out anew from the list of all needs."""
    parts: list[str] = []
    steps: list[int] = []
    assert_same(run(scenario, write_entries=parts.append, progress=steps.append), result)
    rows = pd.read_csv(io.StringIO("".join(parts)), keep_default_na=False)
    assert sum(steps) == SURGES
    assert rows["surge"].unique().tolist() == list(range(SURGES))
    good = (rows["outcome"] == "served") & (rows["wait_min"] <= 5 + 1e-9)
    entries = good.groupby([rows["surge"], rows["entry"]]).all()
    assert result.service_level.estimate == pytest.approx(entries.mean())
    assert result.service_level_by_surge.estimate == pytest.approx(
        entries.groupby("surge").mean().mean()
    )
    assert result.wait_minutes["mean"].estimate == pytest.approx(rows["wait_min"].mean(), rel=1e-5)
    # waits above 6 h are kept as whole minutes
    ordered = np.sort(rows["wait_min"].where(rows["wait_min"] <= 360, np.ceil(rows["wait_min"])))
    for share in (0.5, 0.9, 0.95, 0.99):
        rank = int(np.ceil(share * len(ordered) - 1e-9)) - 1
        found = result.wait_minutes[f"p{round(100 * share)}"].estimate
        assert found == pytest.approx(ordered[rank], abs=1e-4)
    hours = rows.groupby("surge")["wait_min"].sum() / 60
    assert result.surges["hours_waited"].tolist() == pytest.approx(hours.tolist(), rel=1e-4)
    by_role = entries.groupby(rows.drop_duplicates(["surge", "entry"])["role"].to_numpy()).mean()
    for row in result.by_role.itertuples():
        assert row.service_level == pytest.approx(by_role[row.role])


def test_what_was_missing_adds_up_to_all_waiting(result):
    assert result.cause_of_waiting["share"].sum() == pytest.approx(1.0)
    per_surge = result.surges["hours_waited"].mean()
    assert result.cause_of_waiting["hours_per_surge"].sum() == pytest.approx(per_surge)


def test_kits_and_batteries_are_each_in_one_state_at_any_time(result):
    mean = result.use.set_index("state")["mean"]
    assert mean[[name for name in mean.index if name.startswith("kits")]].sum() == pytest.approx(4)
    batteries = [name for name in mean.index if name.startswith("batteries")]
    assert mean[batteries].sum() == pytest.approx(6)


def test_a_summary_counts_what_the_engine_counts_for_a_search(scenario):
    target, layout = scenario.settings.target, Layout.of(scenario.settings)
    for surge in range(3):
        case = surge_sim.situation_of(scenario, STOCK, seed=3, surge=surge)
        log = surge_sim.play(*case, engine="reference")
        counted = score(*case, engine="reference")
        (row,) = summarise(case.demand, log, layout).rows
        assert row["entries"][0] - row["in_time"][0] == counted.late
        assert [row["urgent_entries"], row["urgent_late"]] == [
            counted.urgent_entries, counted.urgent_late,
        ]  # fmt: skip
        assert kept(counted, target) == (not row["missed"])


def test_with_more_than_enough_of_everything_nobody_waits(scenario):
    plenty = surge_sim.run(scenario, Stock(60, 400, 100), surges=3, processes=1, engine="reference")
    assert plenty.service_level.estimate == 1.0
    assert plenty.cause_of_waiting.empty
    assert plenty.wait_minutes["max"].estimate == 0.0


def test_the_stock_in_hand_is_played_unless_another_is_given(scenario):
    held = surge_sim.run(scenario, surges=1, processes=1, engine="reference")
    assert held.stock == surge_sim.stock_in_hand(scenario.settings)


def test_no_surges_are_refused(scenario):
    with pytest.raises(ValueError, match="must be 1 or more"):
        surge_sim.run(scenario, surges=0)
