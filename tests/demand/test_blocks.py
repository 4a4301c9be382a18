"""Every source, kind of entry and role draws from a stream of its own."""

from surge_sim.randomness import Kind, Source, block_of
from surge_sim.scenario.limits import MOST_LISTED
from tests.demand.ward import draw


def test_no_two_uses_of_a_purpose_share_a_block():
    """Roles and sources up to the most that a scenario may have."""
    numbers = range(MOST_LISTED + len(Source))
    blocks = [
        block_of(kind, number, moments)
        for kind in Kind
        for number in numbers
        for moments in (False, True)
    ]
    assert len(set(blocks)) == len(blocks) == 8 * len(numbers)
    assert min(blocks) >= 0 and max(blocks) < 2**64


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
