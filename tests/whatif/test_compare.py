"""A comparison in Python: its tables, what it notes, and how it shows itself."""

from __future__ import annotations

import numpy as np
import pytest

import surge_sim
from surge_sim import load_scenario
from surge_sim.report.columns import meaning
from surge_sim.report.comparison_tables import hours_words
from surge_sim.whatif.compare import other_times
from surge_sim.whatif.design import alternative_of
from surge_sim.whatif.differences import MEASURES
from surge_sim.whatif.parts import Parts
from tests.conftest import ROOT

CHANGES = {
    "kit per shift": {"policy.kit": "held for a shift"},
    "kits": {"stock.kits": 40},
    "the same": {"stock.kits": 32},
}


@pytest.fixture(scope="module")
def compared(exposure):
    return surge_sim.compare(exposure, CHANGES, surges=12, processes=1)


def test_the_table_has_the_numbers_of_runs(exposure, compared):
    table = compared.table.set_index("alternative")
    assert list(table.index) == ["as it is", *CHANGES]
    for name in table.index:
        changed = exposure.changed(CHANGES.get(name, {"stock.kits": 32}))
        run = surge_sim.run(changed, surges=12, processes=1)
        row = table.loc[name]
        assert row["service_level"] == pytest.approx(run.service_level.estimate)
        assert row["share_on_target"] == pytest.approx(run.passes / 12)
        assert row["surges_on_target"] == run.passes
        assert row["hours_waited"] == pytest.approx(run.surges["hours_waited"].mean())
        assert row["urgent_late"] == pytest.approx(run.surges["urgent_late"].mean())
        assert row["worst_day_service_level"] == pytest.approx(
            run.surges["worst_day_service_level"].mean()
        )
        assert row["alarms_per_1000"] == pytest.approx(run.alarms_per_1000.estimate)


def test_differences_are_value_less_base(compared):
    told = compared.differences
    assert len(told) == 3 * len(MEASURES)
    assert np.allclose(told["difference"], told["value"] - told["base"], equal_nan=True)
    table = compared.table.set_index("alternative")
    for row in told.to_dict("records"):
        assert row["value"] == pytest.approx(table.loc[row["alternative"], row["measure"]])


def test_what_changes_nothing_is_said_and_widens_no_limit(exposure, compared):
    same = compared.differences[compared.differences["alternative"] == "the same"]
    assert (same["finding"] == "none").all()
    assert '"the same": the same as "as it is" in each of 12 surges.' in " ".join(
        str(compared).split()
    )
    without = dict(list(CHANGES.items())[:2])
    alone = surge_sim.compare(exposure, without, surges=12, processes=1)
    assert compared.found["kits"] == alone.found["kits"]


def test_what_changes_no_surge_makes_no_difference_though_it_is_written_otherwise(ward):
    changes = {"price": {"prices.kit": 7}, "no kits": {"stock.kits": 0}}
    compared = surge_sim.compare(ward, changes, surges=2, processes=1)
    assert compared.design.equal_to_base() == ()
    assert compared.same_on_every_surge == ("price",)
    said = " ".join(str(compared).split())
    assert '"price": the same as "as it is" in each of 2 surges.' in said


def test_every_column_has_its_meaning_and_unit(compared):
    tables = {
        "alternatives": compared.table,
        "differences": compared.differences,
        "outcomes": compared.by_surge,
    }
    for name, table in tables.items():
        for column in table.columns:
            assert meaning(f"tables/{name}", str(column)), (name, column)


def test_outcomes_are_those_of_each_surge(compared):
    table = compared.by_surge
    assert len(table) == 4 * 12
    hours = table.groupby("alternative", sort=False)["hours_waited"].mean()
    assert hours.to_numpy() == pytest.approx(compared.table["hours_waited"].to_numpy())


def test_it_shows_itself(compared):
    assert "Comparison of exposure_cluster with kit per shift" in repr(compared)
    # choices, and those that need permission
    assert len(compared.plot().axes) == 2
    page = compared._repr_html_()
    assert page.startswith("<div>")
    assert "&quot;the same&quot;: the same as" in page


def test_names_are_text_wherever_they_are_shown(ward):
    name = "<b>$x$</b> & more"
    compared = surge_sim.compare(ward, {name: {"stock.kits": 8}}, surges=2, processes=1)
    page = compared._repr_html_()
    assert "<b>" not in page
    assert "&lt;b&gt;$x$&lt;/b&gt; &amp; more" in page
    assert name in str(compared)


