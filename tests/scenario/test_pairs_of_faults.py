"""Of any two faults in one scenario both are told, unless one follows from the other.

Text that is no YAML is told alone: it is not read on.
"""

from __future__ import annotations

from itertools import combinations
from typing import NamedTuple

import pytest

from surge_sim.errors import ScenarioError
from surge_sim.scenario.load import load_scenario

ARRIVALS = """\
arrivals:
  baseline: 1 per day
  initial_census: 1
  daily_counts: {file: counts.csv}
  clusters:
    - {patients: 2, at: 3 d, patient_class: ward}
  hours_of_day: [1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1]
"""
#: numbers are invented
REST = """\
rooms:
  count: 2
  air_changes: 12 per h
classes:
  ward:
    share: 60 %
    length_of_isolation: {shape: lognormal, median: 68 h, p75: 97.5 h}
    entries: {nurse: 20 per day}
  short:
    share: 40 %
    length_of_isolation: {file: stays.csv, column: los, unit: d}
    entries: {nurse: 10 per day}
roles:
  nurse:
    room_time: 5 min
    shifts: [07:00, 19:00]
policy:
  maximum_wait: {low: 20 min, high: 40 min}
kit:
  pre_use_check: 1 min
  don: 2 min
  doff: 2 min
  levels:
    - {flow: 180 L/min, run_time: 8 h}
    - {flow: 210 L/min, run_time: 6 h}
batteries:
  charge_time: 3 h
  minimum_run_time: 30 min
  low_battery_alarm: 10 min
cleaning:
  by: wearer
  wipe_down: 4 min
  drying_time: 10 min
timeline:
  - {what: power outage, at: 5 d, lasts: 4 h}
  - {what: kits recalled, kits: 1, at: 6 d, lasts: 1 d}
stock:
  kits: 4
  batteries: 6
  bays: 2
prices:
  kit: 900
target:
  wait: 5 min
  service_level: 95 %
  share_of_surges: 90 %
"""
HEAD = "title: Two rooms (invented)\nstart: 2031-01-06 07:00\nhorizon: 14 d\n"
FILES = {
    "drawn": HEAD + ARRIVALS + REST,
    "log": HEAD + "entries: {from: log.csv}\n" + REST,
    "log.csv": "requested,room_minutes,role,urgent\n1,5,nurse,no\n2,5,nurse,no\n3,5,nurse,yes\n",
    "counts.csv": "day,patients\n1,3\n2,4\n",
    "stays.csv": "id,los\n1,2\n2,3\n",
}


class Wrong(NamedTuple):
    """One fault: the file it is in ('' for the scenario), what is replaced, what is told."""

    name: str
    file: str
    old: str
    new: str
    told: str


WRONGS = [
    # form
    Wrong("hidden sign", "", "Two rooms", "Two\x1brooms", "yaml:1: holds a character"),
    Wrong("colon in the title", "", "Two rooms", "Two: rooms", "has a second colon"),
    Wrong("open quote", "", "2031-01-06 07:00", '"2031-01-06 07:00', "opens a quote"),
    Wrong("no colon", "", "baseline: 1", "baseline 1", "lacks a colon above it"),
    Wrong("tab", "", "    room_time: 5", "\troom_time: 5", "begins with a tab"),
    Wrong("odd indent", "", "  batteries: 6", "   batteries: 6", "begins deeper than its section"),
    Wrong("open bracket", "", "{nurse: 10 per day}", "{nurse: 10 per day", "opens '{'"),
    Wrong("no comma", "", "outage, at: 5 d", "outage at: 5 d", "a comma or '}' is missing"),
    Wrong("twice", "", "horizon: 14 d\n", "horizon: 14 d\nhorizon: 9 d\n", "is there twice"),
    Wrong("no value", "", "  by: wearer", "  by:", "cleaning.by has no value"),
    Wrong("anchor", "", "don: 2", "don: &a 2", "has the anchor"),
    Wrong("tag", "", "doff: 2 min", "doff: !x 2 min", "has the tag"),
    Wrong("decimal comma", "", "median: 68 h", "median: 68,5 h", "stands alone behind"),
    # a field
    Wrong("no unit", "", "pre_use_check: 1 min", "pre_use_check: 1", "kit.pre_use_check is '1'"),
    Wrong("unknown key", "", "  count: 2", "  count: 2\n  doors: 2", "rooms.doors is not known"),
    Wrong("unknown section", "", "rooms:", "windows: {}\nrooms:", "windows is not known"),
    Wrong("missing key", "", "  air_changes: 12 per h\n", "", "rooms.air_changes is missing"),
    Wrong("missing section", "", "title: Two rooms (invented)\n", "", "title is missing"),
    Wrong("minus", "", "  drying_time: 10", "  drying_time: -10",
          "cleaning.drying_time is '-10 min'"),
    Wrong("no such word", "", "by: wearer", "by: wearers", "cleaning.by is 'wearers'"),
    Wrong("no such event", "", "what: power outage", "what: rain", "timeline[1].what is 'rain'"),
    Wrong("23 weights", "", "hours_of_day: [1, ", "hours_of_day: [", "has 23 values"),
    Wrong("text for a section", "", "  kit: 900", "  kit: {}", "prices.kit is a section"),
    Wrong("one quantile", "", ", p75: 97.5 h", "", "has one quantile only"),
    Wrong("stray file", "", "bays: 2", "bays: 2\n  file: x.csv", "stock.file is not known"),
    # a range
    Wrong("mixed range", "", "maximum_wait: {low: 20 min", "maximum_wait: {low: 2", "mixes sorts"),
    Wrong("range of a decision", "", "wait: 5 min", "wait: {low: 4 min, high: 5 min}",
          "target.wait is a range"),
    Wrong("range too wide", "", "minimum_run_time: 30 min",
          "minimum_run_time: {low: 5 min, high: 55 min}", "inside the ranges"),
    # between fields
    Wrong("class unknown", "", "patient_class: ward", "patient_class: wart", "the class 'wart'"),
    Wrong("role unknown", "", "entries: {nurse: 20", "entries: {nurze: 20", "the role 'nurze'"),
    Wrong("shares", "", "share: 60 %", "share: 50 %", "shares that sum to 90 %"),
    Wrong("shifts", "", "[07:00, 19:00]", "[19:00, 07:00]", "shifts are not in order"),
    Wrong("cluster late", "", "at: 3 d", "at: 30 d", "clusters[1].at is not inside"),
    Wrong("change late", "", "at: 6 d", "at: 60 d", "timeline[2].at is not inside"),
    Wrong("flow order", "", "flow: 210", "flow: 175", "levels[2].flow is not above"),
    Wrong("run times", "", "run_time: 6 h", "run_time: 9 h", "levels[2].run_time is longer"),
    Wrong("alarm", "", "low_battery_alarm: 10", "low_battery_alarm: 45",
          "batteries.minimum_run_time is"),
    Wrong("no wipe", "", "  wipe_down: 4 min\n", "", "cleaning.wipe_down is missing"),
    Wrong("all surges", "", "share_of_surges: 90", "share_of_surges: 100", "is '100 %'"),
    # other files
    Wrong("no file", "", "file: counts.csv", "file: count.csv", "which cannot be read"),
    Wrong("no column", "", "column: los", "column: days", "has no column 'days'"),
    Wrong("count", "counts.csv", "2,4", "2,-4", "counts.csv:3: patients is '-4'"),
    Wrong("stay", "stays.csv", "2,3", "2,x", "stays.csv:3: los is 'x'"),
    Wrong("long row", "stays.csv", "1,2", "1,2,5", "stays.csv:2: has 3 values"),
    Wrong("requested", "log.csv", "1,5,", "one,5,", "log.csv:2: requested is 'one'"),
    Wrong("minutes", "log.csv", "2,5,", "2,5;0,", "log.csv:3: room_minutes is '5;0'"),
    Wrong("urgent", "log.csv", "yes", "perhaps", "log.csv:4: urgent is 'perhaps'"),
]  # fmt: skip

