"""What the engines are told of a scenario and a stock; numbers are invented."""

from __future__ import annotations

from surge_sim.equipment.charge_curve import FULL
from surge_sim.equipment.numbers import Numbers, Plain
from surge_sim.equipment.numbers import numbers_of as all_numbers_of
from surge_sim.equipment.stock import Stock
from surge_sim.equipment.timeline import InForce, timeline_of
from surge_sim.scenario.schema import Settings
from tests.engine.tiny import settings, tiny_trace

HOUR = 3_600
STOCK = Stock(kits=2, batteries=3, bays=4)


def numbers_of(changed: Settings, stock: Stock) -> Plain:
    """Everything by name, for a day and the day after."""
    return of_play(changed, stock).plain()


def of_play(changed: Settings, stock: Stock) -> Numbers:
    return all_numbers_of(*tiny_trace(changed, need=[], room=0).parts(stock))


def over_time(numbers: Numbers, name: str) -> list[tuple[int, int]]:
    """Moments at which a number changes, and its values; the first is that at the start."""
    rows, place = numbers.counts.rows.tolist(), InForce._fields.index(name)
    usual = numbers.rules.usual[place]
    found = [(at_s, usual if value < 0 else value) for at_s, which, value in rows if which == place]
    return [(0, numbers.in_force[place]), *found]


def test_the_stock_is_what_it_says_and_no_more():
    """Hoods and tubes: one per kit, the scenario's spares, and those beyond."""
    changed = settings(supplies={"hoods": {"spare": "5"}})
    n = numbers_of(changed, Stock(2, 3, 4, extra_hoods=7, extra_tubes=1))
    assert (n.kits, n.batteries, n.bays, n.hoods, n.tubes) == (2, 3, 4, 14, 3)


def test_with_more_of_a_part_on_the_shelf_it_is_ordered_as_early_as_without() -> None:
    """Five more prefilters: 8 on the shelf instead of 3, ordered again at 7 instead of at 2."""
    shelf = {"prefilters": {"spare": "3", "reorder_point": "2"}, "tubes": {"spare": "1"}}
    n = numbers_of(settings(supplies=shelf), Stock(2, 3, 4, extra_tubes=6, extra_prefilters=5))
    assert n.spares[1:3] == [7, 8]
    # a part that is never ordered again stays so, and one that is when none is left comes earlier
    assert n.reorder_point[1:3] == [-1, 7]
    last = settings(supplies={"prefilters": {"spare": "3", "reorder_point": "0"}})
    assert numbers_of(last, Stock(2, 3, 4, extra_prefilters=5)).reorder_point[2] == 5