def test_a_longer_life_of_filters_is_no_choice():
    wave = load_scenario(ROOT / "scenarios" / "winter_wave.yaml")
    other = alternative_of(wave, "a", {"filters.he_filter_life": "9000 h"}).scenario
    assert other_times(wave.settings, other.settings) == ("life of filters",)


def test_another_time_of_cleaning_or_of_a_check_is_no_choice(exposure):
    for change, name in (
        ({"cleaning.drying_time": "5 min"}, "drying time"),
        ({"cleaning.contact_time": "1 min"}, "contact time"),
        ({"kit.pre_use_check": "30 s"}, "check before use"),
        ({"policy.wipe_between_visits": "1 min"}, "wipe-down between visits of a kit that is held"),
        ({"batteries.minimum_run_time": "30 min"}, "minimum run time at issue"),
        ({"charging.cool_down": "1 min"}, "time for a battery to cool"),
        ({"roles.nurse.don": "1 min"}, "time of a role to put on and to take off"),
        ({"rooms.clearance": "90 %"}, "time until a room is opened again"),
    ):
        other = alternative_of(exposure, "a", change).scenario
        assert other_times(exposure.settings, other.settings) == (name,)
    # from 10 min to 1 s, so that it would be told as the best choice
    compared = surge_sim.compare(
        exposure, {"dry at once": {"cleaning.drying_time": "1 s"}}, surges=20, processes=1
    )
    said = " ".join(str(compared).split())
    assert "saves" not in said
    assert 'Not a choice, but an assumption about the place: "dry at once"' in said
    assert "no check may be shortened or left out" in said


def test_another_target_or_time_is_noted(ward):
    changes = {"strict": {"target.wait": "1 min"}, "short": {"horizon": "2 d"}}
    notes = surge_sim.compare(ward, changes, surges=2, processes=1).notes
    assert any(note.startswith("strict: has another target: its shares in time") for note in notes)
    assert any(note.startswith("short: is another stretch of time") for note in notes)


def test_warnings_that_only_an_alternative_has_are_told_with_its_name(exposure):
    change = {"policy.maximum_wait": None, "stock.kits": 3}
    compared = surge_sim.compare(exposure, {"three": change}, surges=2, processes=1)
    assert any(note.startswith("three: ") and "maximum_wait" in note for note in compared.notes)


def test_a_recorded_period_has_no_limits_and_no_findings():
    log = load_scenario(ROOT / "tests" / "approved" / "recorded_log.yaml")
    compared = surge_sim.compare(log, {"kits": {"stock.kits": 20}}, surges=10, processes=1)
    assert compared.replay is not None
    assert compared.differences[["low", "high"]].isna().all(axis=None)
    assert set(compared.differences["finding"]) == {""}
    assert "*" not in str(compared)
    assert "95 %" not in str(compared).replace("95 % of", "")
    compared.plot()


def test_it_goes_on_from_parts(exposure, compared, tmp_path):
    surge_sim.compare(exposure, CHANGES, surges=10, processes=1, parts=Parts(tmp_path))
    told = []
    again = surge_sim.compare(
        exposure, CHANGES, surges=12, processes=1, parts=Parts(tmp_path), progress=told.append
    )
    # of three different ones, the first 10 surges were there, and the block of the others is new
    assert told[0] == 30
    assert again.differences.equals(compared.differences)


def test_at_least_one_surge_is_needed(ward):
    with pytest.raises(ValueError, match="surges is 0: it must be 1 or more"):
        surge_sim.compare(ward, {"a": {"stock.kits": 8}}, surges=0)


def test_a_choice_that_adds_waiting_is_told(ward):
    """Fewer kits than before, by a slip."""
    changes = {"few": {"stock.kits": 2}, "fewer": {"stock.kits": 1}, "more": {"stock.kits": 9}}
    compared = surge_sim.compare(ward, changes, surges=40, processes=1)
    hours = compared.differences.set_index(["alternative", "measure"])["difference"]
    most = hours["fewer", "hours_waited"]
    assert most > hours["few", "hours_waited"] > 0
    said = " ".join(str(compared).split())
    [found] = [one for one in compared.found["fewer"] if one.measure.name == "hours_waited"]
    assert f'"few" and "fewer" add up to {hours_words(found)} h of waiting.' in said
    assert '"more" adds' not in said
