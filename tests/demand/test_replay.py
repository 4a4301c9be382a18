"""What is drawn anew for each play of a log is named, and nothing else is."""

from dataclasses import fields

import numpy as np
import pytest

from surge_sim import situation_of, stock_in_hand
from surge_sim.demand.replay import replay_of, used_ranges
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
        ({"filters": {**FILTERS, "prefilter_life": LIVES}}, ("filter lives",)),
        ({"filters": {**FILTERS, "at_start": "part worn"}}, ("wear of the filters at the start",)),
        ({"failures": {"blower_run_between_failures": "50 h", "repair_time": "8 h"}},
         ("blower failures",)),
        ({"failures": {"blower_run_between_failures": "50 h"}}, ("blower failures",)),
        ({"failures": {"blower_run_between_failures": "50 h", "repair_time": LIVES}},
         ("blower failures", "repair times")),
        ({"failures": {"battery_run_between_failures": "50 h", "battery_replacement_time": LIVES}},
         ("battery failures", "times to replace batteries")),
        ({"failures": {"charger_time_between_failures": "50 d", "charger_repair_time": "8 h"}},
         ("charger failures",)),
        ({"batteries": {"issued": "any usable"}, "charging": {"partial_charge_at_reissue": True}},
         ("the choice of the battery that is issued",)),
        ({"batteries": {"issued": "any usable"}, "charging": {"partial_charge_at_reissue": False}},
         ()),
        ({"failures": {"hood_damage": "20 %", "tube_damage": "30 %"}},
         ("damage to hoods", "damage to tubes")),
        ({"failures": {"hood_damage": "100 %", "tube_damage": "100 %"}}, ()),
        ({"kit": {"large_hood_share": "30 %"}}, ("the wearers who need a large hood",)),
        ({"kit": {"large_hood_share": "100 %"}}, ()),
        ({"batteries": {"charge_time": RANGE}}, ("uncertain inputs (batteries.charge_time)",)),
        ({"kit": {"don": VARIED}, "cleaning": {"wipe_down": VARIED}},
         ("times to put on", "wipe-down times")),
        ({"timeline": [{"what": "care bundled", "dropped": "40 %", "at": "1 h"}]},
         ("the choice of entries that are bundled or postponed",)),
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


def test_where_kits_are_wiped_elsewhere_their_wipe_down_times_are_not_named(logged):
    assert replay_of(logged(cleaning={**CENTRAL, "wipe_down": VARIED})).drawn == ()


TWO_ROLES = "requested,room_minutes,role\n0,5,nurse\n10,5,aide\n"


@pytest.mark.parametrize("role", ["nurse", "aide"])
def test_times_of_one_of_two_roles_are_named(tmp_path, role):
    (tmp_path / "log.csv").write_text(TWO_ROLES)
    roles = {"nurse": {"room_time": "6 min"}, "aide": {"room_time": "6 min"}}
    roles[role] |= {"don": VARIED, "doff": dict(VARIED)}
    log = scenario(tmp_path, entries={"from": "log.csv"}, arrivals=None, classes=None, roles=roles)
    assert replay_of(log).drawn == ("times to put on", "times to take off")


def test_a_replay_says_which_log_it_plays_and_whether_that_holds_waits(tmp_path):
    with_waits = "requested,room_minutes,role,wait_minutes\n0,5,nurse,3\n10,5,aide,\n"
    for text, waits in ((TWO_ROLES, False), (with_waits, True)):
        (tmp_path / "log.csv").write_text(text)
        log = scenario(tmp_path, entries={"from": "log.csv"}, arrivals=None, classes=None)
        replay = replay_of(log)
        assert (replay.file, replay.waits, replay.alike) == ("log.csv", waits, True)


SHARES = {"low": "20 %", "high": "60 %"}
TIMES = {"low": "2 min", "high": "4 min"}


def test_of_uncertain_inputs_a_log_depends_on_those_whose_place_it_does_not_take(tmp_path):
    """It holds room times, and what sections of patients and rooms would give; it has no porter."""
    (tmp_path / "log.csv").write_text(TWO_ROLES)
    ranges = {
        "policy": {
            "maximum_wait": {"low": "20 min", "high": "40 min"},
            "bundled_care": {"entries": SHARES, "room_time": "110 %"},
        },
        "kit": {"don": TIMES},
        "roles": {
            "nurse": {"room_time": TIMES, "don": TIMES, "doff": TIMES, "maximum_wait": TIMES},
            "porter": {"room_time": "5 min", "don": TIMES},
        },
    }
    drawn = scenario(**ranges)
    assert len(used_ranges(drawn)) == len(drawn.ranges) == 8
    log = scenario(
        tmp_path, entries={"from": "log.csv"}, arrivals=None,
        classes={"ward": {"length_of_isolation": {"low": "1 d", "high": "4 d"}}},
        rooms={"count": 3, "air_changes": {"low": "6 per h", "high": "12 per h"}}, **ranges,
    )  # fmt: skip
    assert len(log.ranges) == 10
    assert {one.name for one in used_ranges(log)} == {
        "policy.maximum_wait", "kit.don", "roles.nurse.don", "roles.nurse.doff",
        "roles.nurse.maximum_wait",
    }  # fmt: skip
