"""One scenario with every setting at once: nothing is left out, all of it is said, tables add up.

What excludes another setting stands in `ALTERNATIVES`, and is played too.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any, Literal, get_args, get_origin

import numpy as np
import pytest
from pydantic import BaseModel

from surge_sim.engine.log import Alarm, Count, Outcome, RunLog, Use
from surge_sim.engine.play import play
from surge_sim.engine.verify import compare_engines
from surge_sim.equipment.situation import Situation, situation_of
from surge_sim.equipment.stock import Stock, stock_in_hand
from surge_sim.report.check_answer import check_answer
from surge_sim.report.gear_words import kit_words
from surge_sim.report.phrases import target_sentence
from surge_sim.report.scenario_words import care_words, demand_words, money_words, policy_words
from surge_sim.report.terminal import render
from surge_sim.scenario.load import Scenario, load_scenario, scenario_from_text
from surge_sim.scenario.patients import DayWeights
from surge_sim.scenario.schema import Settings
from surge_sim.scenario.spread import TimeSpread
from surge_sim.statistics.run import run

FOLDER = Path(__file__).parent
FILE = FOLDER / "every_feature.yaml"

#: what cannot stand beside the rest: settings that only the alternative has, old text, new text
ALTERNATIVES: dict[str, tuple[set[str], list[tuple[str, str]]]] = {
    "wearer": (
        {"cleaning.places"},
        [
            ("  by: crew\n", "  by: wearer\n  places: 2\n"),
            ("  crew:\n    - {start: 07:00, end: 19:00, cleaners: 3}\n"
             "    - {start: 19:00, end: 07:00, cleaners: 2}\n", ""),
            ("after_maximum_wait: postponed", "after_maximum_wait: leaves the queue"),
            ("kit: held for a shift", "kit: per entry"),
            ("partial_charge_at_reissue: no", "partial_charge_at_reissue: yes"),
            ("issued: any usable", "issued: fullest"),
            ("end_of_charge: exponential", "end_of_charge: straight"),
            ("at_start: part worn", "at_start: new"),
            ("initial_stay: residual", "initial_stay: full"),
            ("cleaners: 1, shift: 07:00,", "cleaners: 1,"),
            ("  - {what: extra cleaners, cleaners: 1, shift: 19:00, at: 90 h, lasts: 1 d}\n", ""),
            ("filters: both", "filters: HE filters"),
            ("supply: all", "supply: hoods"),
            ("late_by: delay", "late_by: wait"),
        ],
    ),
    "central": (
        {"cleaning.rounds", "cleaning.turnaround"},
        [
            ("  by: crew\n  wipe_down: {shape: gamma, mean: 4 min, cv: 40 %}\n",
             "  by: central\n  rounds: [06:00, 12:00, 18:00]\n  turnaround: 4 h\n"),
            ("  crew:\n    - {start: 07:00, end: 19:00, cleaners: 3}\n"
             "    - {start: 19:00, end: 07:00, cleaners: 2}\n", ""),
            ("when_full: board", "when_full: divert"),
            ("cleaners: 1, shift: 07:00,", "cleaners: 1,"),
            ("  - {what: extra cleaners, cleaners: 1, shift: 19:00, at: 90 h, lasts: 1 d}\n", ""),
            ("when: with a kit", "when: after clearance"),
            ("issued: any usable", "issued: least charged that will do"),
            ("  age: {ages: [90 d, 700 d, 1500 d], fade_per_year: {low: 8 %, high: 14 %}}",
             "  state_of_health: [100 %, 90 %, 75 %]"),
            ("filters: both", "filters: prefilters"),
            ("supply: all", "supply: HE filters"),
            ("kit: held for a shift", "kit: per round"),
        ],
    ),
    "log": (
        {"batteries.state_of_health", "entries"},
        [("supply: all", "supply: prefilters"), ("any usable", "longest on the shelf"),
         ("run_in: 1 d\n", ""),
         ("  - {what: extra patients, arrivals: 180 %, at: 5 d, lasts: 2 d}\n", "")],
    ),
    "tubes": (set(), [("supply: all", "supply: tubes")]),
    "large hoods": (set(), [("supply: all", "supply: large hoods")]),
}  # fmt: skip

#: what the loader fills in, and a spread's parts: each way to write a spread is checked below
FILLED_IN = {"arrivals.daily_counts.counts"}
LABELS = {"title", "question", "note", "sources", "stock"}


def alternative(name: str) -> Scenario:
    """The scenario with one alternative in the place of what excludes it."""
    text = FILE.read_text("utf-8")
    if name == "log":
        start, end = text.index("arrivals:\n"), text.index("policy:\n")
        text = text[:start] + "entries: {from: log.csv}\n\n" + text[end:]
        text = text.replace("  bundled_care: {entries: 80 %, room_time: 115 %, roles: [nurse]}\n",
                            "")  # fmt: skip
        text = text.replace("  age: {ages: [90 d, 700 d, 1500 d], fade_per_year: {low: 8 %, "
                            "high: 14 %}}", "  state_of_health: 90 %")  # fmt: skip
    for old, new in ALTERNATIVES[name][1]:
        assert old in text, old
        text = text.replace(old, new)
    return scenario_from_text(text, name=name, folder=FOLDER)


@cache
def everything() -> Scenario:
    return load_scenario(FILE)


# --- nothing is left out ---------------------------------------------------------------------


def sections_in(annotation: Any) -> list[type[BaseModel]]:
    """Sections that may stand at a field, spreads of times apart."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [] if annotation is TimeSpread else [annotation]
    return [one for part in get_args(annotation) for one in sections_in(part)]


