"""Alternatives as they are written; faults with their place."""

from __future__ import annotations

import pytest

from surge_sim import ScenarioError
from surge_sim.whatif.asked import alternative_from_text, alternatives_from_file, whole_scenarios
from tests.conftest import ROOT


def test_an_option_names_settings_by_dotted_name(exposure):
    one = alternative_from_text(exposure, " kit per shift : policy.kit=held for a shift ")
    assert one.name == "kit per shift"
    assert one.scenario.settings.policy.kit == "held for a shift"


def test_a_name_may_hold_a_colon_and_needs_no_space_behind_its_last(exposure):
    for text, name in (("from 18:00: stock.kits=40", "from 18:00"), ("a:stock.kits=40", "a")):
        one = alternative_from_text(exposure, text)
        assert (one.name, one.in_hand.kits) == (name, 40)


def test_an_option_may_hold_several_changes_and_entries_of_a_list(exposure):
    text = "dark: timeline.+={what: power outage, at: day 2, 18:00, lasts: 12 h}; stock.kits=40"
    one = alternative_from_text(exposure, text)
    assert [change.at for change in one.scenario.settings.timeline] == [42 * 3_600]
    assert one.in_hand.kits == 40
    quoted = alternative_from_text(exposure, "a: title='x; y'; stock.kits=40")
    assert quoted.scenario.settings.title == "x; y"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("policy.kit=held for a shift", "has no name with a colon"),
        ("a: policy.kit", "has no name with a colon behind it, and a setting"),
        ("a: policy.kit=x; policy", "'policy' is no setting with a value"),
        ("a: stock.kits=40; stock.kits=41", "stock.kits is there twice"),
        ("a: polcy.kit=x", "Did you mean `policy`"),
        ("a: stock.kits={b", "a comma or '}' is missing"),
        ("a: stock.kits=many", "stock.kits"),
        ("a: cleaning.crew.7.cleaners=3", "It has 2 entries, counted from 0"),
    ],
)
def test_a_fault_of_an_option_shows_its_text(exposure, text, said):
    with pytest.raises(ScenarioError) as error:
        alternative_from_text(exposure, text)
    assert said in str(error.value)
    assert str(error.value).startswith(f"--with '{text}': ")


GOOD = """\
alternatives:
  kit per shift: {policy.kit: held for a shift}
  dark:
    assumes: the generator fails, too
    timeline.+: {what: power outage, at: 1 d, lasts: 12 h}
  other ward: {scenario: other.yaml}
"""


def test_a_file_holds_named_changes_and_whole_scenarios(exposure, tmp_path):
    (tmp_path / "a.yaml").write_text(GOOD, encoding="utf-8")
    other = (ROOT / "scenarios" / "rule_out_unit.yaml").read_bytes()
    (tmp_path / "other.yaml").write_bytes(other)
    held, dark, ward = alternatives_from_file(exposure, tmp_path / "a.yaml")
    assert held.scenario.settings.policy.kit == "held for a shift"
    assert dark.assumes == "the generator fails, too"
    assert dark.scenario.settings.timeline[0].what == "power outage"
    assert ward.scenario.name == "other"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("a: {stock.kits: 3}\n", "a.yaml:1: is no list of named alternatives"),
        ("alternatives:\n  a:\n    stock.kit: 3\n", "a.yaml:3: stock.kit is not known"),
        ("alternatives:\n  a: {stock.kits: 3}\n  a: {stock.kits: 4}\n", "is there twice"),
        ("alternatives:\n  a: 3\n", "a.yaml:2: alternatives.a has no setting with a value"),
        ("alternatives:\n  a: {scenario: b.yaml, stock.kits: 3}\n", "a scenario and more"),
        ("alternatives:\n  a: {scenario: nowhere.yaml}\n", "cannot be read"),
        ("alternatives:\n\ta: 3\n", "a.yaml:2: the line begins with a tab"),
    ],
)
def test_a_fault_of_a_file_has_its_line(exposure, tmp_path, text, said):
    path = tmp_path / "a.yaml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ScenarioError) as error:
        alternatives_from_file(exposure, path)
    assert said in str(error.value)


def test_all_faults_of_a_file_come_at_once(exposure, tmp_path):
    path = tmp_path / "a.yaml"
    path.write_text("alternatives:\n  a: {stock.kit: 3}\n  b: {polcy.kit: 3}\n", encoding="utf-8")
    with pytest.raises(ScenarioError) as error:
        alternatives_from_file(exposure, path)
    assert [fault.line for fault in error.value.faults] == [2, 3]


def test_a_missing_file_is_told(exposure, tmp_path):
    with pytest.raises(ScenarioError, match="cannot be read"):
        alternatives_from_file(exposure, tmp_path / "none.yaml")


def test_whole_scenarios_are_named_after_their_files(tmp_path):
    data = (ROOT / "scenarios" / "rule_out_unit.yaml").read_bytes()
    for folder in ("a", "b"):
        (tmp_path / folder).mkdir()
        (tmp_path / folder / "unit.yaml").write_bytes(data)
    first, second = (tmp_path / folder / "unit.yaml" for folder in ("a", "b"))
    assert [one.name for one in whole_scenarios([first])] == ["unit"]
    assert [one.name for one in whole_scenarios([first, second])] == [str(first), str(second)]


def test_a_number_with_a_sign_is_asked_about(exposure, tmp_path):
    """Four more would be read as four."""
    with pytest.raises(ScenarioError, match=r"stock\.kits(.|\n)*in all"):
        alternative_from_text(exposure, "more: stock.kits=+4")
    file = tmp_path / "a.yaml"
    file.write_text("alternatives:\n  more: {stock.kits: +4}\n", encoding="utf-8")
    with pytest.raises(ScenarioError, match=r"a\.yaml:2: stock\.kits(.|\n)*in all"):
        alternatives_from_file(exposure, file)