#: where these stand, the text is no YAML, and nothing else of it is told
SLIPS = {"colon in the title", "open quote", "no colon", "tab", "odd indent", "open bracket",
         "no comma"}  # fmt: skip

#: pairs of which the first hides the second, and why it may
FOLLOWS = {
    ("no value", "no wipe"): "what cleaning needs depends on who does it",
    ("no such word", "no wipe"): "what cleaning needs depends on who does it",
    ("alarm", "range too wide"): "the minimum run time is too short at every value of its range",
    ("decimal comma", "one quantile"): "of the one that is left the number is not known",
    ("no file", "count"): "the file that it is in is not found",
    ("no column", "stay"): "the column that it is in is not read",
    **{
        (name, "shares"): "with a log of entries, the shares of classes are not used"
        for name in ("requested", "minutes", "urgent")
    },
}


def applied(wrongs: tuple[Wrong, ...], demand: str) -> dict[str, str] | None:
    """Put faults into the files; None if they stand in each other's way."""
    files = dict(FILES)
    for wrong in wrongs:
        name = wrong.file or demand
        unused = demand == "log" and name == "counts.csv"
        if unused or files[name].count(wrong.old) != 1:
            return None
        files[name] = files[name].replace(wrong.old, wrong.new)
    return files


def told(wrongs: tuple[Wrong, ...], demand: str, folder) -> str | None:
    files = applied(wrongs, demand)
    if files is None:
        return None
    for name in ("log.csv", "counts.csv", "stays.csv"):
        (folder / name).write_text(files[name], "utf-8")
    path = folder / "ward.yaml"
    path.write_text(files[demand], "utf-8")
    try:
        load_scenario(path)
    except ScenarioError as error:
        return str(error)
    return ""


def of_demand(wrong: Wrong) -> str:
    return "log" if wrong.file == "log.csv" else "drawn"


@pytest.mark.parametrize("demand", ["drawn", "log"])
def test_the_scenario_that_they_are_put_into_is_good(tmp_path, demand):
    assert told((), demand, tmp_path) == ""


@pytest.mark.parametrize("wrong", WRONGS, ids=lambda wrong: wrong.name)
def test_each_alone_is_told_and_brings_no_other_with_it(tmp_path, wrong):
    text = told((wrong,), of_demand(wrong), tmp_path)
    assert text is not None
    assert wrong.told in text
    assert sum(not line.startswith(" ") for line in text.splitlines()) == 1, text


@pytest.mark.slow
def test_both_of_any_two_are_told(tmp_path):
    hidden, tried = set(), 0
    for pair in combinations(WRONGS, 2):
        demand = "log" if "log" in map(of_demand, pair) else "drawn"
        text = told(pair, demand, tmp_path)
        if text is None:
            continue
        if slips := [wrong for wrong in pair if wrong.name in SLIPS]:
            assert any(wrong.told in text for wrong in slips)
            continue
        tried += 1
        first, second = pair
        if second.told not in text:
            hidden.add((first.name, second.name))
        if first.told not in text:
            hidden.add((second.name, first.name))
    assert tried > 600
    assert hidden == set(FOLLOWS)