def absent(model: type[BaseModel], written: list[Any], path: str) -> Iterator[str]:
    """Fields of a section that stand in none of the places where it is written."""
    for name, field in model.model_fields.items():
        where = f"{path}.{name}" if path else name
        if where in FILLED_IN or field.exclude:
            continue
        values = [one[field.alias or name] for one in written if (field.alias or name) in one]
        if not values:
            yield where
            continue
        inner = [
            one
            for value in values
            for one in (
                value if isinstance(value, list)
                else value.values() if get_origin(field.annotation) is dict
                else [value]
            )
        ]  # fmt: skip
        for section in sections_in(field.annotation):
            mine = [one for one in inner if isinstance(one, dict) and fits(section, one)]
            if mine:
                yield from absent(section, mine, where)
            elif not any("what" in one for one in inner if isinstance(one, dict)):
                yield where
            else:
                yield f"{where}: {section.__name__}"


def fits(section: type[BaseModel], written: dict[str, Any]) -> bool:
    """Whether a mapping is of a section, among changes by its sort."""
    what = section.model_fields.get("what")
    return what is None or written.get("what") in get_args(what.annotation)


def test_the_scenario_leaves_no_setting_absent_but_those_of_an_alternative():
    """A new setting of the schema has to be written here, or this fails."""
    left = set(absent(Settings, [dict(everything().tree.root)], ""))
    allowed = set().union(*(only for only, _ in ALTERNATIVES.values()))
    assert left == allowed


@pytest.mark.parametrize("name", ALTERNATIVES)
def test_an_alternative_writes_what_it_is_for(name: str):
    left = set(absent(Settings, [dict(alternative(name).tree.root)], ""))
    assert not left & ALTERNATIVES[name][0]


def test_a_setting_that_is_left_out_is_found():
    root = dict(everything().tree.root)
    short = {**root, "kit": {k: v for k, v in root["kit"].items() if k != "recheck"}}
    short["timeline"] = [one for one in root["timeline"] if one["what"] != "power outage"]
    left = set(absent(Settings, [short], ""))
    assert {"kit.recheck", "timeline: PowerOutage"} <= left


def choices(model: type[BaseModel], path: str = "") -> Iterator[tuple[str, Any]]:
    """Every option of every choice in the schema."""
    for name, field in model.model_fields.items():
        where = f"{path}.{name}" if path else name
        if get_origin(field.annotation) is Literal and name != "what":
            yield from ((where, option) for option in get_args(field.annotation))
        for section in sections_in(field.annotation):
            yield from choices(section, where)


