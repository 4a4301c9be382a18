"""What alternatives have in common is read once a surge, and is what reading it alone gives."""

from __future__ import annotations

import pytest

from surge_sim.demand.plan import drawn_from
from surge_sim.whatif.design import Alternative, alternative_of, base_of
from surge_sim.whatif.setup import SetupsInSurge, SharedSetups

CHANGES = {
    "policy": {"policy.kit": "held for a shift"},
    "stock": {"stock.kits": 40},
    "same section": {"batteries.minimum_run_time": "1 h"},
    "another range": {"batteries.charge_time": {"low": "3 h", "high": "8 h"}},
    "no range": {"batteries.charge_time": "5 h"},
    "classes": {"classes.exposed.share": "50 %", "classes.very ill.share": "50 %"},
    "one range more": {"kit.doff.mean": {"low": "5 min", "high": "9 min"}},
    "timeline": {"timeline.+": {"what": "power outage", "at": "1 d", "lasts": "2 h"}},
}


def setups(base, surge=2, seed=5):
    return SetupsInSurge(SharedSetups(base, seed), surge)


@pytest.mark.parametrize("name", CHANGES)
def test_an_alternative_has_the_settings_that_it_has_alone(exposure, name):
    one = alternative_of(exposure, name, CHANGES[name])
    found = setups(base_of(exposure)).of(one)
    wanted = one.settings_for(5, 2)
    assert found.conditions.settings == wanted
    assert found.drawn_from == drawn_from(wanted)


def test_a_whole_scenario_without_ranges_is_no_base_for_one_with_some(exposure, ward):
    assert setups(base_of(ward)).of(base_of(exposure)).conditions.settings == base_of(
        exposure
    ).settings_for(5, 2)
    assert setups(base_of(exposure)).of(base_of(ward)).conditions.settings is ward.settings


def test_inputs_that_are_held_or_of_a_second_sample_are_not_taken_from_the_base(exposure):
    least = next(one for one in exposure.ranges if one.name == "batteries.charge_time")
    held = Alternative("held", exposure, held=((least, least.high),))
    second = Alternative("second", exposure, second=(least.name,))
    there = setups(base_of(exposure))
    base = there.base.conditions.settings
    for one in (held, second):
        found = there.of(one).conditions.settings
        assert found == one.settings_for(5, 2)
        assert found.batteries.charge_time != base.batteries.charge_time
        # what it shares is not read again
        assert found.kit is base.kit
        assert found.rooms is base.rooms


def test_sections_that_are_alike_are_read_once(exposure):
    there = setups(base_of(exposure))
    base = there.base.conditions.settings
    for name, other in (("policy", ()), ("same section", ("batteries",)), ("timeline", ())):
        found = there.of(alternative_of(exposure, name, CHANGES[name])).conditions.settings
        for section in ("kit", "batteries", "rooms"):
            alike = getattr(found, section) is getattr(base, section)
            assert alike == (section not in other), (name, section)
        # named values are put together anew, and not read again
        assert found.roles["nurse"] is base.roles["nurse"]
        assert found.classes["exposed"] is base.classes["exposed"]
