"""Bays that fail and cleaners who are absent or come: timelines on paper, in both engines.

All times are in minutes. Charging is straight: 180 from empty, so 90 after 240 of 480 worn. Each of
the four uses is charged after, once, or once more when a battery leaves its bay before it is full.
"""

from __future__ import annotations

from typing import Any

import pytest

from surge_sim.engine.log import Count
from surge_sim.equipment.numbers import numbers_of
from surge_sim.equipment.stock import Stock
from tests.engine.conftest import Player
from tests.engine.test_timelines import waits
from tests.engine.tiny import MINUTE, settings, tiny_trace
from tests.equipment.test_numbers import over_time

STRAIGHT = {"constant_current_to": "50 %", "constant_current_time": "50 %"}


def failing(at: int = 270, lasts: int = 30, **what: str) -> dict[str, Any]:
    """Settings with one failure of chargers; batteries are handed out only when they are full."""
    event = {"what": "charger failure", "at": f"{at} min", "lasts": f"{lasts} min"} | what
    return {
        "batteries": STRAIGHT,
        "charging": {"partial_charge_at_reissue": "no"},
        "prices": {"bays_per_charger": "2"},
        "timeline": [event],
    }


def test_a_battery_in_a_bay_that_fails_waits_with_the_charge_that_it_has(played: Player):
    """Two in bays from 240 and 250, full at 330 and 340. One bay fails from 270 to 300.

    The one that came last, at 250, has 20 of its 90: in again at 300, it is full at 370. The
    entries at 320 and 321 wait until 330 and 370.
    """
    trace = tiny_trace(
        settings(**failing(bays="1")), need=[0, 10, 320, 321], room=[240, 240, 100, 100]
    )
    log = played(trace, kits=2, batteries=2, bays=2)
    assert waits(log) == [0, 0, 10, 49]
    assert log.counts[Count.CHARGES] == 4 + 1


def test_a_free_bay_takes_the_battery_of_one_that_fails_at_once(played: Player):
    """The same with three bays: two that work are enough, and nothing changes."""
    trace = tiny_trace(
        settings(**failing(bays="1")), need=[0, 10, 320, 321], room=[240, 240, 100, 100]
    )
    log = played(trace, kits=2, batteries=2, bays=3)
    assert waits(log) == [0, 0, 10, 19]
    assert log.counts[Count.CHARGES] == 4


@pytest.mark.parametrize(
    ("what", "more"),
    [
        ({"what": "power outage"}, 0),
        ({"what": "power outage", "bays": "9"}, 2),
        ({"chargers": "1"}, 2),
        ({"what": "power outage", "chargers": "1"}, 2),
    ],
    ids=["all without power", "more bays than there are", "one charger", "one without power"],
)
def test_all_bays_without_power_delay_a_charge_like_all_bays_that_fail(
    played: Player, what: dict[str, str], more: int
):
    """30 min without a bay, or in one without power: full at 360 and 370 instead of 330 and 340.

    Out of bays that fail, both go in again at 300: two charges more. A charger has two bays.
    """
    trace = tiny_trace(
        settings(**failing(**what)), need=[0, 10, 320, 321], room=[240, 240, 100, 100]
    )
    log = played(trace, kits=2, batteries=2, bays=2)
    assert waits(log) == [0, 0, 40, 49]
    assert log.counts[Count.CHARGES] == 4 + more


def test_a_battery_that_had_a_bay_goes_before_those_that_wait_for_one(played: Player):
    """Back at 240, 250 and 260; two bays, the third battery waits.

    At 270 the second is sent out of its bay; at 300 it goes in before the third and is full at 370.
    The third takes the bay of the first at 330 and is full at 420.
    """
    trace = tiny_trace(
        settings(**failing(bays="1")),
        need=[0, 10, 20, 320, 321, 322],
        room=[240, 240, 240, 100, 100, 100],
    )
    log = played(trace, kits=3, batteries=3, bays=2)
    assert waits(log) == [0, 0, 0, 10, 49, 98]


def test_of_two_that_came_in_one_second_the_higher_number_leaves_its_bay(played: Player):
    """Both back at 240; at 270 battery 1 leaves with 30 of 90, is in at 300 and full at 360."""
    trace = tiny_trace(
        settings(**failing(bays="1")), need=[0, 0, 320, 321], room=[240, 240, 100, 100]
    )
    log = played(trace, kits=2, batteries=2, bays=2)
    assert waits(log) == [0, 0, 10, 39]
    assert log.battery.tolist() == [0, 1, 0, 1]


