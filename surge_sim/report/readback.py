"""A scenario read back to the planner: what it says, and what arithmetic makes of it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict
from typing import Any

from surge_sim.cautions import CAUTION_IN_ONE_LINE, CAUTION_LINES
from surge_sim.demand.expected import ExpectedLoad, expected_load
from surge_sim.demand.replay import replay_of
from surge_sim.demand.warned import all_warnings
from surge_sim.report.gear_words import kit_words
from surge_sim.report.lines import broken
from surge_sim.report.replay_words import NOT_COVERED, drawn_words, must_keep
from surge_sim.report.rounding import for_json, number
from surge_sim.report.scenario_words import (
    care_words,
    demand_words,
    money_words,
    policy_words,
    target_sentence,
)
from surge_sim.report.time_words import date_of_day
from surge_sim.scenario.advice import invented_prices
from surge_sim.scenario.ranges import Range
from surge_sim.scenario.scenario import Scenario
from surge_sim.scenario.schema import Settings
from surge_sim.scenario.tree import value_at
from surge_sim.units import duration_text

COLUMNS = 80
#: sections that are choices or labels, and need no source
_NEED_NO_SOURCE = {"title", "question", "note", "start", "horizon", "run_off", "limits", "sources"}


def read_back(scenario: Scenario) -> str:
    """Return the scenario in plain sentences, with the average-rate arithmetic.

    Lines are 80 columns at most; the caution stands at the end.
    """
    settings = scenario.settings
    load = expected_load(settings)
    blocks = [
        [*_wrapped(settings.title), *_wrapped(settings.question), *_wrapped(settings.note)],
        _listed("Who comes", _who_comes(scenario)),
        _listed("Care", care_words(settings)),
        _listed("Kits", kit_words(settings)),
        _listed("Arranged", policy_words(settings)),
        _listed(
            "Not known exactly, drawn once per surge",
            [range_words(one, scenario) for one in scenario.ranges],
        ),
        [_heading("At average rates"), *_load_lines(load, scenario)],
        _listed("The promise", [target_sentence(settings, must_keep(replay_of(scenario)))]),
        _listed("Prices and limits", money_words(settings)),
        _listed("Sources", _source_words(scenario)),
        _listed("Look at", _look_at(scenario)),
        list(CAUTION_LINES),
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block)


def _who_comes(scenario: Scenario) -> list[str]:
    replay = replay_of(scenario)
    covers = [] if replay is None else [f"{NOT_COVERED} {drawn_words(replay)}"]
    return [*demand_words(scenario.settings), *covers]


def _heading(text: str) -> str:
    return f"{text}:"


def _wrapped(text: str, first: str = "", rest: str = "") -> list[str]:
    return broken(" ".join(text.split()), COLUMNS, first, rest)


def _listed(heading: str, sentences: Any) -> list[str]:
    lines = [line for one in sentences for line in _wrapped(one, "  ", "    ")]
    return [_heading(heading), *lines] if lines else []


def _look_at(scenario: Scenario) -> list[str]:
    said = invented_prices(scenario.settings)
    return [*all_warnings(scenario), *([said] if said else [])]


def range_words(one: Range, scenario: Scenario) -> str:
    """Say one uncertain input as it is written: its name, ends and likely value."""
    ends = value_at(scenario.tree.root, one.path)
    likely = f", most likely {ends['likely']}" if "likely" in ends else ""
    return f"{one.name}: {ends['low']} to {ends['high']}{likely}."


def _load_lines(load: ExpectedLoad, scenario: Scenario) -> list[str]:
    """Lines of the arithmetic, then the stock against it."""
    stock = scenario.settings.stock
    mean = load.entries_per_day_mean
    rows: list[tuple[str, float | None, float | None, float | None]] = [
        ("entries that need a kit, per day", mean, load.entries_per_day_peak, None),
        ("entries that need a kit, per hour", mean / 24, load.entries_per_day_peak / 24,
         load.entries_in_busiest_hour),
        ("kits busy (check, wear, wipe, dry)", None, load.kits_busy_at_peak,
         load.kits_busy_in_busiest_hour),
        ("batteries busy (in use, charging)", None, load.batteries_busy_at_peak,
         load.batteries_busy_in_busiest_hour),
        ("bays busy (charging all full)", None, load.bays_busy_at_peak,
         load.bays_busy_in_busiest_hour),
        ("kit-hours per day", None, load.kit_hours_per_day_peak, None),
        ("battery-hours of running per day", None, load.battery_hours_per_day_peak, None),
    ]  # fmt: skip
    in_hand = {2: stock.kits, 3: stock.batteries, 4: stock.bays}
    lines = []
    if scenario.settings.arrivals is not None:
        lines += _wrapped(
            f"{number(load.patients_total)} patients in all, at most "
            f"{number(load.census_peak)} in isolation at once.", "  ", "    ",
        )  # fmt: skip
    lines.append(f"  {'':36}{'mean':>8}{'peak day':>11}{'peak hour':>11}{'in hand':>10}")
    for place, (name, *values) in enumerate(rows):
        cells = [number(value) if value is not None else "" for value in values]
        have = f"{in_hand[place]:,}" if place in in_hand else ""
        lines.append(f"  {name:36}{cells[0]:>8}{cells[1]:>11}{cells[2]:>11}{have:>10}".rstrip())
    lines += _wrapped(
        f"The peak day is the 24 h around the middle of day {load.peak_day} "
        f"({date_of_day(scenario.settings.start, load.peak_day):%a %Y-%m-%d}); the peak hour is "
        "the busiest one. Arithmetic knows no queue and no luck: to keep waits "
        "short takes more than what is busy on average, and `surge-sim size` says how much; it "
        "also plays the numbers of the peak day, rounded up.",
        "  ", "  ",
    )  # fmt: skip
    for said in _short_words(load, scenario.settings):
        lines += _wrapped(said, "  ", "  ")
    if scenario.has_ranges:
        lines += _wrapped("Inputs that are not known exactly stand at their central values.",
                          "  ", "  ")  # fmt: skip
    return lines


def _short_words(load: ExpectedLoad, settings: Settings) -> Iterator[str]:
    """Say what the busiest hour asks for beyond the stock in hand, and whether that is a lack.

    Busy bays are what charging every battery full would take. Charging can wait for a quieter
    hour as long as there are batteries to hand out, so too few bays are no lack by themselves; and
    where batteries are taken before they are full, those in a bay are there to be taken.
    """
    stock, early = settings.stock, settings.charging.early_take
    batteries = load.batteries_busy_in_busiest_hour
    if early:
        batteries -= load.bays_busy_in_busiest_hour
    short = [
        f"{name} ({number(needed)} {how}, {held:,} in hand)"
        for name, needed, held, how in (
            ("kits", load.kits_busy_in_busiest_hour, stock.kits, "busy"),
            ("batteries", batteries, stock.batteries, "in use" if early else "busy"),
        )
        if needed > held
    ]
    if short:
        yield f"Even on average the busiest hour needs more than there is: {', '.join(short)}."
    bays = load.bays_busy_in_busiest_hour
    if bays > stock.bays > 0:
        day = load.bays_busy_at_peak
        long = f", and {number(day)} over the whole peak day" if day > stock.bays else ""
        then = (
            "a battery with enough run time left may be taken before it is full, so charging can "
            "wait for a quieter time"
            if early
            else "batteries wait for a bay, which holds up an entry once no full one is left"
        )
        yield (
            f"To charge every battery full at once, the busiest hour asks for {number(bays)} "
            f"bays{long}; {stock.bays:,} in hand. That need not be a lack: {then}. "
            "`surge-sim run` says what entries really wait for."
        )


def _source_words(scenario: Scenario) -> list[str]:
    settings = scenario.settings
    there = {
        name: text
        for name, text in settings.sources.items()
        if name.split(".")[0] in scenario.tree.root
    }
    words = [f"{name}: {text}" for name, text in there.items()]
    gone = [name for name in settings.sources if name not in there]
    if gone:
        words.append(f"Sources are given for what the file does not have: {', '.join(gone)}.")
    named = {name.split(".")[0] for name in settings.sources}
    written = [name for name in scenario.tree.root if name not in _NEED_NO_SOURCE]
    missing = [name for name in written if name not in named]
    if missing:
        words.append(f"No source is given for: {', '.join(missing)}.")
    return words


def read_back_json(scenario: Scenario) -> dict[str, Any]:
    """Return the same for programs: sentences, arithmetic, ranges, warnings."""
    settings = scenario.settings
    stock = settings.stock
    load = {
        name: value if isinstance(value, int) else for_json(value, 4)
        for name, value in asdict(expected_load(settings)).items()
    }
    return {
        "scenario": scenario.name,
        "title": settings.title,
        "sha256": scenario.sha256,
        "horizon_days": round(settings.horizon / 86_400, 4),
        "sentences": {
            "who_comes": _who_comes(scenario),
            "care": list(care_words(settings)),
            "kits": list(kit_words(settings)),
            "arranged": list(policy_words(settings)),
            "promise": target_sentence(settings, must_keep(replay_of(scenario))),
            "prices_and_limits": list(money_words(settings)),
        },
        "at_average_rates": load,
        "stock": {"kits": stock.kits, "batteries": stock.batteries, "bays": stock.bays},
        "ranges": [
            {"name": one.name, "kind": one.kind, "low": one.low, "likely": one.likely,
             "high": one.high, "words": range_words(one, scenario)}
            for one in scenario.ranges
        ],
        "inputs": dict(scenario.inputs),
        "sources": dict(settings.sources),
        "warnings": _look_at(scenario),
        "target_wait": duration_text(settings.target.wait),
        "caution": CAUTION_IN_ONE_LINE,
    }  # fmt: skip
