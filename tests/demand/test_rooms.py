"""Air clearance against the published tables."""

import pytest

from surge_sim.scenario.clearance import air_clearance_s
from surge_sim.units import NEVER_S

# CDC/HICPAC, Guidelines for Environmental Infection Control in Health-Care Facilities, 2003,
# Appendix B, Table B.1: minutes for 99 % and 99.9 % by air changes per hour
TABLE_B1 = {
    2: (138, 207), 4: (69, 104), 6: (46, 69), 8: (35, 52), 10: (28, 41), 12: (23, 35),
    15: (18, 28), 20: (14, 21), 50: (6, 8),
}  # fmt: skip

# Health Canada, Canada Communicable Disease Report vol 22S1, April 1996, Appendix F: 90, 99, 99.9 %
OLDER_TABLE = {
    1: (138, 276, 414), 3: (46, 92, 138), 5: (28, 55, 83), 7: (20, 39, 59), 9: (15, 31, 46),
    11: (13, 25, 38), 14: (10, 20, 30), 16: (9, 17, 26), 17: (8, 16, 24), 18: (8, 15, 23),
    19: (7, 15, 22),
}  # fmt: skip


@pytest.mark.parametrize("air_changes", TABLE_B1)
def test_clearance_agrees_with_all_18_values_of_table_b1(air_changes):
    minutes = [round(air_clearance_s(air_changes, share) / 60) for share in (0.99, 0.999)]
    assert minutes == list(TABLE_B1[air_changes])


@pytest.mark.parametrize("air_changes", OLDER_TABLE)
def test_clearance_agrees_with_the_older_finer_table(air_changes):
    minutes = [round(air_clearance_s(air_changes, share) / 60) for share in (0.9, 0.99, 0.999)]
    assert minutes == list(OLDER_TABLE[air_changes])


def test_mixing_factor_multiplies_the_time():
    assert air_clearance_s(12, 0.99, 3.0) == pytest.approx(3 * air_clearance_s(12, 0.99), abs=2)


def test_air_is_never_wholly_cleared_and_nothing_to_clear_takes_no_time():
    assert air_clearance_s(12, 1.0) == NEVER_S
    assert air_clearance_s(12, 0.0) == 0
