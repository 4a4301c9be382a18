"""Stories of the reference engine: every rule shows in the sentences of the thing it acts on."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from surge_sim.engine.log import RunLog
from surge_sim.engine.play import play
from surge_sim.engine.story import how_many, longest_waiting, tell_story
from surge_sim.equipment.stock import Stock
from surge_sim.report import explain_answer
from surge_sim.report.document import Rows
from surge_sim.report.rounding import about
from surge_sim.report.terminal import render
from surge_sim.units import duration_text
from tests.engine.test_timelines import FILTERS
from tests.engine.tiny import MINUTE, settings, tiny_trace


def told(
    trace: Any, sort: Any, number: int, kits: int = 1, batteries: int = 9, bays: int = 9
) -> list[tuple[float, str]]:
    """Minute and sentence of everything that is told of one thing."""
    story = tell_story(trace.settings, trace.situation(Stock(kits, batteries, bays)), sort, number)
    return [(one.at_s / MINUTE, one.said) for one in explain_answer.told(story)]


def sentences(*arguments: Any, **stock: int) -> str:
    return "\n".join(said for _, said in told(*arguments, **stock))


def test_an_entry_that_waits_is_told_from_need_to_end():
    """Kit worn 0-20, wiped until 35: the entry at 10 waits for it, the one at 12 behind it."""
    trace = tiny_trace(
        settings(kit={"pre_use_check": "1 min"}), need=[0, 10, 12], room=20, wipe=[15]
    )
    assert told(trace, "entry", 1, bays=0) == [
        (10, "requests a kit"),
        (10, "waits first in line for a clean blower, a hood and a tube"),
        (
            36,
            "has waited 26 min; takes kit 0 and battery 1 (100 % charged), the fullest of 9 usable "
            "ones: 100 % of the rated charge, next 100 %; its check takes 1 min",
        ),
        (
            37,
            "puts on kit 0, which passed its check; takes no time to put it on, then 20 min in "
            "the room and no time to take it off",
        ),
        (37, "enters the room"),
        (57, "has taken the kit off and is done"),
    ]
    assert told(trace, "entry", 2)[1] == (12, "waits in line, 1 request ahead")


def test_a_kit_is_told_from_hand_to_shelf():
    """Worn 0-20, wiped until 30, wet and dry until 37."""
    changed = settings(cleaning={"by": "wearer", "contact_time": "2 min", "drying_time": "5 min"})
    trace = tiny_trace(changed, need=[0], room=20, wipe=[10])
    assert told(trace, "kit", 0) == [
        (0, "is in hand for entry 0 with battery 0 (100 % charged)"),
        (0, "passes its check"),
        (20, "is taken off after 20 min of running"),
        (20, "is handed in for wipe-down"),
        (20, "is wiped down by its wearer, 10 min of work"),
        (30, "is wiped; 7 min of contact and drying time follow"),
        (37, "is clean and ready on the shelf"),
    ]


def test_a_battery_that_waits_for_a_bay_is_told_until_it_is_full():
    """Both half empty at 240 and 250, one bay: full at 352.5 and 465."""
    trace = tiny_trace(settings(), need=[0, 10], room=240)
    assert told(trace, "battery", 1, kits=2, batteries=2, bays=1) == [
        (10, "goes with kit 1 for entry 1, 100 % charged, the only usable battery"),
        (250, "comes back 50 % charged, to be charged"),
        (250, "waits for one of 1 bays, 0 ahead of it"),
        (352.5, "goes into a bay; full after 1 h 52 min 30 s"),
        (465, "leaves its bay, full"),
    ]


#: what the story must say: changes, entries, kind of thing and number, stock, words
RULES: dict[str, tuple[dict, dict, tuple[str, int], dict, list[str]]] = {
    "a full battery blocks its bay until the round": (
        {"charging": {"rounds_every": "4 h"}},
        {"need": [0], "room": 240},
        ("battery", 0),
        {"batteries": 1, "bays": 1},
        ["is full and blocks its bay; next round in 2 h 7 min 30 s", "leaves its bay, full"],
    ),
    "a battery above the threshold is not charged": (
        {"charging": {"charge_below": "60 %"}},
        {"need": [0], "room": 60},
        ("battery", 0),
        {"batteries": 1},
        ["comes back to the shelf 87 % charged, as it is"],
    ),
    "a battery is taken before it is full": (
        {"batteries": {"minimum_run_time": "300 min"}},
        {"need": [0, 240], "room": [240, 10]},
        ("battery", 0),
        {"kits": 2, "batteries": 1},
        ["is taken from its bay before it is full, 62 % charged"],
    ),
    "a battery stands without power in its bay": (
        {"timeline": [{"what": "power outage", "at": "300 min", "lasts": "120 min"}]},
        {"need": [0], "room": 240},
        ("battery", 0),
        {"batteries": 1},
        ["full after 3 h 52 min 30 s, 2 h of it without power", "power outage: begins",
         "power outage: ends"],
    ),
    "battery alarm": (
        {"batteries": {"low_battery_alarm": "15 min"}},
        {"need": [0], "room": 500},
        ("entry", 0),
        {"batteries": 2},
        ["has left at an alarm (low battery) and taken the kit off; 35 min in the room",
         "requests a kit for 35 min in the room"],
    ),
    "fault, wipe-down, repair": (
        {"failures": {"blower_run_between_failures": "30 min", "repair_time": "3 h"}},
        {"need": [0], "room": 50, "failure_run": [30, 900], "repair": [180]},
        ("kit", 0),
        {},
        ["gave an alarm in use: blower failure", "goes out for repair, 3 h", "is back in service"],
    ),
    "a battery fails": (
        {"failures": {"battery_run_between_failures": "9 h"}},
        {"need": [0], "room": 240, "battery_run": [100, 900], "replacement": [50]},
        ("battery", 0),
        {"batteries": 1},
        ["was in kit 0 at an alarm: battery failure",
         "has failed; a full one in its place in 50 min",
         "is replaced by a full one", "goes with kit 0 for entry 0, 100 % charged, the only usable "
         "battery"],
    ),
    "cool-down": (
        {"charging": {"cool_down": "30 min"}},
        {"need": [0, 250], "room": [240, 10]},
        ("battery", 0),
        {"batteries": 1},
        ["comes back 50 % charged, cools down for 30 min and is charged then",
         "is taken while it cools down, 50 % charged", "has cooled down", "goes into a bay"],
    ),
    "the longest on the shelf": (
        {"batteries": {"issued": "longest on the shelf"},
         "charging": {"partial_charge_at_reissue": "no", "charge_below": "60 %"}},
        {"need": [0, 20, 40, 60], "room": [10, 5, 15, 30]},
        ("entry", 3),
        {"batteries": 3},
        ["takes kit 0 and battery 0 (97 % charged), the longest in its place of 3 usable ones, "
         "from the shelf first: 50 min, next 35 min"],
    ),
    "the fullest": (
        {"batteries": {"state_of_health": ["90 %", "100 %"]}},
        {"need": [0], "room": 10},
        ("entry", 0),
        {"batteries": 2},
        ["takes kit 0 and battery 1 (100 % charged), the fullest of 2 usable ones: 100 % of the "
         "rated charge, next 90 %"],
    ),
    "alarm before the wearer went in": (
        {"failures": {"blower_run_between_failures": "30 min", "repair_time": "3 h"},
         "kit": {"don": "5 min", "doff": "2 min"}},
        {"need": [0], "room": 50, "failure_run": [3, 900], "repair": [180]},
        ("entry", 0),
        {"kits": 2},
        ["takes 5 min to put it on, then 50 min in the room and 2 min to take it off",
         "has not gone in, at an alarm (blower failure), and taken the kit off; 50 min in the room "
         "are to do"],
    ),
    "alarm inside the room": (
        {"failures": {"blower_run_between_failures": "30 min", "repair_time": "3 h"},
         "kit": {"don": "5 min", "doff": "2 min"}},
        {"need": [0], "room": 50, "failure_run": [8, 900], "repair": [180]},
        ("entry", 0),
        {"kits": 2},
        ["has left at an alarm (blower failure) and taken the kit off; 47 min in the room "
         "are left"],
    ),
    "flow level by level": (
        {"filters": FILTERS, "kit": {"levels": [{"run_time": "8 h"}, {"run_time": "6 h",
         "further_life": "50 %"}]}},
        {"need": [0, 100], "room": 50, "prefilter_life": [60], "he_life": [300]},
        ("kit", 0),
        {},
        ["passes its check at flow level 1 of 2", "gave an alarm in use: low flow",
         "passes its check at flow level 2 of 2"],
    ),
    "new prefilter": (
        {"filters": FILTERS},
        {"need": [0, 100], "room": 60, "prefilter_life": [60], "he_life": [300]},
        ("entry", 1),
        {},
        ["kit 0 fails its check at every flow level and gets a new prefilter, 5 min of work"],
    ),
    "out for an HE filter": (
        {"filters": FILTERS, "start": "2031-01-06 08:00"},
        {"need": [0, 100], "room": [50, 10], "prefilter_life": [500], "he_life": [50, 500]},
        ("kit", 0),
        {},
        ["fails its check again, so its HE filter is spent", "goes out for an HE filter",
         "gets an HE filter; back in 2 h", "is back in service"],
    ),
    "no HE filter in stock": (
        {"filters": FILTERS, "supplies": {"he_filters": {"spare": "0"}}},
        {"need": [0, 100], "room": [50, 10], "prefilter_life": [500], "he_life": [50, 500]},
        ("kit", 0),
        {},
        ["goes out for an HE filter", "waits for an HE filter; none is in stock"],
    ),
    "no prefilter in stock": (
        {"filters": FILTERS, "supplies": {"prefilters": {"spare": "0"}}},
        {"need": [0, 100], "room": 60, "prefilter_life": [60], "he_life": [300]},
        ("entry", 1),
        {},
        ["kit 0 fails its check and there is no prefilter in stock; back in line",
         "still waits at the end"],
    ),
    "a torn hood": (
        {}, {"need": [0], "room": 10, "hood_torn": [0]}, ("kit", 0), {},
        ["has a damaged hood, which is thrown away"],
    ),
    "a large hood": (
        {"supplies": {"large_hoods": {"spare": "1"}}},
        {"need": [0, 1], "room": 10, "large_hood": [0, 1], "hood_torn": [1]},
        ("entry", 1),
        {"kits": 2},
        ["waits first in line for a large hood", "takes a large hood with it"],
    ),
    "a torn large hood": (
        {}, {"need": [0], "room": 10, "large_hood": [0], "hood_torn": [0]}, ("kit", 0), {},
        ["gets a large hood", "has a damaged large hood, which is thrown away"],
    ),
    "hoods for one use": (
        {"kit": {"single_use_hoods": "yes"}}, {"need": [0], "room": 10}, ("kit", 0), {},
        ["has a hood for one use, which is thrown away"],
    ),
    "checks during wear": (
        {"kit": {"recheck": {}}}, {"need": [0], "room": 450}, ("entry", 0), {},
        ["checks the kit 2 times more during wear"],
    ),
    "crew": (
        {"cleaning": {"by": "crew", "crew": [{"start": "07:00", "end": "19:00", "cleaners": "1"}]}},
        {"need": [0], "room": 10, "wipe": [5]},
        ("kit", 0),
        {},
        ["waits for a cleaner, 0 ahead of it", "is wiped down by a cleaner, 5 min of work"],
    ),
    "central": (
        {"cleaning": {"by": "central", "rounds": ["08:00", "16:00"], "turnaround": "5 h"}},
        {"need": [0], "room": 10},
        ("kit", 0),
        {},
        ["waits for the next central round", "is collected for the central wipe-down; back in 8 h"],
    ),
    "places": (
        {"cleaning": {"places": "1"}},
        {"need": [0, 0], "room": 10, "wipe": [15]},
        ("kit", 1),
        {"kits": 2},
        ["waits for a free place, 0 ahead of it"],
    ),
    "kept for urgent entries": (
        {"policy": {"reserved_for_urgent": "1"}},
        {"need": [0, 1], "room": [20, 5]},
        ("entry", 1),
        {"kits": 2},
        ["waits first in line; the last kits are kept for urgent entries"],
    ),
    "urgent": (
        {}, {"need": [0], "room": 20, "urgent": [True]}, ("entry", 0), {},
        ["requests a kit, urgently"],
    ),
    "maximum_wait": (
        {}, {"need": [0, 5], "room": 30, "maximum_wait": 10}, ("entry", 1), {},
        ["leaves the queue unserved after waiting 10 min; whether and how the visit is "
         "then made is outside this model"],
    ),
    "postponed": (
        {"policy": {"after_maximum_wait": "postponed", "postponed_by": "60 min"}},
        {"need": [0, 5], "room": 30, "maximum_wait": 10},
        ("entry", 1),
        {},
        ["leaves the queue unserved after waiting 10 min; comes again in 1 h",
         "requests a kit for 30 min in the room"],
    ),
    "a busy wearer": (
        {}, {"need": [0, 10], "room": 20, "wearer": [0, 0]}, ("entry", 1), {"kits": 2},
        ["is due; its wearer (nurse 0) is busy with an earlier entry"],
    ),
    "held for a shift": (
        {"policy": {"kit": "held for a shift"}},
        {"need": [0, 60], "room": 20, "wearer": [0, 0], "shift_end": [120]},
        ("kit", 0),
        {},
        ["is held by wearer 0; a wipe-down between visits takes 2 min",
         "is released by wearer 0: end of the shift", "is handed in for wipe-down"],
    ),
    "a held kit goes on with its battery": (
        {"policy": {"kit": "held for a shift"}},
        {"need": [0, 60], "room": 48, "wearer": [0, 0], "shift_end": [120]},
        ("entry", 1),
        {},
        ["holds kit 0 with battery 0 (90 % charged) and goes on with it"],
    ),
    "a held kit gets another battery": (
        {"policy": {"kit": "held for a shift"}},
        {"need": [0, 470], "room": [460, 5], "wearer": [0, 0], "shift_end": [600]},
        ("entry", 1),
        {},
        ["and needs another battery", "gives the held kit 0 battery 1 (100 % charged)"],
    ),
    "a kit is withdrawn": (
        {"timeline": [{"what": "kits recalled", "at": "5 min", "lasts": "60 min",
                          "kits": "1"}]},
        {"need": [0], "room": 20},
        ("kit", 1),
        {"kits": 2},
        ["kits recalled (1 kit): begins", "is taken away", "kits recalled (1 kit): ends",
         "comes to the unit"],
    ),
    "a battery goes with a kit that was borrowed": (
        {"timeline": [{"what": "kits on loan", "at": "5 min", "lasts": "60 min",
                          "kits": "1"}]},
        {"need": [0], "room": 20},
        ("battery", 1),
        {"batteries": 1},
        ["kits on loan (1 kit): begins", "comes to the unit with a kit, full"],
    ),
    "cleaners, deliveries, patients, filters": (
        {"timeline": [
            {"what": "cleaning crew absent", "at": "5 min", "lasts": "60 min"},
            {"what": "late delivery", "at": "5 min", "lasts": "60 min"},
            {"what": "extra patients", "at": "5 min", "lasts": "60 min", "arrivals": "150 %"},
            {"what": "defective filter lot", "at": "5 min", "lasts": "60 min", "life": "50 %"},
        ]},
        {"need": [0], "room": 90},
        ("entry", 0),
        {},
        ["cleaning crew absent (all): begins", "late delivery (all parts): begins",
         "extra patients (150 % of the usual rate): begins",
         "defective filter lot (prefilters, 50 % of their life): ends"],
    ),
}  # fmt: skip


@pytest.mark.parametrize("rule", RULES)
def test_every_rule_shows_in_the_story(rule: str):
    """The sentences stand in the story, in this order."""
    changes, entries, (sort, number), stock, words = RULES[rule]
    text = sentences(tiny_trace(settings(**changes), **entries), sort, number, **stock)
    place = 0
    for said in words:
        found = text.find(said, place)
        assert found >= 0, f"{said!r} not after {text[:place]!r} in\n{text}"
        place = found + len(said)


def test_a_torn_tube_shows_in_the_story():
    trace = tiny_trace(settings(), need=[0], room=10)
    trace.tube_torn[0] = True
    assert "has a damaged tube, which is thrown away" in sentences(trace, "kit", 0)


@pytest.mark.parametrize(
    ("number", "words"), [(0, "nurse, patient 0 of class ward, 10"), (-1, "nurse, 10")]
)
def test_an_entry_is_told_with_its_patient_and_class_where_it_has_them(number: int, words: str):
    trace = replace(tiny_trace(settings(), need=[0], room=10), class_names=("ward",))
    trace.patient[0] = trace.patient_class[0] = number
    story = tell_story(trace.settings, trace.situation(Stock(1, 1, 1)), "entry", 0)
    blocks = explain_answer.explain_answer(story).blocks
    rows = next(one for one in blocks if isinstance(one, Rows))
    assert dict(rows.rows)["Entry"] == f"{words} min planned in room"


def test_telling_changes_no_result():
    changed = settings(policy={"reserved_for_urgent": "1"}, cleaning={"contact_time": "2 min"})
    trace = tiny_trace(changed, need=list(range(40)), room=30, wipe=[7], maximum_wait=90)
    stock = Stock(4, 5, 2)
    story = tell_story(changed, trace.situation(stock))
    quiet = play(*trace.situation(stock), engine="reference")
    for column in RunLog.COLUMNS:
        assert np.array_equal(getattr(story.log, column), getattr(quiet, column)), column


def test_without_a_number_the_entry_that_waited_longest_is_told():
    trace = tiny_trace(settings(), need=[0, 10, 12], room=20, wipe=[15])
    story = tell_story(trace.settings, trace.situation(Stock(1, 9, 9)))
    assert (story.sort, story.number, story.waited_longest) == ("entry", 2, True)
    assert longest_waiting(story.log, trace.entries) == 2


def test_a_visit_postponed_beyond_the_close_does_not_wait_there():
    """Closing at 48 h: it gives up at 2,878 and would come again 60 later."""
    changed = settings(policy={"after_maximum_wait": "postponed", "postponed_by": "60 min"})
    trace = tiny_trace(changed, need=[2_868], room=5, maximum_wait=10)
    said = told(trace, "entry", 0, kits=0)
    assert said[-1] == (2_880, "would come again after the end")


def test_a_play_that_begins_anew_tells_nothing_twice():
    """600 alarms need more rows than the first try has; each entry still needs its kit once."""
    changed = settings(batteries={"low_battery_alarm": "465 min"})
    trace = tiny_trace(changed, need=[0, 1], room=1_400)
    text = told(trace, "entry", 0, kits=2, batteries=300, bays=300)
    assert sum(said == "requests a kit" for _, said in text) == 1
    assert len(text) > 200


def test_borrowed_kits_and_batteries_have_stories_too():
    borrowed = {"what": "kits on loan", "at": "5 min", "lasts": "60 min", "kits": "2"}
    trace = tiny_trace(settings(timeline=[borrowed]), need=[0], room=30)
    stock = Stock(1, 3, 1)
    assert [how_many(sort, trace.situation(stock)) for sort in ("entry", "kit", "battery")] == [
        1,
        3,
        5,
    ]


def test_the_outcome_says_for_what_an_entry_waited_and_how_long_after_it_was_due():
    """One battery of two in use until 20, then charged: wearer 0 is due at 10, free at 20."""
    trace = tiny_trace(
        settings(charging={"partial_charge_at_reissue": "no"}),
        need=[0, 0, 10], room=20, wearer=[0, 1, 0],
    )  # fmt: skip
    story = tell_story(trace.settings, trace.situation(Stock(4, 2, 2)), "entry", 2)
    wait_s = int(story.log.wait_s[2])
    text = " ".join(render(explain_answer.explain_answer(story)).split())
    waited, late = duration_text(wait_s), about(wait_s + 10 * MINUTE)
    assert f"Entry 2 waited {waited} for a battery (target " in text
    assert f", {late} after it was due." in text
    assert "for a charged battery; batteries: 2 in bays" in text
    assert f"has waited {waited}; takes kit " in text


def test_a_wearer_enters_the_room_when_the_kit_is_on_unless_an_alarm_comes_first():
    """Donning takes 5 min: a blower that fails after 3 ends the visit before, one after 8 in it."""
    changed = settings(
        failures={"blower_run_between_failures": "30 min", "repair_time": "3 h"},
        kit={"pre_use_check": "1 min", "don": "5 min", "doff": "2 min"},
    )
    for fails, entered in ((3, False), (8, True)):
        trace = tiny_trace(changed, need=[0], room=50, failure_run=[fails, 900], repair=[180])
        story = told(trace, "entry", 0, kits=2)
        alarm = next(place for place, (_, said) in enumerate(story) if "at an alarm" in said)
        assert ("has not gone in" in story[alarm][1]) is not entered
        assert ((6, "enters the room") in story[:alarm]) is entered
        assert "enters the room" in {said for _, said in story[alarm:]}


def test_where_there_are_no_batteries_nothing_is_said_of_where_they_are():
    said = sentences(tiny_trace(settings(), need=[0], room=20), "entry", 0, batteries=0)
    assert "waits first in line for a charged battery" in said
    assert "batteries:" not in said


def test_what_keeps_the_first_in_line_is_told_once_while_the_words_are_the_same():
    """From 12 on the last two tubes are kept for urgent entries, too, as the last kits are."""
    trace = tiny_trace(
        settings(policy={"reserved_for_urgent": "2"}, supplies={"tubes": {"spare": "1"}}),
        need=[5, 7, 12, 10], room=90, urgent=[True, True, True, False],
    )  # fmt: skip
    reserved = "waits first in line; the last kits are kept for urgent entries"
    story = [one for one in told(trace, "entry", 3, kits=4) if one[1] == reserved]
    assert story == [(10, reserved)]
