"""Every source, kind of entry and role draws from a stream of its own."""

from surge_sim.demand.draws import Kind, Source, SurgeStreams
from surge_sim.randomness import Purpose
from tests.demand.ward import draw


def test_no_two_uses_share_a_stream():
    """First numbers of 64 bits: two alike among 3,000 are no chance."""
    streams = SurgeStreams(1, 0, 0)
    first = [
        streams.of_entries(purpose, kind, role, moments).random()
        for purpose in (Purpose.ENTRIES, Purpose.URGENT, Purpose.ROOM_TIMES, Purpose.HOODS)
        for kind in Kind
        for role in range(100)
        for moments in (False, True)
    ]
    sources = [*Source, Source.CLUSTERS + 1]
    first += [
        streams.of_source(purpose, source).random()
        for purpose in (Purpose.ARRIVALS, Purpose.CLUSTERS, Purpose.CLASSES, Purpose.STAYS)
        for source in sources
    ]
    assert len(set(first)) == len(first) > 3_000


def test_roles_of_one_rate_do_not_come_together():
    """Two roles that are alike: their visits and their room times are not."""
    role = {"room_time": {"shape": "gamma", "mean": "6 min", "cv": "50 %"}}
    trace = draw(
        classes={"ward": {"entries": {"nurse": "20 per day", "aide": "20 per day"}}},
        roles={"nurse": role, "aide": role},
    )
    nurse, aide = (trace.role == number for number in (0, 1))
    assert 0.05 * nurse.sum() > len(set(trace.due_s[nurse]) & set(trace.due_s[aide]))
    assert set(trace.room_s[nurse][:20]) != set(trace.room_s[aide][:20])
