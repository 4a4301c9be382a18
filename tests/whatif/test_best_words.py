"""The sentences of a comparison: what is better, and on what condition."""

from __future__ import annotations

import re

import pytest

from surge_sim import compare, load_scenario, run
from surge_sim.report.comparison import _best, answer_words, comparison_answer
from surge_sim.report.comparison_folder import comparison_figure
from surge_sim.report.comparison_tables import short_table
from surge_sim.report.rounding import interval_numbers
from surge_sim.report.sizing_words import money
from surge_sim.report.terminal import render
from tests.conftest import ROOT

FILE = ROOT / "scenarios" / "rule_out_unit.yaml"


def test_what_is_better_in_another_measure_is_told_where_no_hours_are():
    """Hours vary so much that a few surges cannot show them, when shares of entries are shown."""
    crowd = {"kit per shift": {"policy.kit": "held for a shift"}}
    for surges in range(4, 40, 2):
        found = compare(load_scenario(FILE), crowd, surges=surges, processes=1)
        findings = {one.measure.name: one.finding for one in found.found["kit per shift"]}
        if "better" in findings.values() and findings["hours_waited"] != "better":
            break
    said = " ".join(_best(found, found.others))
    assert said.endswith(CONDITION)


CONDITION = (
    "Where manufacturer's instructions, respiratory protection program and local codes allow it, "
    '"kit per shift" would be better in another measure: '
    "the wearer keeps the kit, only wiped for 2 min between visits; "
    "contact and drying time follow only after the shift."
)
#: what a reader could take for a gift or for the winner
GIFTS = ("saves most", "nothing to buy", "free", '"kit per shift" saves', '"full or not" saves')
RELAXED = {
    "kit per shift": {"policy.kit": "held for a shift"},
    "full or not": {"charging.partial_charge_at_reissue": "yes"},
    # a purchase together with a rule is no purchase alone
    "both": {"stock.kits": 12, "charging.partial_charge_at_reissue": "yes"},
}


def told(alternatives, short, surges=40):
    found = compare(load_scenario(FILE), alternatives, surges=surges, processes=1)
    return answer_words(found, short), found


@pytest.mark.parametrize("short", [False, True])
def test_no_sentence_names_a_rule_that_needs_permission_without_its_condition(short):
    said, found = told({**RELAXED, "stock": {"stock.kits": 16, "stock.batteries": 40}}, short)
    assert not [gift for gift in GIFTS if gift in said]
    # the purchase comes first, though a rule saves as much
    assert said.startswith('"stock" for ')
    named = [one for one in RELAXED if f'"{one}"' in said]
    assert named
    before, where, behind = said.partition("Where manufacturer's instructions, ")
    assert where
    for one in named:
        assert f'"{one}"' not in before
        assert found.relaxes[one] in behind.partition(f'"{one}"')[2]


def test_rules_alone_are_told_with_their_condition():
    said, _ = told({"kit per shift": RELAXED["kit per shift"]}, True)
    assert said.startswith("Where manufacturer's instructions, respiratory protection program and ")
    assert re.search(
        r'"kit per shift" would save \S+ of \S+ h of waiting per surge: the wearer', said
    )


def test_where_no_purchase_is_shown_to_save_hours_that_comes_first():
    said, _ = told({**RELAXED, "fewer": {"stock.kits": 6}}, True)
    start = '"fewer" is not shown to save hours of waiting. Where manufacturer'
    assert said.startswith(start)


def test_each_row_of_such_a_rule_is_marked():
    _, found = told({**RELAXED, "more": {"stock.batteries": 30}}, True, surges=8)
    names = [row[0] for row in short_table(found).rows]
    assert names[:2] == ["as it is", "more"]
    assert sorted(names[2:]) == sorted(f"if allowed: {name}" for name in found.relaxes)
    assert set(found.relaxes) == set(RELAXED)
    page = render(comparison_answer(found, full=False))
    for relaxed in found.relaxes.values():
        # a row is broken into lines of its own column
        assert relaxed in " ".join(page.split())
    whole = " ".join(render(comparison_answer(found)).split())
    assert "Each of these needs permission" in whole
    titles = [ax.get_title(loc="left") for ax in comparison_figure(found).axes]
    assert titles[1].startswith("If allowed by instructions")


def test_a_reserve_is_told_with_what_it_is_for(exposure):
    reserve = {"reserve": {"policy.reserved_for_urgent": 8}}
    found = compare(exposure, reserve, surges=60, processes=1)
    findings = {one.measure.name: one for one in found.found["reserve"]}
    assert findings["hours_waited"].finding == "worse"
    assert findings["urgent_late"].finding == "better"
    said = answer_words(found)
    assert 'With "reserve" late urgent entries go from ' in said
    heads = [column.header for column in short_table(found).columns]
    assert "Urgent late" in heads and "Price" in heads and "To add" not in heads


def test_a_price_is_written_with_the_digits_that_mean_something():
    amounts = (289.4736842, 1_040.0, 12_345.67, 0.5)
    assert [money(one) for one in amounts] == ["289.47", "1,040", "12,346", "0.5"]


def test_hours_and_late_entries_have_the_digits_of_a_run(exposure):
    """The surges are the same, so one stock has one number."""
    played = run(exposure, surges=40, seed=3, processes=1)
    found = compare(exposure, {"more": {"stock.kits": 40}}, surges=40, seed=3, processes=1)
    [hours] = [row for row in short_table(found).rows if row[0] == "as it is"]
    assert hours[3] == interval_numbers(played.per_surge("hours_waited"))[0]
    assert found.table["surges_on_target"][0] == played.passes
