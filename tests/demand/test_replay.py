"""What is drawn anew for each play of a log is named, and nothing else is."""

from dataclasses import fields

import numpy as np
import pytest

from surge_sim import situation_of, stock_in_hand
from surge_sim.demand.replay import replay_of
from surge_sim.units import DAY_S
from tests.demand.ward import scenario

VARIED = {"shape": "lognormal", "mean": "4 min", "cv": "80 %"}
LIVES = {"shape": "gamma", "mean": "40 h", "cv": "50 %"}
FILTERS = {
    "prefilter_life": "30 h", "he_filter_life": "60 h", "prefilter_change": "2 min",
    "he_filter_turnaround": "4 h", "at_start": "new",
}  # fmt: skip
CREW = [{"start": "07:00", "end": "19:00", "cleaners": 1}]
CENTRAL = {"by": "central", "rounds": ["12:00"], "turnaround": "1 h"}
RANGE = {"low": "2 h", "high": "4 h"}


@pytest.fixture
def logged(tmp_path):
    """The test ward with a log of 60 entries of nurses, and with changes."""
    rows = "".join(f"{10 * place},5,nurse\n" for place in range(60))
    (tmp_path / "log.csv").write_text("requested,room_minutes,role\n" + rows)
    (tmp_path / "times.csv").write_text("minutes\n5\n5\n")

    def made(**changes):
        entries = {"from": "log.csv"}
        return scenario(tmp_path, entries=entries, **{"arrivals": None, "classes": None} | changes)

    return made


def all_draws(scenario, play):
    """Everything that one play has of its own: settings, columns of the needs, work."""
    case = situation_of(scenario, stock_in_hand(scenario.settings), seed=1, surge=play)
    trace, settings = case.demand, scenario.settings_for(1, surge=play)
    # marks are drawn, but tell nothing as long as no share of entries is concerned, and no rule
    # asks for any of some batteries that differ
    any_usable = (
        settings.batteries.issued == "any usable" and settings.charging.partial_charge_at_reissue
    )
    columns = [
        getattr(trace, one.name) for one in fields(trace) if one.name != "mark" or any_usable
    ]
    arrays = [one for one in columns if isinstance(one, np.ndarray)]
    work = case.unit.draws(90, 64, 3, 64)
    if not case.start.filters_part_worn:
        none = np.zeros(0)
        work = work._replace(prefilter_used_s=none, he_used_s=none)
    failed = case.unit.bay_failures(20, 365 * DAY_S)
    return settings, [one.tolist() for one in (*arrays, *work, failed)]


@pytest.mark.parametrize(
    ("changes", "drawn"),
    [
        ({}, ()),
        ({"kit": {"don": VARIED}}, ("times to put on",)),
        ({"roles": {"nurse": {"doff": VARIED}}}, ("times to take off",)),
        # the log's nurses have times of their own, so nobody takes the kit's
        ({"kit": {"don": VARIED}, "roles": {"nurse": {"don": "2 min"}}}, ()),
        # nobody of the log is a porter
        ({"roles": {"porter": {"room_time": "1 min", "don": VARIED}}}, ()),
        # the log holds the room times
        ({"roles": {"nurse": {"room_time": VARIED}}}, ()),
        ({"cleaning": {"wipe_down": VARIED}}, ("wipe-down times",)),
        ({"cleaning": {"by": "crew", "crew": CREW, "wipe_down": VARIED}}, ("wipe-down times",)),
        # two measured times that are the same
        ({"cleaning": {"wipe_down": {"file": "times.csv", "unit": "min"}}}, ()),
        ({"cleaning": {**CENTRAL, "wipe_down": "5 min"}}, ()),
        ({"filters": FILTERS}, ()),
        ({"filters": {**FILTERS, "he_filter_life": LIVES}}, ("filter lives",)),
        ({"filters": {**FILTERS, "at_start": "part worn"}}, ("wear of the filters at the start",)),
        ({"failures": {"blower_run_between_failures": "50 h", "repair_time": "8 h"}},
         ("blower failures",)),
        ({"failures": {"blower_run_between_failures": "50 h", "repair_time": LIVES}},
         ("blower failures", "repair times")),
        ({"failures": {"battery_run_between_failures": "50 h", "battery_replacement_time": LIVES}},
         ("battery failures", "times to replace batteries")),
        ({"failures": {"charger_time_between_failures": "50 d", "charger_repair_time": "8 h"}},
         ("charger failures",)),
        ({"batteries": {"issued": "any usable"}, "charging": {"partial_charge_at_reissue": True}},
         ("which usable battery is issued",)),
        ({"batteries": {"issued": "any usable"}, "charging": {"partial_charge_at_reissue": False}},
         ()),
        ({"failures": {"hood_damage": "20 %", "tube_damage": "30 %"}},
         ("damage to hoods", "damage to tubes")),
        ({"failures": {"hood_damage": "100 %"}}, ()),
        ({"kit": {"large_hood_share": "30 %"}}, ("which wearers need a large hood",)),
        ({"kit": {"large_hood_share": "100 %"}}, ()),
        ({"batteries": {"charge_time": RANGE}}, ("uncertain inputs (batteries.charge_time)",)),
        ({"kit": {"don": VARIED}, "cleaning": {"wipe_down": VARIED}},
         ("times to put on", "wipe-down times")),
        ({"timeline": [{"what": "care bundled", "dropped": "40 %", "at": "1 h"}]},
         ("which entries are made within others or postponed",)),
        ({"timeline": [{"what": "routine entries postponed", "by": "2 h", "at": "1 h"}]}, ()),
    ],
)  # fmt: skip
def test_what_is_named_is_what_differs_between_two_plays(logged, changes, drawn):
    log = logged(**changes)
    replay = replay_of(log)
    assert replay.drawn == drawn
    first, second = all_draws(log, 0), all_draws(log, 1)
    assert (first != second) == bool(drawn)


def test_a_range_of_what_a_log_leaves_unused_is_not_named(logged):
    """The range of the room time is drawn, but a log holds its own room times."""
    log = logged(roles={"nurse": {"room_time": {"low": "2 min", "high": "9 min"}}})
    assert replay_of(log).drawn == ()
    assert all_draws(log, 0)[1] == all_draws(log, 1)[1]


def test_one_play_suffices_where_nothing_is_drawn(logged):
    assert replay_of(logged()).plays(200) == 1
    assert replay_of(logged(kit={"don": VARIED})).plays(200) == 200


def test_drawn_demand_is_no_replay():
    assert replay_of(scenario()) is None
