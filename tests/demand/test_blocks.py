"""Every source, kind of entry and role draws from a stream of its own."""

from collections import Counter

import pytest

from surge_sim import load_scenario, situation_of, stock_in_hand
from surge_sim.randomness import Kind, Purpose, Source, Streams, block_of
from surge_sim.scenario.limits import MOST_LISTED
from tests.conftest import ROOT
from tests.demand.test_log_input import LOG
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


@pytest.fixture
def asked(monkeypatch):
    """How often each stream was asked for: (seed, sample, surge, run-in), purpose, block."""
    found: Counter = Counter()
    give = Streams.stream

    def counted(self, purpose, block=0):
        key = tuple(self._key.generate_state(2).tolist())
        found[key, purpose, block] += 1
        return give(self, purpose, block)

    monkeypatch.setattr(Streams, "stream", counted)
    return found


def test_whatever_is_drawn_has_a_stream_of_its_own_named_by_its_purpose(asked, tmp_path):
    """The scenario with every setting, and a log whose wearers need hoods of two sizes."""
    whole = load_scenario(ROOT / "tests" / "everything" / "every_feature.yaml")
    situation_of(whole, stock_in_hand(whole.settings), seed=3, surge=2)
    drawn = {purpose for _, purpose, _ in asked}
    (tmp_path / "log.csv").write_text(LOG)
    sizes = {"kit": {"large_hood_share": "30 %"}}
    draw(folder=tmp_path, entries={"from": "log.csv"}, arrivals=None, classes=None, **sizes)
    assert {type(purpose) for _, purpose, _ in asked} == {Purpose}
    assert set(asked.values()) == {1}
    assert {Purpose.ENTRIES, Purpose.URGENT, Purpose.DONNING, Purpose.HOOD_SIZES} < drawn
