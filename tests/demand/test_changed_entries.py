"""Changes of the timeline that concern entries, entry by entry, as their words say.

An entry is known again by its patient, its times and its mark, which no change may touch.
"""

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from surge_sim.demand.plan import drawn_from
from surge_sim.demand.table import with_changes
from surge_sim.scenario.timeline import (
    CareBundled,
    ChangeOfEntries,
    EntriesPostponed,
    MaximumWait,
)
from tests.demand.chance import share_agrees
from tests.demand.ward import draw, scenario

HOUR_S, DAY_S = 3_600, 86_400
BUSY = {
    "classes": {
        "ward": {
            "entries": {"nurse": "60 per day"},
            "urgent": {"per_patient": "3 per day", "team": 2, "role": "nurse"},
        }
    },
    "roles": {
        "nurse": {"room_time": {"shape": "gamma", "mean": "20 min", "cv": "90 %"}},
    },
    "policy": {"maximum_wait": "70 min", "urgent_maximum_wait": "11 min"},
}
#: from 2 d 6 h on, for 40 h
FROM_S, UNTIL_S = 54 * HOUR_S, 94 * HOUR_S
WHEN = {"at": "54 h", "lasts": "40 h"}


def known(trace):
    """Moment, urgency and longest wait of each entry, by what it is known by."""
    keys = zip(trace.patient, trace.room_s, trace.urgent, trace.mark, strict=True)
    found = dict(
        zip(
            keys,
            zip(trace.due_s.tolist(), trace.maximum_wait_s.tolist(), strict=True),
            strict=True,
        )
    )
    assert len(found) == trace.entries
    return found


def both(**change):
    """All entries of a surge without and with a change, under what they are known by."""
    usual, changed = draw(**BUSY), draw(**BUSY, timeline=[change])
    return known(usual), known(changed), changed


def test_every_change_of_entries_changes_some_and_tells_one_demand_from_another():
    """A new one that nothing is said of would be played as if it were not there."""
    usual = draw(**BUSY)
    examples = [
        CareBundled(what="care bundled", at=0, dropped=0.5),
        EntriesPostponed(what="routine entries postponed", at=0, by=600),
        MaximumWait(what="maximum wait", at=0, wait=60),
    ]
    assert {type(one) for one in examples} == set(ChangeOfEntries.__subclasses__())
    plain = scenario(**BUSY).settings
    for one in examples:
        assert known(with_changes(usual, [one])) != known(usual)
        assert drawn_from(plain.model_copy(update={"timeline": (one,)})) != drawn_from(plain)


def inside(due_s):
    return FROM_S <= due_s < UNTIL_S


@pytest.mark.parametrize(("share", "tried"), [("100 %", 1.0), ("35 %", 0.35)])
def test_postponed_entries_come_later_by_what_is_said_and_no_others_move(share, tried):
    """95 minutes for the routine entries of 40 hours, or a share of them (1 check of chance)."""
    usual, changed, _ = both(what="routine entries postponed", by="95 min", share=share, **WHEN)
    assert usual.keys() == changed.keys()
    moved = {key: changed[key][0] - due_s for key, (due_s, _) in usual.items()}
    may = [key for key, (due_s, _) in usual.items() if inside(due_s) and not key[2]]
    later = [key for key, by_s in moved.items() if by_s]
    assert set(later) <= set(may) and {moved[key] for key in later} == {95 * 60}
    assert len(may) > 500
    assert share_agrees(len(later), len(may), tried)


def test_a_postponed_entry_takes_its_place_after_the_urgent_ones_of_its_second():
    """Put off for as long as the urgent event at the same patient comes later: both at once."""
    usual, _, _ = both(what="routine entries postponed", by="1 h", **WHEN)
    urgent = sorted(due_s for key, (due_s, _) in usual.items() if key[2] and inside(due_s))
    first = min(due_s for key, (due_s, _) in usual.items() if not key[2] and inside(due_s))
    moment = next(one for one in urgent if one > first)
    _, _, changed = both(what="routine entries postponed", by=f"{moment - first} s", **WHEN)
    assert (np.diff(changed.due_s) >= 0).all()
    at_once = changed.urgent[changed.due_s == moment].tolist()
    assert at_once == [True, True, False]


@pytest.mark.parametrize("share", ["0 %", "35 %", "100 %"])
def test_bundled_care_leaves_out_its_share_of_the_routine_entries(share):
    """Dropped only within the 40 hours; what stays is as it was (1 check of chance)."""
    usual, changed, _ = both(what="care bundled", dropped=share, **WHEN)
    may = {key for key, (due_s, _) in usual.items() if inside(due_s) and not key[2]}
    dropped = usual.keys() - changed.keys()
    assert dropped <= may
    assert changed == {key: usual[key] for key in usual.keys() - dropped}
    assert share_agrees(len(dropped), len(may), float(share[:-2]) / 100)


def test_of_a_larger_share_those_of_a_smaller_one_are_some():
    usual, small, _ = both(what="care bundled", dropped="20 %", **WHEN)
    _, large, _ = both(what="care bundled", dropped="45 %", **WHEN)
    assert usual.keys() - small.keys() < usual.keys() - large.keys()


