"""A small exercise, its scenario and both with changes; all numbers are invented."""

from __future__ import annotations

from pathlib import Path

from surge_sim.scenario.exercise import Exercise, load_exercise
from tests.conftest import ROOT

SHIPPED = sorted(
    path
    for path in (ROOT / "scenarios" / "exercises").glob("*.yaml")
    if not path.stem.endswith("_scenario")
)

SCENARIO = """\
title: A short day (invented)
start: 2031-01-06 07:00
horizon: 10 h
run_out: 10 h
arrivals: {initial_census: 4, baseline: 2 per day}
rooms: {count: 4, when_full: board, air_changes: 12 per h, clearance: 99 %}
classes:
  ward:
    share: 100 %
    length_of_isolation: {shape: lognormal, median: 5 d, p75: 9 d}
    entries: {nurse: 48 per day}
    urgent: {per_patient: 1 per day, team: 2, role: nurse}
roles:
  nurse:
    room_time: {shape: lognormal, median: 4 min, p90: 12 min}
    patients_per_wearer: 2
policy: {maximum_wait: 60 min, urgent_maximum_wait: 10 min}
kit:
  pre_use_check: 1 min
  don: 5 min
  doff: 6 min
  minimum_flow: 170 L/min
  single_use_hoods: yes
  levels: [{flow: 180 L/min, run_time: 6 h}]
batteries: {charge_time: 4 h, minimum_run_time: 45 min, low_battery_alarm: 15 min,
  end_of_charge: straight,
  issued: fullest}
charging: {partial_charge_at_reissue: no}
cleaning:
  by: crew
  wipe_down: 4 min
  contact_time: 2 min
  drying_time: 10 min
  crew: [{start: 07:00, end: 19:00, cleaners: 1}]
supplies: {hoods: {spare: 60, reorder_point: 40, order_quantity: 60, lead_time: 3 h}}
stock: {kits: 4, batteries: 7, bays: 3}
target: {wait: 5 min, service_level: 95 %, share_of_surges: 90 %}
"""

EXERCISE = """\
title: Two decisions (invented)
scenario: ward.yaml
length: 10 h
objectives: [See what is short.]
surge: 3
other_surges: 20
seed: 1
moments:
  - at: day 1, 09:00
    name: A call
    inject: {what: cleaning crew absent, lasts: 2 h}
    read_aloud: The cleaner has gone home.
    discuss: 5 min
    choices:
      - {name: Wait, does: nothing}
      - {name: Borrow two, does: {what: kits on loan, kits: 2, lasts: 6 h}, delay: 30 min, price: 8}
      - {name: Bundle, does: {what: care bundled, dropped: 30 %, lasts: 3 h}}
  - at: day 1, 11:30
    name: A second call
    inject: {what: power outage, lasts: 90 min}
    read_aloud: The power fails.
    discuss: 5 min
    choices:
      - {name: Wait, does: nothing}
      - {name: Reserve one, does: {what: reserve for urgent entries, kits: 1}}
      - name: Borrow four batteries
        does: {what: batteries on loan, batteries: 4, lasts: 8 h}
        delay: 20 min
"""


def small(folder: Path, *changes: tuple[str, str], scenario: str = SCENARIO) -> Path:
    """Write the exercise, with some of its text replaced, and its scenario; return its path."""
    text = EXERCISE
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    (folder / "ward.yaml").write_text(scenario, encoding="utf-8")
    path = folder / "exercise.yaml"
    path.write_text(text, encoding="utf-8")
    return path


def loaded(folder: Path, *changes: tuple[str, str]) -> Exercise:
    """Load it."""
    return load_exercise(small(folder, *changes))