def test_a_full_battery_that_blocks_a_bay_that_fails_goes_to_the_shelf(played: Player):
    """Rounds every 480: full at 330, battery 0 blocks the only bay; battery 1 waits from 250.

    The bay fails from 340 to 350 and is free then: battery 1 is in at 350 and full at 440. The
    entry at 360 takes battery 0, that at 361 waits 79. Without the failure battery 0 leaves its
    bay at 360, and battery 1 is full at 450: 89.
    """
    for at, wait in ((340, 79), (900, 89)):
        changes = failing(at=at, lasts=10, bays="1")
        changes["charging"] |= {"rounds_every": "480 min"}
        trace = tiny_trace(settings(**changes), need=[0, 10, 360, 361], room=[240, 240, 100, 100])
        log = played(trace, kits=2, batteries=2, bays=1)
        assert waits(log) == [0, 0, 0, wait]


def test_failures_that_overlap_add_up(played: Player):
    """One bay from 270 to 300 and one from 280 to 310: none works from 280 to 300.

    Battery 1 leaves at 270 with 20 of 90, battery 0 at 280 with 40; it goes in first, at 300, and
    is full at 350; battery 1 goes in at 310 and is full at 380.
    """
    changes = failing(bays="1")
    changes["timeline"] += failing(at=280, bays="1")["timeline"]
    trace = tiny_trace(settings(**changes), need=[0, 10, 320, 321], room=[240, 240, 100, 100])
    log = played(trace, kits=2, batteries=2, bays=2)
    assert waits(log) == [0, 0, 30, 59]


def crew(*events: dict[str, str]) -> dict[str, Any]:
    """Two cleaners from 07:00 (420) to 19:00, one through the night; the surge begins at 00:00."""
    shifts = [
        {"start": "07:00", "end": "19:00", "cleaners": "2"},
        {"start": "19:00", "end": "07:00", "cleaners": "1"},
    ]
    return {
        "cleaning": {"by": "crew", "wipe_down": "10 min", "crew": shifts},
        "timeline": [*events],
    }


def test_cleaners_of_one_shift_are_absent_in_its_hours_only(played: Player):
    """The day shift is absent from 360 to 600, which touches the night shift until 420 not at all.

    The kit of 350 is back at 370 and ready at 380. That of 410 is back at 430, wiped from 600 on,
    and ready at 610: the entry at 440 waits 170.
    """
    absent = {"what": "cleaning crew absent", "shift": "07:00", "at": "360 min", "lasts": "240 min"}
    trace = tiny_trace(settings(**crew(absent)), need=[350, 410, 440], room=20, wipe=[10])
    assert waits(played(trace, kits=1)) == [0, 0, 170]


@pytest.mark.parametrize(
    ("extra", "second"), [({}, 9), ({"shift": "19:00"}, 9), ({"shift": "07:00"}, 19)]
)
def test_extra_cleaners_wipe_beside_the_shift(played: Player, extra: dict[str, str], second: int):
    """At 130 two kits come back. One cleaner: ready at 140 and 150; two: both at 140.

    An extra cleaner of the day shift is not there at night.
    """
    event = {"what": "extra cleaners", "cleaners": "1", "at": "120 min", "lasts": "60 min"} | extra
    trace = tiny_trace(
        settings(**crew(event)), need=[100, 100, 131, 131], room=[30, 30, 5, 5], wipe=[10]
    )
    assert waits(played(trace, kits=2)) == [0, 0, 9, second]


def test_absent_and_extra_cleaners_by_shift_on_paper():
    """Shifts of 2 (07:00 to 19:00) and 1 (19:00 to 07:00), one more in stock on each.

    From 06:00 to 08:00 five of the day shift are absent, never more than its three; from 07:30 on
    one extra cleaner comes for an hour; from 19:00 all on duty are absent for an hour.
    """
    events = [
        {
            "what": "cleaning crew absent",
            "shift": "07:00",
            "cleaners": "5",
            "at": "6 h",
            "lasts": "2 h",
        },
        {"what": "extra cleaners", "cleaners": "1", "at": "450 min", "lasts": "1 h"},
        {"what": "cleaning crew absent", "at": "19 h", "lasts": "1 h"},
    ]
    stock = Stock(1, 1, 1, extra_cleaners=1)
    numbers = numbers_of(*tiny_trace(settings(**crew(*events)), need=[], room=0).parts(stock))
    steps = over_time(numbers, "wipers")
    changes = [(0, 2)]
    for at_s, cleaners in steps:
        if cleaners != changes[-1][1]:
            changes.append((at_s // MINUTE, cleaners))
    expected = [(0, 2), (420, 0), (450, 1), (480, 4), (510, 3), (1140, 0), (1200, 2)]
    assert changes[: len(expected)] == expected
