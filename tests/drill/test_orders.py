"""What is on order, and when staff expect it, worked out by hand."""

from __future__ import annotations

from surge_sim.drill.branches import Surges
from surge_sim.drill.line import ahead_of
from surge_sim.drill.orders import orders
from surge_sim.drill.seen import seen
from surge_sim.engine.log import Kind
from surge_sim.engine.play import play
from surge_sim.equipment.stock import Stock
from surge_sim.equipment.supplies import HOODS
from surge_sim.units import HOUR_S
from tests.drill.small import loaded
from tests.engine.tiny import settings, tiny_trace


def played(tmp_path, *changes):
    """Play the exercise with these changes; an order takes 3 h, and 60 hoods come."""
    case = Surges(loaded(tmp_path, *changes)).surge(3).situation((0, 0))
    return case, play(*case, events=True)


def first_order_s(log):
    return int(log.events[log.events[:, 1] == Kind.ORDERED][0, 0])


def test_an_order_is_seen_from_the_second_after_it_until_it_comes(tmp_path):
    case, log = played(tmp_path)
    ordered_s = first_order_s(log)
    due_s = ordered_s + 3 * HOUR_S
    moments = [ordered_s, ordered_s + 1, due_s, due_s + 1]
    found = [[one for one in known if one.due_s == due_s] for known in orders(case, log, moments)]
    assert found == [[], [(HOODS, 60, due_s)], [(HOODS, 60, due_s)], []]
    here = seen(case, log, moments).hoods
    assert here[3] - here[2] > 50  # it has come


def test_a_late_delivery_is_known_of_only_once_it_is_told(tmp_path):
    """The news comes at 13:00 and holds for 7 h; the order was to come at 15:27."""
    late = "inject: {what: late delivery, supply: hoods, lasts: 7 h}"
    later = ("at: day 1, 11:30", "at: day 1, 13:00")
    case, log = played(tmp_path, ("inject: {what: power outage, lasts: 90 min}", late), later)
    ordered_s, told_s = first_order_s(log), 6 * HOUR_S
    promised_s = ordered_s + 3 * HOUR_S
    assert ordered_s < told_s <= promised_s
    (before,), (after,) = orders(case, log, [told_s, told_s + 1])
    assert (before.due_s, after.due_s) == (promised_s, told_s + 7 * HOUR_S)
    assert orders(case, log, [promised_s + 1])[0][0] == after


def test_who_is_served_before_an_entry_is_counted_as_it_joins_the_line():
    """One kit; B and C come behind A, then D urgently: D stands before both, E behind all."""
    urgent = [False, False, False, True, False]
    trace = tiny_trace(settings(), need=[0, 2, 4, 6, 8], room=60, urgent=urgent)
    case = trace.situation(Stock(kits=1, batteries=6, bays=1))
    events = play(*case, events=True).events
    ahead = [list(ahead_of(events, entry).values())[:1] for entry in range(5)]
    assert ahead[1:] == [[0], [1], [0], [3]]
