"""The warning that a line grows without end: more things are busy on average than there are."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from surge_sim.equipment.average_load import all_warnings, missing_maximum_wait
from surge_sim.scenario.load import Scenario
from tests.demand.ward import scenario, settings
from tests.equipment.test_average_load import TEN_PATIENTS

PATIENCE = {"room_time": "6 min", "maximum_wait": "30 min"}
BOTH_ENTER = {"classes": {"ward": {"entries": {"nurse": "20 per day", "aide": "5 per day"}}}}
EVENTS = {"per_patient": "24 per day", "team": 1, "role": "nurse"}
CLEANED = {
    "count": 9,
    "air_changes": "6 per h",
    "terminal_clean": {"role": "aide", "when": "with a kit", "room_time": "20 min"},
}


@pytest.mark.parametrize(
    ("changes", "without_end"),
    [
        ({}, True),
        ({"policy": {"maximum_wait": "45 min"}}, False),
        ({"policy": {"maximum_wait": "0 min"}}, False),
        ({"roles": {"nurse": PATIENCE}}, False),
        ({"roles": {"nurse": PATIENCE, "aide": {"room_time": "6 min"}}, **BOTH_ENTER}, True),
        # who never enters, or never in a kit, or in urgent entries only
        ({"roles": {"nurse": PATIENCE, "aide": {"room_time": "6 min"}}}, False),
        (
            {
                "roles": {"nurse": PATIENCE, "aide": {"room_time": "6 min", "kit_share": "0 %"}},
                **BOTH_ENTER,
            },
            False,
        ),
        # the cleaner of the room has no maximum wait
        ({"roles": {"nurse": PATIENCE, "aide": {"room_time": "6 min"}}, "rooms": CLEANED}, True),
        ({"roles": {"nurse": PATIENCE, "aide": dict(PATIENCE)}}, False),
        ({"policy": {"urgent_maximum_wait": "5 min"}}, True),
    ],
)
def test_whether_routine_entries_of_some_role_wait_without_end(
    changes: dict[str, Any], without_end: bool
) -> None:
    assert missing_maximum_wait(settings(**changes)) == "maximum_wait" * without_end


def test_where_all_entries_are_urgent_their_maximum_wait_is_missing() -> None:
    urgent = {"classes": {"ward": {"entries": {"nurse": "0 per day"}, "urgent": EVENTS}}}
    assert missing_maximum_wait(settings(**urgent)) == "urgent_maximum_wait"
    policy = {"policy": {"urgent_maximum_wait": "5 min"}}
    assert missing_maximum_wait(settings(**urgent, **policy)) == ""


def test_a_log_whose_roles_are_not_described_waits_without_end(tmp_path: Path) -> None:
    (tmp_path / "log.csv").write_text("requested,room_minutes,role\n5,6,nurse\n")
    log = scenario(tmp_path, entries={"from": "log.csv"}, arrivals=None, classes=None, roles=None)
    assert missing_maximum_wait(log.settings) == "maximum_wait"


def test_a_log_of_urgent_entries_waits_by_the_urgent_maximum_wait(tmp_path: Path) -> None:
    for urgent, missing in (("yes", "urgent_maximum_wait"), ("no", "maximum_wait")):
        text = f"requested,room_minutes,role,urgent\n5,6,nurse,yes\n9,6,nurse,{urgent}\n"
        (tmp_path / "log.csv").write_text(text)
        log = scenario(
            tmp_path, entries={"from": "log.csv"}, arrivals=None, classes=None, roles=None
        )
        assert missing_maximum_wait(log.settings) == missing


def ward(kits: int = 9, batteries: int = 9, **changes: Any) -> Scenario:
    """Ten entries an hour, each of which binds a kit for 17 min: 2.83 kits.

    A battery is in a kit for 12 min, and in a bay for 11 / 480 / 0.2 x 0.4 x 180 = 8.25 min: 2
    batteries are in kits, 1.375 in bays.
    """
    changes |= TEN_PATIENTS
    changes["stock"] = {"kits": kits, "batteries": batteries, "bays": 3}
    changes["batteries"] = {"end_of_charge": "straight", "issued": "fullest"}
    loaded: Scenario = scenario(**changes)
    return loaded


#: only full batteries are handed out
ONLY_FULL = {"charging": {"partial_charge_at_reissue": "no"}}


def on_loan(what: str, at: str = "0 d") -> dict[str, Any]:
    """One kit, or battery, on loan for a day."""
    return {"timeline": [{"what": f"{what} on loan", what: 1, "at": at, "lasts": "1 d"}]}


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({}, ""),
        ({"kits": 3}, ""),
        ({"kits": 2}, "2.8 kits are busy on average with 2 in stock"),
        # one that charges may be taken out of its bay
        ({"batteries": 3}, ""),
        ({"batteries": 1}, "2.0 batteries are busy on average with 1 in stock"),
        ({"batteries": 4, **ONLY_FULL}, ""),
        ({"batteries": 3, **ONLY_FULL}, "3.4 batteries are busy on average with 3 in stock"),
        # of both kits are told first, and alone
        ({"kits": 1, "batteries": 1}, "2.8 kits are busy on average with 1 in stock"),
        # with none of them nobody is ever served: another warning says so
        ({"kits": 0}, ""),
        ({"batteries": 0}, ""),
        ({"kits": 2, "policy": {"maximum_wait": "45 min"}}, ""),
        # what is on loan on the peak day, the first one, counts, with a battery for each kit
        ({"kits": 2, **on_loan("kits")}, ""),
        (
            {"kits": 1, **on_loan("kits")},
            "2.8 kits are busy on average with 1 in stock and 1 on loan",
        ),
        ({"kits": 2, **on_loan("kits", at="2 d")}, "2.8 kits are busy on average with 2 in stock"),
        ({"batteries": 1, **on_loan("kits")}, ""),
        ({"batteries": 1, **on_loan("batteries")}, ""),
        (
            {"batteries": 2, **ONLY_FULL, **on_loan("batteries")},
            "3.4 batteries are busy on average with 2 in stock and 1 on loan",
        ),
        ({"kits": 2, "roles": {"nurse": PATIENCE}}, ""),
    ],
)
def test_a_line_that_grows_all_day_is_told_behind_the_other_warnings(
    given: dict[str, Any], said: str
) -> None:
    one = ward(**given)
    found = all_warnings(one)
    if not said:
        assert found == one.warnings
    else:
        assert found[:-1] == one.warnings
        assert f"policy.maximum_wait is not set, and on the peak day {said}: " in found[-1]


def test_what_is_warned_of_is_the_stock_that_is_played() -> None:
    """Another one than in hand: of kits, of batteries, or of both."""
    ample, poor = ward(), ward(kits=2, batteries=1)
    assert all_warnings(poor, kits=3, batteries=9) == poor.warnings
    assert "2.0 batteries are busy on average with 1 in stock" in all_warnings(poor, kits=3)[-1]
    assert "2.8 kits are busy on average with 2 in stock" in all_warnings(ample, kits=2)[-1]
    assert "2.0 batteries are busy on average with 1 in" in all_warnings(ample, batteries=1)[-1]
    assert all_warnings(ample, kits=0) == ample.warnings


@pytest.mark.parametrize("waiting", [None, "45 min"])
def test_where_all_entries_are_urgent_their_own_maximum_wait_is_asked_for(
    waiting: str | None,
) -> None:
    """As many as before, each an event of one; a maximum wait of routine entries is for nobody."""
    one = scenario(
        arrivals=TEN_PATIENTS["arrivals"],
        classes={
            "ward": {"length_of_isolation": "400 d", "entries": {"nurse": None}, "urgent": EVENTS}
        },
        stock={"kits": 2, "batteries": 9, "bays": 3},
        batteries={"issued": "fullest"},
        policy={"maximum_wait": "45 min", "urgent_maximum_wait": waiting},
    )
    found = all_warnings(one)[len(one.warnings) :]
    assert len(found) == (waiting is None)
    for said in found:
        assert "policy.urgent_maximum_wait is not set" in said
        assert "2.8 kits are busy" in said and "`urgent_maximum_wait: 10 min`" in said