@pytest.mark.parametrize("entries", ["routine", "urgent", "all"])
def test_a_maximum_wait_holds_for_the_entries_that_it_names_while_it_lasts(entries):
    """25 minutes instead of 70 (routine) and 11 (urgent)."""
    usual, changed, _ = both(what="maximum wait", wait="25 min", entries=entries, **WHEN)
    assert usual.keys() == changed.keys()
    for key, (due_s, most_s) in changed.items():
        named = entries == "all" or (entries == "urgent") == key[2]
        before_s = (11 if key[2] else 70) * 60
        assert usual[key] == (due_s, before_s)
        assert most_s == (25 * 60 if inside(due_s) and named else before_s)


def test_a_change_without_an_end_holds_to_the_end():
    """The last 7 days of 10."""
    usual, changed, _ = both(what="care bundled", dropped="100 %", at="3 d")
    assert changed.keys() == {
        key for key, (due_s, _) in usual.items() if key[2] or due_s < 3 * DAY_S
    }


def test_changes_are_made_in_the_order_of_their_moments_whatever_the_order_in_the_file():
    """Bundled from 2 d, postponed from 1 d by 30 h: what is put off into day 2 is bundled, too."""
    put_off = {"what": "routine entries postponed", "by": "30 h", "at": "1 d", "lasts": "1 d"}
    bundled = {"what": "care bundled", "dropped": "100 %", "at": "48 h", "lasts": "1 d"}
    one, other = (
        draw(**BUSY, timeline=order) for order in ([put_off, bundled], [bundled, put_off])
    )
    found = known(one)
    assert found == known(other)
    usual = known(draw(**BUSY))
    for key, (due_s, _) in usual.items():
        later_s = due_s + (30 * HOUR_S if not key[2] and DAY_S <= due_s < 2 * DAY_S else 0)
        assert (key in found) == (key[2] or not 2 * DAY_S <= later_s < 3 * DAY_S)


def test_a_change_holds_from_its_first_second_to_the_one_before_its_end():
    """It begins when one routine entry becomes due, and ends when a later one does."""
    usual = known(draw(**BUSY))
    routine = sorted(due_s for key, (due_s, _) in usual.items() if not key[2] and inside(due_s))
    first, last = routine[5], routine[25]
    assert routine[4] < first and last > routine[24]
    lasts = {"at": f"{first} s", "lasts": f"{last - first} s"}
    for change in (
        {"what": "care bundled", "dropped": "100 %"},
        {"what": "routine entries postponed", "by": "30 d"},
        {"what": "maximum wait", "wait": "1 min", "entries": "routine"},
    ):
        changed = known(draw(**BUSY, timeline=[change | lasts]))
        unlike = [
            due_s for key, (due_s, most_s) in usual.items() if changed.get(key) != (due_s, most_s)
        ]
        assert sorted(unlike) == routine[5:25]


@pytest.mark.parametrize(
    "change",
    [
        {"what": "care bundled", "dropped": "100 %"},
        {"what": "routine entries postponed", "by": "95 min"},
    ],
)
def test_no_terminal_clean_is_bundled_or_postponed(change):
    """It is none of the routine entries, which come while the patient is there."""
    clean = {"role": "nurse", "when": "with a kit", "room_time": "20 min", "delay": "5 min"}
    rooms = {"count": 20, "air_changes": "6 per h", "terminal_clean": clean}
    usual = draw(**BUSY, rooms=rooms)
    changed = draw(**BUSY, rooms=rooms, timeline=[change | {"at": "0 d"}])
    left_s = np.sort(usual.patients.leave_s) + 5 * 60
    cleans = left_s[left_s < 10 * DAY_S].tolist()
    assert len(cleans) > 20
    expected = Counter(cleans)
    assert expected <= Counter(usual.due_s[~usual.urgent].tolist())
    found = Counter(changed.due_s[~changed.urgent].tolist())
    assert expected <= found
    if change["what"] == "care bundled":
        assert found == expected


def test_a_share_concerns_the_marks_below_it_and_none_of_0():
    """Of a million: at 35 % those up to 349,999; at 0 % not even the lowest, at 100 % the last."""
    usual = draw(horizon="1 d", classes={"ward": {"entries": {"nurse": "200 per day"}}})
    marks = np.arange(usual.entries) % 2 + 349_999
    marks[:2] = 0, 999_999
    marked = replace(usual, mark=marks)
    for share, left in ((0, [0, 349_999, 350_000, 999_999]), (0.35, [350_000, 999_999]), (1, [])):
        bundled = CareBundled(what="care bundled", at=0, dropped=share)
        assert sorted(set(with_changes(marked, [bundled]).mark.tolist())) == left


def test_nothing_of_a_changed_demand_can_be_written_to():
    for change in (
        {"what": "care bundled", "dropped": "50 %"},
        {"what": "routine entries postponed", "by": "1 h"},
        {"what": "maximum wait", "wait": "1 min"},
    ):
        changed = draw(**BUSY, timeline=[change | WHEN])
        columns = [one for one in vars(changed).values() if isinstance(one, np.ndarray)]
        assert len(columns) == 16
        assert not any(column.flags.writeable for column in columns)
