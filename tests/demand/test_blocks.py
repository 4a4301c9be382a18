"""Every source, kind of entry and role draws from a stream of its own."""

from collections import Counter

import pytest

from surge_sim import load_scenario, situation_of, stock_in_hand
from surge_sim.demand import draw as drawing
from surge_sim.demand.plan import beside, plan_of
from surge_sim.randomness import Kind, Purpose, Source, Streams, block_of
from surge_sim.scenario.limits import MOST_LISTED
from tests.conftest import ROOT
from tests.demand.test_log_input import LOG
from tests.demand.ward import draw, settings


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


#: blocks of entries: (2 x kind + 1 for moments) x 2**32 + number of the role
VISITS, MOMENTS, URGENT, URGENT_MOMENTS, CLEANS, LOGGED = (n << 32 for n in (0, 1, 2, 3, 4, 6))
#: roles of the scenario with every setting: the first one comes to urgent events, the last cleans
BY_ROLE = {VISITS, VISITS + 1, VISITS + 2, URGENT, CLEANS + 2}
#: those present at the start, the curve, extra patients and the cluster have 0, 1, 3 and 4
BLOCKS = {
    Purpose.ARRIVALS: {1, 3},
    Purpose.CLUSTERS: {4},
    # the cluster names its class
    Purpose.CLASSES: {0, 1, 3},
    Purpose.STAYS: {0, 1, 3, 4},
    Purpose.RESIDUAL_STAYS: {0},
    Purpose.ENTRIES: {VISITS, VISITS + 1, VISITS + 2, MOMENTS, MOMENTS + 1, MOMENTS + 2},
    Purpose.URGENT: {URGENT, URGENT_MOMENTS},
    # a clean has its time already
    Purpose.ROOM_TIMES: BY_ROLE - {CLEANS + 2},
    Purpose.KIT_SHARE: {VISITS},
    Purpose.DONNING: BY_ROLE,
    Purpose.DOFFING: BY_ROLE,
    Purpose.HOODS: BY_ROLE,
    Purpose.TUBES: BY_ROLE,
    Purpose.TERMINAL_CLEAN: {CLEANS, CLEANS + 1, CLEANS + 3, CLEANS + 4},
    Purpose.MARKS: {0},
}


def test_streams_keep_the_numbers_of_their_sources_kinds_and_roles(asked, tmp_path):
    """The scenario with every setting; of a log the roles."""
    whole = load_scenario(ROOT / "tests" / "everything" / "every_feature.yaml")
    situation_of(whole, stock_in_hand(whole.settings), seed=3, surge=2)
    found = {purpose: {block for _, one, block in asked if one == purpose} for purpose in BLOCKS}
    assert found == BLOCKS
    # the first shift, of the first role, ends 8 h after the start at 07:00
    shifts = {block for _, one, block in asked if one == Purpose.HOOD_SIZES} - {0}
    assert min(shifts) == 2 * 2**40 + 8 * 3_600
    asked.clear()
    (tmp_path / "log.csv").write_text(LOG)
    times = {"don": {"shape": "gamma", "mean": "2 min", "cv": "50 %"}}
    draw(folder=tmp_path, entries={"from": "log.csv"}, arrivals=None, classes=None, kit=times)
    donning = {block for _, one, block in asked if one == Purpose.DONNING}
    assert donning == {LOGGED, LOGGED + 1, LOGGED + 2}


def test_visits_that_are_left_out_and_patients_who_come_beside_another_scenario_have_streams(asked):
    """Of the visits of two roles some are left out; more patients have the number 2**31."""
    entries = {"nurse": "20 per day", "other": "9 per day"}
    base, bundled, more = (
        plan_of(
            settings(
                arrivals={"baseline": rate},
                classes={"ward": {"entries": entries}},
                roles={name: {"room_time": "6 min"} for name in entries},
                policy={"bundled_care": care},
            )
        )
        for rate, care in (
            ("4 per day", None),
            ("4 per day", {"entries": "50 %", "room_time": "150 %"}),
            ("5 per day", None),
        )
    )
    drawing.draw(beside(bundled, base), Streams(1, 0, 0))
    assert {block for _, one, block in asked if one == Purpose.LEFT_OUT} == {VISITS, VISITS + 1}
    asked.clear()
    drawing.draw(beside(more, base), Streams(1, 0, 0))
    assert {block for _, one, block in asked if one == Purpose.ARRIVALS} == {1, 2**31}
