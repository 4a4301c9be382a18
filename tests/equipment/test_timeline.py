"""Changes of a surge as numbers over time; all moments are in hours unless said."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from surge_sim.equipment.numbers import Numbers
from surge_sim.equipment.numbers import numbers_of as all_numbers_of
from surge_sim.equipment.stock import Stock
from surge_sim.equipment.timeline import NO_LIMIT, InForce, rows_of, timeline_of
from surge_sim.units import NEVER_S
from tests.engine.tiny import settings, tiny_trace
from tests.equipment.test_numbers import over_time

HOUR, DAY = 3_600, 24
STOCK = Stock(kits=5, batteries=9, bays=4)
#: a number that nothing changes any more
FOR_GOOD = None


def event(what: str, at: float, lasts: float | None, **more: str) -> dict[str, str]:
    when = {"what": what, "at": f"{at * 60:.0f} min"}
    return when | ({} if lasts is None else {"lasts": f"{lasts * 60:.0f} min"}) | more


def numbers_with(
    *events: dict[str, str], run_in_d: int = 0, stock: Stock = STOCK, **changes: Any
) -> Numbers:
    """Numbers of a play of a day and the day after, with so many days of run-in before it."""
    before = None
    if run_in_d:
        earlier = settings(horizon=f"{run_in_d} d", run_out="0 h")
        before = tiny_trace(earlier, need=[], room=0)
        changes["run_in"] = f"{run_in_d} d"
    changed = settings(timeline=list(events), **changes)
    return all_numbers_of(*tiny_trace(changed, need=[], room=0, before=before).parts(stock))


def steps(numbers: Numbers, name: str) -> list[tuple[float, int]]:
    """When a number changes, and what it is from then on."""
    found = [(0.0, over_time(numbers, name)[0][1])]
    for at_s, value in over_time(numbers, name)[1:]:
        if value != found[-1][1]:
            found.append((at_s / HOUR, value))
    return found


CHARGERS: dict[str, Any] = {"prices": {"bays_per_charger": "3"}}


@pytest.mark.parametrize(
    ("change", "name", "usual", "then"),
    [
        (event("power outage", 1, 2), "has_power", 1, 0),
        (event("power outage", 1, 2, bays="2"), "bays_out", 0, 2),
        (event("charger failure", 1, 2, chargers="2"), "bays_out", 0, 6),
        (event("charger failure", 1, 2, chargers="1", bays="1"), "bays_out", 0, 4),
        (event("kits recalled", 1, 2, kits="4"), "kits_recalled", 0, 4),
        (event("kits on loan", 1, 2, kits="3"), "kits_lent", 0, 3),
        (event("batteries on loan", 1, 2, batteries="7"), "batteries_lent", 0, 7),
        (event("chargers on loan", 1, 2, chargers="2"), "bays_lent", 0, 6),
        (event("reserve for urgent entries", 1, 2, kits="2"), "reserved", 0, 2),
        (event("kit policy", 1, 2, kit="held for a shift"), "kept", 0, 1),
        (event("kit policy", 1, 2, kit="per round"), "kept", 0, 2),
        (event("partial charge at reissue", 1, 2, allowed="no"), "partial_charge_at_reissue", 1, 0),
        (event("defective filter lot", 1, 2, life="30 %"), "prefilter_life_ppm", 10**6, 300_000),
        (event("defective filter lot", 1, 2, life="30 %", filters="HE filters"), "he_life_ppm",
         10**6, 300_000),
        (event("defective filter lot", 1, 2, life="30 %", filters="prefilters"),
         "prefilter_life_ppm", 10**6, 300_000),
    ],
)  # fmt: skip
@pytest.mark.parametrize("run_in_d", [0, 2])
def test_a_change_takes_its_number_to_a_value_for_its_time(
    change: dict[str, str], name: str, usual: int, then: int, run_in_d: int
) -> None:
    """From 1 to 3 h; and days later in a play that begins with days of run-in."""
    numbers = numbers_with(change, run_in_d=run_in_d, **CHARGERS)
    begins = run_in_d * DAY
    assert steps(numbers, name) == [(0, usual), (begins + 1, then), (begins + 3, usual)]
    others = set(InForce._fields) - {name, "run_in"}
    assert all(len(steps(numbers, other)) == 1 for other in others)


def test_a_lot_of_both_sorts_of_filters_shortens_both() -> None:
    numbers = numbers_with(event("defective filter lot", 1, 2, life="30 %", filters="both"))
    for name in ("prefilter_life_ppm", "he_life_ppm"):
        assert steps(numbers, name) == [(0, 10**6), (1, 300_000), (3, 10**6)]


@pytest.mark.parametrize("run_in_d", [0, 3])
def test_what_must_be_known_ahead_is_told_in_seconds_of_the_play(run_in_d: int) -> None:
    """Power is off from 1 to 3 and 5 to 6; no hoods come from 2 to 7, nothing from 4 to 5."""
    timeline = numbers_with(
        event("power outage", 5, 1), event("power outage", 1, 2),
        event("late delivery", 4, 1), event("late delivery", 2, 5, supply="hoods"),
        event("power outage", 8, 1, bays="2"), run_in_d=run_in_d,
    ).timeline  # fmt: skip
    begins = run_in_d * DAY

    def hours(moments_s: np.ndarray) -> list[float]:
        return [at_s / HOUR - begins for at_s in moments_s.tolist()]

    assert (hours(timeline.cut_from_s), hours(timeline.cut_to_s)) == ([1, 5], [3, 6])
    assert (hours(timeline.missed_from_s), hours(timeline.missed_to_s)) == ([2, 4], [7, 5])
    # hoods are the first supply
    assert timeline.missed_supply.tolist() == [0, -1]


def test_each_supply_that_is_late_has_its_number() -> None:
    names = ("hoods", "tubes", "prefilters", "HE filters", "large hoods", "all")
    found = [
        timeline_of(settings(timeline=[event("late delivery", 1, 1, supply=name)])).missed_supply
        for name in names
    ]
    assert [one.tolist() for one in found] == [[0], [1], [2], [3], [4], [-1]]


def test_of_two_values_that_replace_a_number_the_later_one_holds_while_it_lasts() -> None:
    """Two kept back from 1 to 9, four from 3 to 5; and the other way round in the file."""
    changes = [event("reserve for urgent entries", 1, 8, kits="2"),
               event("reserve for urgent entries", 3, 2, kits="4")]  # fmt: skip
    for order in (changes, changes[::-1]):
        found = steps(numbers_with(*order), "reserved")
        assert found == [(0, 0), (1, 2), (3, 4), (5, 2), (9, 0)]


@pytest.mark.parametrize(
    ("what", "given", "name"),
    [
        ("kits recalled", "kits", "kits_recalled"), ("kits on loan", "kits", "kits_lent"),
        ("batteries on loan", "batteries", "batteries_lent"),
        ("chargers on loan", "chargers", "bays_lent"), ("charger failure", "bays", "bays_out"),
    ],
)  # fmt: skip
def test_things_that_come_or_go_add_up(what: str, given: str, name: str) -> None:
    """Two from 1 to 5 and three from 3 to 9."""
    changes = [event(what, 3, 6, **{given: "3"}), event(what, 1, 4, **{given: "2"})]
    found = steps(numbers_with(*changes), name)
    assert found == [(0, 0), (1, 2), (3, 5), (5, 3), (9, 0)]


def test_a_decision_without_an_end_holds_to_the_end() -> None:
    numbers = numbers_with(event("kits on loan", 2, None, kits="3"), run_in_d=1)
    assert steps(numbers, "kits_lent") == [(0, 0), (26, 3)]


def test_a_change_at_the_beginning_of_all_is_there_from_the_start_and_no_later_one() -> None:
    numbers = numbers_with(event("kits recalled", 0, 2, kits="2"))
    assert numbers.in_force.kits_recalled == 2
    assert numbers.counts.rows[:, 0].min() > 0
    assert steps(numbers, "kits_recalled") == [(0, 2), (2, 0)]
    second = numbers_with({"what": "kits recalled", "at": "1 s", "lasts": "2 h", "kits": "2"})
    assert second.in_force.kits_recalled == 0
    assert second.counts.rows[0, [0, 2]].tolist() == [1, 2]


def test_changes_stand_in_the_order_of_their_moments_and_cannot_be_written_to() -> None:
    rows = rows_of([(7, "reserved", 1), (3, "kept", 2), (NEVER_S, "kept", 0), (5, "kept", 1)])
    assert rows[:, [0, 2]].tolist() == [[3, 2], [5, 1], [7, 1]]
    timeline = timeline_of(settings(timeline=[event("power outage", 1, 2)]))
    for one in (timeline, timeline.later(60)):
        arrays = [value for value in one if isinstance(value, np.ndarray)]
        assert len(arrays) == 6 and not any(array.flags.writeable for array in arrays)
    assert not rows.flags.writeable


@pytest.mark.parametrize(
    ("change", "kits", "batteries", "moves"),
    [
        (event("kits on loan", 1, 2, kits="3"), 3, 0, 1),
        (event("batteries on loan", 1, 2, batteries="2"), 0, 2, 1),
        (event("kits recalled", 1, 2, kits="1"), 0, 0, 1),
        (event("chargers on loan", 1, 2, chargers="1"), 0, 0, 0),
        (event("power outage", 1, 2), 0, 0, 0),
    ],
)
def test_what_may_be_borrowed_counts_from_the_start(
    change: dict[str, str], kits: int, batteries: int, moves: int
) -> None:
    """Each kit with a battery, a hood and a tube; whether anything comes or goes at all."""
    supplies = {"hoods": {"spare": "2"}, "tubes": {"spare": "1"}}
    counts = numbers_with(change, change, supplies=supplies).counts
    assert (counts.kits_come, counts.batteries_come, counts.moves) == (
        2 * kits,
        2 * batteries,
        moves,
    )
    assert (counts.kits, counts.batteries) == (5 + 2 * kits, 9 + 2 * (kits + batteries))
    assert (counts.hoods, counts.tubes) == (7 + 2 * kits, 6 + 2 * kits)
    assert len(counts.cells) == counts.batteries


def test_a_run_in_ends_with_the_surge_and_its_entries_are_counted_apart() -> None:
    earlier = tiny_trace(settings(horizon="2 d", run_out="0 h"), need=[5, 7, 9], room=1)
    changed = settings(run_in="2 d")
    numbers = all_numbers_of(
        *tiny_trace(changed, need=[1], room=1, before=earlier).parts(STOCK)
    )  # fmt: skip
    assert steps(numbers, "run_in") == [(0, 1), (48, 0)]
    assert numbers.counts.entries_before == 3
    without = numbers_with()
    assert steps(without, "run_in") == [(0, 0)] and without.counts.entries_before == 0


def test_chance_failures_of_bays_and_the_clock_stand_between_the_changes_in_order() -> None:
    """A bay fails at 2 and works at 4; cleaners come at 7 and go at 19; kits are away from 3 on."""
    crew = [{"start": "07:00", "end": "19:00", "cleaners": "2"}]
    changed = settings(
        cleaning={"by": "crew", "crew": crew}, timeline=[event("kits recalled", 3, 9, kits="2")]
    )
    trace = tiny_trace(changed, need=[], room=0, bays_failed=(120, 1, 240, 0))
    numbers = all_numbers_of(*trace.parts(STOCK))
    assert steps(numbers, "bays_failed") == [(0, 0), (2, 1), (4, 0)]
    assert steps(numbers, "kits_recalled") == [(0, 0), (3, 2), (12, 0)]
    assert steps(numbers, "wipers")[:5] == [(0, 0), (7, 2), (19, 0), (31, 2), (43, 0)]
    assert (np.diff(numbers.counts.rows[:, 0]) >= 0).all()


def test_nothing_limits_who_wipes_where_the_wearers_do_unless_there_are_so_many_places() -> None:
    assert numbers_with().in_force.wipers == NO_LIMIT
    assert numbers_with(cleaning={"places": "3"}).in_force.wipers == 3