def taken(value: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    """Every text in settings with its place, names of classes and roles left out."""
    if isinstance(value, BaseModel):
        for name in type(value).model_fields:
            yield from taken(getattr(value, name), f"{path}.{name}" if path else name)
    elif isinstance(value, dict):
        for one in value.values():
            yield from taken(one, path)
    elif isinstance(value, tuple):
        for one in value:
            yield from taken(one, path)
    elif isinstance(value, str):
        yield path, value


def test_every_option_of_every_choice_is_played_in_one_of_the_scenarios():
    played = set(taken(everything().settings))
    for name in ALTERNATIVES:
        played |= set(taken(alternative(name).settings))
    assert set(choices(Settings)) - played == set()


def test_every_shape_of_a_time_stands_in_it():
    shapes = {text for path, text in taken(everything().settings) if path.endswith("shape")}
    assert shapes == {"fixed", "lognormal", "gamma", "weibull", "exponential", "empirical"}


def test_a_range_and_a_triangle_stand_in_it():
    assert {one.likely is None for one in everything().ranges} == {True, False}


# --- all of it is said -----------------------------------------------------------------------


def said(settings: Settings) -> str:
    """Every sentence of the reading back, without the arithmetic."""
    return "\n".join(
        [*demand_words(settings), *care_words(settings), *kit_words(settings),
         *policy_words(settings), target_sentence(settings.target), *money_words(settings)]
    )  # fmt: skip


def leaves(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[tuple[Any, ...], Any]]:
    """Each single setting: weights of hours and days, spreads and lists of ages are one."""
    if isinstance(value, BaseModel) and not isinstance(value, TimeSpread | DayWeights):
        for name in type(value).model_fields:
            if path or name not in LABELS:
                yield from leaves(getattr(value, name), (*path, name))
    elif isinstance(value, dict):
        for name, one in value.items():
            yield from leaves(one, (*path, name))
    elif isinstance(value, tuple) and value and isinstance(value[0], BaseModel):
        for place, one in enumerate(value):
            yield from leaves(one, (*path, place))
    else:
        yield path, value


def other(value: Any) -> Any:
    """Another value of the same sort, far enough away to be said otherwise."""
    if isinstance(value, bool):
        return not value
    if isinstance(value, int):
        return 2 * value + 3_600 if value > 60 else value + 1
    if isinstance(value, float):
        return value * 0.75
    if isinstance(value, str):
        another = {"postponed": "leaves the queue", "any usable": "fullest"}
        return another.get(value, f"not {value}")
    if isinstance(value, TimeSpread):
        return TimeSpread(shape="fixed", mean=7_777)
    if isinstance(value, DayWeights):
        return DayWeights()
    if isinstance(value, tuple):
        return None if len(value) == 24 else value[:-1]
    if hasattr(value, "replace"):
        return value.replace(month=3)
    raise AssertionError(f"no other value for {value!r}")


def put(value: Any, path: tuple[Any, ...], new: Any) -> Any:
    """A copy with one setting changed."""
    if not path:
        return new
    step, *rest = path
    if isinstance(value, BaseModel):
        inner = put(getattr(value, step), tuple(rest), new)
        return value.model_copy(update={step: inner})
    if isinstance(value, dict):
        return {**value, step: put(value[step], tuple(rest), new)}
    return (*value[:step], put(value[step], tuple(rest), new), *value[step + 1 :])


def unsaid(settings: Settings) -> set[str]:
    """Settings of which the sentences say nothing: changing them changes no word."""
    before, silent = said(settings), set()
    for path, value in leaves(settings):
        dotted = ".".join(map(str, path))
        # absent, or the discriminator itself
        if value is None or value == () or path[-1] == "what" or dotted in FILLED_IN:
            continue
        changed = put(settings, path, other(value))
        if said(changed) == before:
            silent.add(dotted)
    return silent


def test_every_setting_is_said_in_words():
    """Another value of any setting changes a sentence."""
    settings = everything().settings
    silent = unsaid(settings)
    # no part of the rest: a battery's age takes the place of its health, a crew that of rounds,
    # the lowest level has the life itself, and shifts belong to named wearers
    unused = {"batteries.state_of_health", "cleaning.turnaround", "kit.levels.0.further_life",
              "roles.physician.shifts", "roles.housekeeping.shifts"}  # fmt: skip
    assert silent == unused


def test_a_setting_that_is_not_said_is_found(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr("tests.everything.test_every_feature.policy_words", lambda settings: [])
    assert "policy.wipe_between_visits" in unsaid(everything().settings)


def check(scenario: Scenario) -> str:
    """All that `check` can say, on one line."""
    return " ".join(render(check_answer(scenario, full=True, sources=True)).split())


def test_what_is_not_known_exactly_and_what_is_in_hand_are_said():
    text = check(everything())
    for words in (
        "arrivals.baseline: 0.6 per day to 1.2 per day, most likely 0.8 per day",
        "batteries.age.fade_per_year: 8 % to 14 %",
        "stock",
        "policy invented",
    ):
        assert words in text


@pytest.mark.parametrize("name", ALTERNATIVES)
def test_alternatives_are_said_too(name: str):
    scenario = alternative(name)
    text = check(scenario)
    words = {
        "wearer": "The wearer wipes the kit down at 2 places",
        "central": "Kits are collected at 06:00, 12:00, 18:00 and back with the first round",
        "log": "the 40 entries recorded in log.csv, 6 of them urgent, are replayed",
        "tubes": "Timeline: late delivery (tubes)",
        "large hoods": "Timeline: late delivery (large hoods)",
    }[name]
    assert words in text
    assert scenario.warnings == ()


# --- the tables add up -----------------------------------------------------------------------


@cache
def played(surge: int, name: str = "") -> tuple[Situation, RunLog]:
    """One surge of the scenario with its log."""
    scenario = alternative(name) if name else everything()
    case = situation_of(scenario, stock_in_hand(scenario.settings), surge=surge)
    return case, play(*case)


SURGES = (0, 1)


def test_two_surges_meet_every_rule_that_leaves_a_count():
    """Alarms of each cause, failed checks, stock-outs ...: nothing stands in the file in vain."""
    counts = sum(played(surge)[1].counts for surge in SURGES)
    never = [Count(place).name for place in np.flatnonzero(counts == 0).tolist()]
    assert set(never) <= {"STOCK_OUTS_HOODS", "STOCK_OUTS_HE_FILTERS"}
    outcomes = set(np.concatenate([played(surge)[1].outcome for surge in SURGES]).tolist())
    assert {Outcome.SERVED, Outcome.RENEGED} <= outcomes


#: the reference engine takes seconds for each of the others
SOON_PLAYED = ("wearer", "log")


@pytest.mark.parametrize(
    "name",
    [
        pytest.param(name, marks=[] if name in SOON_PLAYED else pytest.mark.slow)
        for name in ("", *ALTERNATIVES)
    ],
)
def test_both_engines_agree_on_it(name: str):
    case, _ = played(0, name)
    assert compare_engines(case).differing == ()


@pytest.mark.parametrize("name", ["", *ALTERNATIVES])
def test_entries_uses_alarms_and_parts_add_up(name: str):
    """What the counts say is what the rows say."""
    case, log = played(0, name)
    trace = case.demand
    counts = log.counts
    served, reached_maximum_wait = (log.outcome == one for one in (Outcome.SERVED, Outcome.RENEGED))
    # each entry has one first need; what follows is the rest after an alarm or a postponed visit
    assert np.array_equal(np.flatnonzero(log.part == 0), np.arange(trace.entries))
    postponed = reached_maximum_wait.sum() if case.unit.rules.postponed else 0
    assert len(log.entry) - trace.entries == (log.alarm > 0).sum() + postponed
    for alarm in (Alarm.BATTERY, Alarm.FLOW, Alarm.FAILURE, Alarm.BATTERY_FAILURE):
        # counted when the visit ends, which may be after the close
        mine = (log.alarm == alarm) & (log.end_s <= trace.closing_s)
        assert counts[Count.ALARMS_BATTERY + alarm - 1] == mine.sum()
    assert served.sum() + reached_maximum_wait.sum() + (
        log.outcome == Outcome.WAITING_AT_END
    ).sum() == len(served)
    assert (log.blower[served] >= 0).all()
    assert (log.blower[~served] == -1).all()
    # one check for each kit handed out, and one more after each new prefilter at the door
    assert counts[Count.CHECKS] >= served.sum() + counts[Count.FAILED_CHECKS] / 2
    assert counts[Count.FAILED_CHECKS] >= log.failed_checks.sum()
    # a single-use hood goes with each hand-in, a torn one with its use
    hoods = counts[Count.HOODS_USED] + counts[Count.LARGE_HOODS_USED]
    assert hoods >= counts[Count.WIPE_DOWNS]
    assert counts[Count.TUBES_USED] <= trace.tube_torn.sum() + len(log.entry) - trace.entries


@pytest.mark.parametrize("name", ["", *ALTERNATIVES])
def test_things_add_up_over_time(name: str):
    """Every kit and battery, borrowed ones included, is somewhere in every second."""
    case, log = played(0, name)
    stock, borrowed = case.stock, case.timeline.kits_come
    batteries_come = borrowed + case.timeline.batteries_come
    kits = log.use_area[Use.KITS_IN_USE : Use.KITS_AWAY + 1].sum(axis=0)
    batteries = log.use_area[Use.BATTERIES_IN_USE : Use.BATTERIES_AWAY + 1].sum(axis=0)
    assert set(kits.tolist()) == {(stock.kits + borrowed) * 3_600}
    assert set(batteries.tolist()) == {(stock.batteries + batteries_come) * 3_600}
    assert (log.use_area[Use.BATTERIES_IN_BAY] <= (stock.bays + 4) * 3_600).all()


def test_the_tables_of_a_run_are_the_sums_of_its_surges():
    """Two surges: groups, alarms, consumables and outcomes against the logs themselves."""
    scenario = everything()
    result = run(scenario, surges=2, processes=1)
    logs = [played(surge)[1] for surge in SURGES]
    entries = sum(played(surge)[0].demand.entries for surge in SURGES)
    counts = sum(log.counts for log in logs)
    for table in (result.by_role, result.by_class, result.by_urgency, result.by_day,
                  result.by_hour):  # fmt: skip
        assert 2 * table["entries_per_surge"].sum() == pytest.approx(entries)
    alarms = result.alarms.set_index("cause")["per_surge"]
    assert 2 * alarms.sum() == counts[Count.ALARMS_BATTERY : Count.ALARMS_BATTERY_FAILURE + 1].sum()
    assert result.alarms_per_1000.estimate == pytest.approx(2_000 * alarms.sum() / entries)
    assert result.surges["alarms"].sum() == 2 * alarms.sum()
    used = 2 * result.consumables.set_index("what")["per_surge"]
    cleans = counts[Count.WIPE_DOWNS] + counts[Count.SHORT_WIPES]
    assert used["wipes"] == 3 * cleans
    for name, count in (("hoods", Count.HOODS_USED), ("tubes", Count.TUBES_USED),
                        ("prefilters", Count.PREFILTERS_USED),
                        ("HE filters", Count.HE_FILTERS_USED),
                        ("large hoods", Count.LARGE_HOODS_USED)):  # fmt: skip
        assert used[name] == counts[count]
    stock_outs = counts[Count.STOCK_OUTS_HOODS : Count.STOCK_OUTS_LARGE_HOODS + 1].sum()
    assert result.surges["stock_outs"].sum() == stock_outs
    unserved = [len(set(log.entry[log.outcome != Outcome.SERVED].tolist())) for log in logs]
    assert result.surges["unserved"].tolist() == unserved
    hours = result.cause_of_waiting["hours_per_surge"].sum()
    waited_s = sum(int(log.wait_s.sum()) for log in logs)
    assert 2 * hours == pytest.approx(waited_s / 3_600)


def test_money_adds_up():
    """Two kits, three batteries, five bays (two chargers of four), a cleaner, a tube, a hood of
    each size.
    """
    from surge_sim.equipment.stock import money

    prices = everything().settings.prices
    none = Stock(0, 0, 0)
    some = dataclasses.replace(none, kits=2, batteries=3, bays=5, extra_cleaners=1, extra_hoods=1,
                               extra_tubes=1, extra_large_hoods=1)  # fmt: skip
    expected = 2 * 1400 + 3 * 240 + 2 * 520 + 2500 + 35 + 60 + 38
    assert money(none, some, prices) == expected
