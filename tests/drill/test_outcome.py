"""What is told of a stretch is what was known at its end; worked out by hand."""

from __future__ import annotations

from surge_sim.drill.outcome import in_all, longest_waiting_entry, stretch
from surge_sim.engine.play import play
from surge_sim.equipment.stock import Stock
from tests.engine.tiny import MINUTE, settings, tiny_trace


def hand_made(**more):
    """One kit and an entry of 30 min at 0, 2, 4 and 40 min: waits 0, 28, 56 and 50 min."""
    made = settings()
    trace = tiny_trace(made, need=[0, 2, 4, 40], room=30, **more)
    case = trace.situation(Stock(kits=1, batteries=4, bays=1))
    return case.demand, play(*case, events=True), made.target


def told(demand, log, target, from_min, to_min):
    return stretch(demand, log, target, from_min * MINUTE, to_min * MINUTE)


def test_a_wait_is_counted_as_far_as_it_has_come():
    """At 6 min the second has waited 4 min and the third 2 min: nobody is late yet."""
    found = told(*hand_made(), 0, 6)
    assert (found.came, found.served, found.late, found.waiting) == (3, 1, 0, 2)
    assert (found.longest_s, found.waited_s) == (4 * MINUTE, 6 * MINUTE)


def test_who_waits_longer_than_the_target_is_late_before_it_is_served():
    """At 8 min the second has waited 6 min."""
    found = told(*hand_made(), 0, 8)
    assert (found.came, found.served, found.late, found.waiting) == (3, 1, 1, 2)


def test_a_stretch_counts_those_who_come_in_it():
    found = told(*hand_made(), 30, 200)
    assert (found.came, found.served, found.late, found.waiting) == (1, 1, 1, 0)
    assert found.longest_s == 50 * MINUTE


def test_all_stretches_to_the_end_are_the_whole():
    demand, log, target = hand_made()
    whole = in_all(demand, log, target)
    found = told(demand, log, target, 0, 2_000)
    assert (whole.entries, whole.late, whole.waited_s, whole.longest_s) == (
        found.came, found.late, found.waited_s, found.longest_s,
    )  # fmt: skip
    assert whole.late == 3
    assert whole.waited_s == (28 + 56 + 50) * MINUTE


def test_who_leaves_the_queue_is_unserved_and_late_once_it_has_left():
    """The maximum wait is 10 min: the second leaves at 12 min, the third at 14."""
    demand, log, target = hand_made(maximum_wait=10)
    early, later = (told(demand, log, target, 0, to) for to in (12, 13))
    assert (early.unserved, early.waiting) == (0, 2)
    assert (later.unserved, later.waiting, later.late) == (1, 1, 2)
    # the fourth waits from 40 min for nothing: the kit is free at 30
    assert in_all(demand, log, target).unserved == 2


def test_urgent_entries_are_counted_by_themselves():
    """Urgent entries go first: the fourth, at 40 min, waits 20 min, the third 86."""
    demand, log, target = hand_made(urgent=[False, False, False, True])
    found = told(demand, log, target, 0, 300)
    assert (found.late, found.urgent_late) == (3, 1)


def test_the_story_told_is_that_of_the_longest_wait_that_is_over():
    """The third waits longest and is done at 90 min, the second is done at 60 min."""
    _, log, _ = hand_made()
    assert longest_waiting_entry(log, 0, 91 * MINUTE) == 2
    assert longest_waiting_entry(log, 0, 90 * MINUTE) == 1
    assert longest_waiting_entry(log, 0, 30 * MINUTE) is None
    assert longest_waiting_entry(log, 10 * MINUTE, 500 * MINUTE) == 3


def test_two_plays_are_alike_only_if_everybody_waited_equally_long():
    one = in_all(*hand_made())
    assert one.waits == in_all(*hand_made()).waits
    assert one.waits != in_all(*hand_made(maximum_wait=55)).waits


def test_the_time_until_a_wearer_is_free_is_counted_apart_from_waiting():
    """Wearer 0 is due at 0 and 10 min, in the room for 30 min; nobody waits for one of two kits."""
    made = settings()
    trace = tiny_trace(made, need=[0, 10], room=30, wearer=[0, 0])
    case = trace.situation(Stock(kits=2, batteries=4, bays=1))
    log = play(*case, events=True)
    free_s = int(log.end_s[0])
    found = told(case.demand, log, made.target, 0, 200)
    assert (found.delayed, found.delayed_s) == (1, free_s - 10 * MINUTE)
    assert (found.late, found.waited_s) == (0, 0)
    early = told(case.demand, log, made.target, 0, 20)
    assert (early.delayed, early.delayed_s) == (1, 10 * MINUTE)  # as far as it is known
    assert in_all(case.demand, log, made.target).delayed_s == found.delayed_s
