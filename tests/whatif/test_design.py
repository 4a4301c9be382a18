"""What an alternative is: changed like a file, known by what decides its numbers."""

from __future__ import annotations

import pytest

from surge_sim import ScenarioError
from surge_sim.equipment.stock import Stock
from surge_sim.whatif.design import Alternative, alternative_of, design_of


def test_a_change_is_checked_and_recorded_like_a_file(exposure):
    one = alternative_of(exposure, "more cleaners", {"cleaning.crew.0.cleaners": 5})
    assert one.scenario.settings.cleaning.crew[0].cleaners == 5
    assert "cleaners: 5" in one.scenario.full_form()
    assert one.changes == (("cleaning.crew.0.cleaners", 5),)


def test_one_more_entry_of_a_list_keeps_those_that_are_there(exposure):
    outage = {"what": "power outage", "at": "2 d", "lasts": "12 h"}
    once = alternative_of(exposure, "dark", {"timeline.+": outage})
    assert [one.what for one in once.scenario.settings.timeline] == ["power outage"]
    again = alternative_of(once.scenario, "darker", {"timeline.+": {**outage, "at": "3 d"}})
    assert [one.at for one in again.scenario.settings.timeline] == [172_800, 259_200]
    shift = {"start": "00:00", "end": "05:00", "cleaners": 1}
    night = alternative_of(exposure, "night", {"cleaning.crew.+": shift})
    assert [one.cleaners for one in night.scenario.settings.cleaning.crew] == [3, 3, 1]


def test_a_fault_names_the_alternative_and_the_nearest_key(exposure):
    with pytest.raises(ScenarioError, match=r"alternative 'odd': polcy(.|\n)*`policy`"):
        alternative_of(exposure, "odd", {"polcy.kit": "held for a shift"})


def test_the_key_is_that_of_the_numbers_and_not_of_the_name(exposure):
    base = Alternative("a", exposure)
    assert base.key == Alternative("b", exposure).key
    assert base.key == alternative_of(exposure, "same", {"policy.kit": "per entry"}).key
    assert base.key != alternative_of(exposure, "a", {"policy.kit": "held for a shift"}).key
    assert base.key != Alternative("a", exposure, stock=Stock(40, 40, 16)).key
    one = exposure.ranges[0]
    held = Alternative("a", exposure, held=((one, one.high),))
    assert base.key != held.key != Alternative("a", exposure, held=((one, one.low),)).key


def test_plays_are_kept_apart_by_seed_and_engine(exposure):
    one = Alternative("a", exposure)
    designs = [
        design_of(exposure, [one], seed, engine)
        for seed, engine in ((1, "compiled"), (2, "compiled"), (1, "reference"))
    ]
    assert len({design.key_of(one) for design in designs}) == 3


def test_an_alternative_that_changes_nothing_is_known_for_it(exposure):
    same = alternative_of(exposure, "same", {"policy.kit": "per entry"})
    other = alternative_of(exposure, "other", {"stock.kits": 33})
    assert design_of(exposure, [same, other]).equal_to_base() == (same,)


@pytest.mark.parametrize(
    ("names", "said"),
    [
        (["twice", "twice"], "'twice' is there twice"),
        (["as it is"], "what the scenario itself is called"),
        ([" "], "cannot be used"),
        (["x" * 61], "cannot be used"),
        ([], "there are 0 alternatives"),
    ],
)
def test_names_that_cannot_be_told_apart_are_refused(exposure, names, said):
    with pytest.raises(ScenarioError, match=said):
        design_of(exposure, [Alternative(name, exposure) for name in names])


def test_an_input_that_is_held_has_its_value_in_every_surge(exposure):
    one = next(one for one in exposure.ranges if one.name == "batteries.charge_time")
    held = Alternative("slow", exposure, held=((one, one.high),))
    plain = Alternative("plain", exposure)
    for surge in range(3):
        mine, his = held.settings_for(1, surge), plain.settings_for(1, surge)
        assert mine.batteries.charge_time == 6 * 3_600 != his.batteries.charge_time
        # all others are drawn as ever
        assert mine.rooms == his.rooms
        assert mine.classes == his.classes
