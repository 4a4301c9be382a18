"""A unit's own log is played exactly."""

import pytest
from numpy.testing import assert_array_equal

from surge_sim.units import NEVER_S
from tests.demand.ward import draw

LOG = """requested,room_minutes,role,urgent,wearer
2031-03-03T00:05,6,nurse,no,A
2031-03-03T00:02,10,physician,no,B
2031-03-03T00:05,4,nurse,yes,
2031-03-03T01:00,2.5,porter,no,A
"""


@pytest.fixture
def logged(tmp_path):
    def drawn(log=LOG, seed=1, surge=0, **changes):
        (tmp_path / "log.csv").write_text(log)
        return draw(
            seed=seed, surge=surge, folder=tmp_path, entries={"from": "log.csv"}, arrivals=None,
            classes=None, **changes,
        )  # fmt: skip

    return drawn


def test_log_is_played_row_by_row_urgent_first_within_a_second(logged):
    trace = logged()
    assert trace.due_s.tolist() == [120, 300, 300, 3_600]
    assert trace.room_s.tolist() == [600, 240, 360, 150]
    assert trace.urgent.tolist() == [False, True, False, False]
    roles = [trace.role_names[number] for number in trace.role]
    assert roles == ["physician", "nurse", "nurse", "porter"]
    assert trace.wearer[2] == trace.wearer[3] != trace.wearer[0]
    assert trace.wearer[1] == -1
    assert trace.shift_end_s.tolist() == [NEVER_S] * 2
    assert set(trace.patient.tolist()) == set(trace.patient_class.tolist()) == {-1}
    assert len(trace.patients.arrive_s) == 0


def test_described_role_lends_its_times_and_maximum_wait_to_the_log(logged):
    trace = logged(
        roles={"nurse": {"room_time": "99 min", "don": "1 min", "maximum_wait": "7 min"}},
        policy={"maximum_wait": "20 min", "urgent_maximum_wait": "3 min"},
    )
    assert trace.don_s.tolist() == [120, 60, 60, 120]
    assert trace.doff_s.tolist() == [180] * 4
    assert trace.maximum_wait_s.tolist() == [1_200, 180, 420, 1_200]


def test_every_surge_of_a_log_has_the_same_needs_and_its_own_luck(logged):
    stretched = {"shape": "lognormal", "mean": "3 min", "cv": "50 %"}
    rows = "".join(f"{minute},5,nurse\n" for minute in range(400))
    changes = {"log": "requested,room_minutes,role\n" + rows, "kit": {"don": stretched},
               "failures": {"hood_damage": "20 %"}}  # fmt: skip
    first, second = logged(**changes), logged(surge=1, **changes)
    assert_array_equal(first.due_s, second.due_s)
    assert (first.don_s != second.don_s).any()
    assert (first.hood_torn != second.hood_torn).any()
    assert 0 < first.hood_torn.sum() < 400


def test_names_that_other_programs_take_for_missing_or_for_numbers_stay_names(logged):
    """A role 'NA', 'nan', 'null', '007' or 'True' is a role, and so is one in capitals."""
    names = ["NA", "nan", "null", "007", "7", "True", "None", "1e3", "NURSE", "nurse"]
    rows = "".join(f"{minute},5,{name},{name}\n" for minute, name in enumerate(names))
    trace = logged("requested,room_minutes,role,wearer\n" + rows)
    assert [trace.role_names[number] for number in trace.role] == names
    assert len(set(trace.wearer.tolist())) == len(names)
    assert -1 not in trace.wearer