def test_a_battery_of_half_the_health_holds_half_and_is_full_in_half_the_time():
    """Charge time 3 h, 80 % of the charge in 60 % of the time; healths repeat over the fleet."""
    n = numbers_of(settings(batteries={"state_of_health": ["100 %", "50 %"]}), STOCK)
    assert n.capacity == [FULL, FULL // 2, FULL]
    assert n.charge_s == [3 * HOUR, 3 * HOUR // 2, 3 * HOUR]
    assert n.cc_charge == [FULL * 4 // 5, FULL * 2 // 5, FULL * 4 // 5]
    assert n.cc_s == [6_480, 3_240, 6_480]


def test_batteries_age():
    """20 % a year of 365.25 days: after 2 years 60 % are left, and after 10 never less than 1 %."""
    age = {"ages": ["0 d", "730.5 d", "3652.5 d"], "fade_per_year": "20 %"}
    n = numbers_of(settings(batteries={"age": age}), STOCK)
    assert n.capacity == [FULL, FULL * 6 // 10, FULL // 100]


def test_wet_and_dry_time_follow_each_other():
    n = numbers_of(settings(cleaning={"contact_time": "3 min", "drying_time": "5 min"}), STOCK)
    assert n.contact_and_drying_s == 480


def test_urgent_entries_have_their_own_wait_where_the_target_says_so():
    urgent = {"wait": "1 min", "service_level": "99 %"}
    n = numbers_of(settings(target={"urgent": urgent}), STOCK)
    assert (n.wait_s, n.urgent_wait_s) == (300, 60)
    assert numbers_of(settings(), STOCK).urgent_wait_s == 300


def test_power_cuts_that_overlap_or_touch_are_one():
    """1-3 h, 2-4 h and 4-5 h are one cut of 4 h; 6-7 h is another."""
    cuts = [(1, 2), (2, 2), (4, 1), (6, 1)]
    changed = settings(
        timeline=[
            {"what": "power outage", "at": f"{at} h", "lasts": f"{lasts} h"} for at, lasts in cuts
        ]
    )
    cuts_s = timeline_of(changed)
    pairs = zip(cuts_s.cut_from_s.tolist(), cuts_s.cut_to_s.tolist(), strict=True)
    found = [(from_s // HOUR, to_s // HOUR) for from_s, to_s in pairs]
    assert found == [(1, 5), (6, 7)]


def crew_over_time(stock: Stock, *absent: dict[str, str]) -> list[tuple[int, int]]:
    """Two cleaners 07:00-19:00 and one 18:00-02:00; from a Monday's midnight, in hours."""
    shifts = [
        {"start": "07:00", "end": "19:00", "cleaners": "2"},
        {"start": "18:00", "end": "02:00", "cleaners": "1"},
    ]
    when = {"what": "cleaning crew absent", "at": "10 h", "lasts": "9 h"}
    changed = settings(
        cleaning={"by": "crew", "crew": shifts}, timeline=[when | one for one in absent]
    )
    found = over_time(of_play(changed, stock), "wipers")
    return [(at_s // HOUR, there) for at_s, there in found][:7]


def test_cleaners_come_and_go_and_some_are_absent():
    """From 10 to 19 h one of them is absent; a further cleaner comes on each shift."""
    found = crew_over_time(STOCK, {"cleaners": "1"})
    assert found == [(0, 1), (2, 0), (7, 2), (10, 1), (18, 2), (19, 1), (26, 0)]
    more = crew_over_time(Stock(2, 3, 4, extra_cleaners=1), {"cleaners": "1"})
    assert more == [(0, 2), (2, 0), (7, 3), (10, 2), (18, 4), (19, 2), (26, 0)]
    none = crew_over_time(STOCK, {})
    assert none == [(0, 1), (2, 0), (7, 2), (10, 0), (18, 0), (19, 1), (26, 0)]


def test_extra_cleaners_come_on_each_shift_where_nobody_is_absent():
    """Two by day and one by night, none from 2 to 7 h; with two more on each shift 4 and 3."""
    usual = crew_over_time(STOCK)
    assert usual == [(0, 1), (2, 0), (7, 2), (18, 3), (19, 1), (26, 0), (31, 2)]
    more = crew_over_time(Stock(2, 3, 4, extra_cleaners=2))
    assert more == [(0, 3), (2, 0), (7, 4), (18, 7), (19, 3), (26, 0), (31, 4)]


def test_what_a_round_collects_comes_back_with_a_round():
    """Rounds at 06:00 and 14:00, turnaround 5 h: from 06:00 back at 14:00, then next day."""
    changed = settings(
        cleaning={"by": "central", "rounds": ["06:00", "14:00"], "turnaround": "5 h"}
    )
    found = over_time(of_play(changed, STOCK), "round_back_s")[1:]
    assert [(at // HOUR, back // HOUR) for at, back in found][:3] == [
        (6, 14), (14, 30), (30, 38),
    ]  # fmt: skip


def test_two_loans_add_up_and_of_two_lots_each_takes_its_share():
    """Kits: 2 from 1 to 5 h, 1 from 3 to 8 h. Lots: half from 1 to 5 h, 20 % from 3 to 4 h."""
    loans = [("1 h", "4 h", "2"), ("3 h", "5 h", "1")]
    lots = [("1 h", "4 h", "50 %"), ("3 h", "1 h", "20 %")]
    changed = settings(
        timeline=[
            *({"what": "kits on loan", "at": a, "lasts": b, "kits": n} for a, b, n in loans),
            *({"what": "defective filter lot", "at": a, "lasts": b, "life": n} for a, b, n in lots),
        ]
    )
    numbers = of_play(changed, STOCK)
    kits = [(at_s // HOUR, lent) for at_s, lent in over_time(numbers, "kits_lent")]
    assert kits == [(0, 0), (1, 2), (3, 3), (5, 1), (8, 0)]
    lives = [(at_s // HOUR, ppm) for at_s, ppm in over_time(numbers, "prefilter_life_ppm")]
    assert lives == [(0, 10**6), (1, 500_000), (3, 100_000), (4, 500_000), (5, 10**6)]
    assert (numbers.counts.kits, numbers.counts.batteries) == (5, 6)
