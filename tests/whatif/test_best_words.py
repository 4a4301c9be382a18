"""The sentences of a comparison where hours of waiting show nothing."""

from __future__ import annotations

from surge_sim import compare, load_scenario
from surge_sim.report.comparison import _best
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
    assert said.endswith('"kit per shift" is shown to be better in another measure.')
