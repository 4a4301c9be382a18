"""The answer of a check: what is doubtful, the average workload, and what the file says."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict
from typing import Any

from surge_sim.cautions import CAUTION, CAUTION_IN_SHORT
from surge_sim.demand.replay import replay_of
from surge_sim.equipment.average_load import (
    ExpectedLoad,
    all_warnings,
    expected_load,
    run_in_shows_s,
)
from surge_sim.equipment.stock import stock_in_hand
from surge_sim.report.document import (
    Answer,
    Block,
    Column,
    Document,
    Heading,
    Remark,
    Rows,
    Sentences,
    Table,
    document,
)
from surge_sim.report.gear_words import choices_in_short, kit_words
from surge_sim.report.phrases import (
    NOT_COVERED,
    drawn_words,
    must_keep,
    target_sentence,
    target_words,
)
from surge_sim.report.rounding import about, counted, date_of_day, for_json, listed, number
from surge_sim.report.scenario_words import care_words, demand_words, money_words, policy_words
from surge_sim.scenario.advice import invented_prices, nobody_wipes
from surge_sim.scenario.load import Scenario
from surge_sim.scenario.ranges import Range
from surge_sim.scenario.schema import Settings
from surge_sim.scenario.yaml_text import value_at
from surge_sim.statistics.warnings import single_charger_words
from surge_sim.units import duration_text

#: sections that are choices or labels, and need no source
_NEED_NO_SOURCE = {
    "title", "question", "note", "start", "horizon", "run_out", "run_in", "limits", "sources",
}  # fmt: skip


def check_answer(scenario: Scenario, full: bool = False, sources: bool = False) -> Document:
    """Return what is doubtful in a scenario and its average workload against the stock.

    Parameters
    ----------
    scenario : Scenario
        A file without faults.
    full : bool
        Also read the whole file back in sentences.
    sources : bool
        Also list where the numbers come from.
    """
    settings = scenario.settings
    load = expected_load(settings)
    warnings = _warnings(scenario)
    hints = [
        f"`{option}` {what}"
        for option, what, shown in (
            ("--full", "reads the file back", full),
            ("--sources", "names its sources", sources),
        )
        if not shown
    ]
    return document(
        Heading(settings.title or scenario.name, 1),
        Answer(_answer(load, settings, len(warnings))),
        *(Remark("warning", text) for text in warnings),
        Heading("Average number in use at a time, without queues or random variation"),
        _workload(load, scenario),
        Rows(tuple(_rows(load, scenario, full))),
        *(_read_back(scenario) if full else ()),
        *(_sources(scenario) if sources else ()),
        # a screen with warnings has no line to spare
        Remark("note", f"{' and '.join(hints)}.") if hints and (full or not warnings) else None,
        Remark("caution", CAUTION_IN_SHORT),
    )


def _answer(load: ExpectedLoad, settings: Settings, warnings: int) -> str:
    doubts = counted(warnings, "warning") if warnings else "no warnings"
    return f"The file can be used: no faults in it, {doubts}. {_averages(load, settings)}"


def _averages(load: ExpectedLoad, settings: Settings) -> str:
    """Say what exceeds the stock in the busiest hour on average, and what that does not say."""

    def beyond(needs: Iterator[tuple[str, float, int]]) -> list[tuple[str, float, int]]:
        return [(name, needed, held) for name, needed, held in needs if needed > held]

    short, charging = beyond(_needs(load, settings)), beyond(_to_charge_at_once(load, settings))
    if not short and not charging:
        return "Averages alone do not show that the stock is enough: see `surge-sim run`."
    early, said = settings.charging.partial_charge_at_reissue, []
    if short:
        # where every battery is charged full, what is short in the same hour is one list
        exceeds = _against_stock([*short, *([] if early else charging)])
        said.append(f"In the busiest hour average demand exceeds the stock: {exceeds}.")
    if charging and (early or not short):
        no_wait = "waits for a bay" + (" or is reissued partly charged" if early else "")
        are = "are needed in the busiest hour"
        said.append(f"So that no battery {no_wait}, {_against_stock(charging)} {are}.")
    said.append("Averages alone do not show whether the target is met: see `surge-sim run`.")
    return " ".join(said)


def _against_stock(needs: Sequence[tuple[str, float, int]]) -> str:
    """Say numbers with the stock: ``28.6 kits (28 in stock), 39.9 bays (36)``."""
    (first, needed, held), *others = needs
    said = [f"{number(needed)} {first} ({held:,} in stock)"]
    said += [f"{number(needed)} {name} ({held:,})" for name, needed, held in others]
    return ", ".join(said)


def _needs(load: ExpectedLoad, settings: Settings) -> Iterator[tuple[str, float, int]]:
    """Yield what the busiest hour needs of kits and batteries, and how many there are.

    Where batteries may be reissued with a partial charge, those in a bay are there to be taken.
    Bays are not among them: charging can wait for a quieter hour, so too few are no lack yet.
    """
    stock = settings.stock
    batteries = load.batteries_busy_in_busiest_hour
    if settings.charging.partial_charge_at_reissue:
        batteries -= load.bays_busy_in_busiest_hour
    yield "kits", load.kits_busy_in_busiest_hour, stock.kits
    yield "batteries", batteries, stock.batteries
    large = settings.supplies.large_hoods
    if large is not None:
        share = settings.kit.large_hood_share
        yield "large hoods", share * load.kits_busy_in_busiest_hour, large.spare


def _to_charge_at_once(load: ExpectedLoad, settings: Settings) -> Iterator[tuple[str, float, int]]:
    """Yield what it would take to charge each battery at once to full, if that is not needed."""
    stock = settings.stock
    if settings.charging.partial_charge_at_reissue:
        yield "batteries", load.batteries_busy_in_busiest_hour, stock.batteries
    yield "bays", load.bays_busy_in_busiest_hour, stock.bays


def _workload(load: ExpectedLoad, scenario: Scenario) -> Table:
    """Return how many of each thing are in use at a time on average, and the stock."""
    settings, stock = scenario.settings, scenario.settings.stock
    rows: list[tuple[str, float, float, int | None]] = [
        ("Kits: check, wear, clean", load.kits_busy_at_peak,
         load.kits_busy_in_busiest_hour, stock.kits),
        ("Batteries: in use or charging", load.batteries_busy_at_peak,
         load.batteries_busy_in_busiest_hour, stock.batteries),
        ("Bays", load.bays_busy_at_peak, load.bays_busy_in_busiest_hour, stock.bays),
    ]  # fmt: skip
    share, large = settings.kit.large_hood_share, settings.supplies.large_hoods
    if share:
        busy = share * load.kits_busy_at_peak, share * load.kits_busy_in_busiest_hour
        rows.append(("Large hoods", *busy, None if large is None else large.spare))
    return Table(
        (
            Column(_central(scenario), align="left"),
            Column(f"busiest day (day {load.peak_day})"),
            Column("busiest hour"), Column("stock"),
        ),
        tuple(
            (name, *("" if value is None else number(value) for value in values))
            for name, *values in rows
        ),
    )  # fmt: skip


def _rows(load: ExpectedLoad, scenario: Scenario, full: bool) -> Iterator[tuple[str, str]]:
    settings = scenario.settings
    yield "Surge", _surge(load, settings)
    yield (
        "Entries",
        f"{number(load.entries_per_day_mean)} on an average day, "
        f"{number(load.entries_per_day_peak)} on the busiest, "
        f"{number(load.entries_in_busiest_hour)} in the busiest hour",
    )
    if settings.arrivals is not None:
        yield "Patients", _patients(load, settings)
    if full:
        day = date_of_day(settings.start, load.peak_day)
        yield "Busiest day", f"day {load.peak_day} ({day:%a %Y-%m-%d})"
    if left_out := list(_not_counted(settings)):
        yield "Not counted", "; ".join(left_out)
    yield "Target", target_words(settings.target, must_keep(replay_of(scenario)))
    if full:
        yield "Rules", choices_in_short(settings)
        yield "Confidence", "averages ignore queueing and random variation: see `surge-sim size`"


def _central(scenario: Scenario) -> str:
    """Say that uncertain inputs are at one value here, if there are any."""
    if not scenario.has_ranges:
        return ""
    value = "uncertain input at typical value", "uncertain inputs at typical values"
    return counted(len(scenario.ranges), *value)


def _patients(load: ExpectedLoad, settings: Settings) -> str:
    """Say how many patients come, and how many are present at the peak against the rooms."""
    total, peak = number(load.patients_total), number(load.census_peak)
    said = f"{total} in all, {peak} at a time at the peak"
    if settings.rooms is None:
        return said
    said += f"; {counted(settings.rooms.count, 'room')}"
    return said if load.census_peak <= settings.rooms.count else f"{said}: some must wait"


def _not_counted(settings: Settings) -> Iterator[str]:
    """Yield what would make a real surge harder and is not in these numbers."""
    if not settings.carrying.model_fields_set:
        yield "fetching and returning kits: measure it (`carrying`)"
    failures = settings.failures
    kinds = {
        "blowers": failures.blower_run_between_failures,
        "batteries": failures.battery_run_between_failures,
        "chargers": failures.charger_time_between_failures,
    }
    if missing := [name for name, rate in kinds.items() if rate is None]:
        what = "equipment" if len(missing) == len(kinds) else listed(missing)
        yield f"failures of {what} (none in the file)"
    if settings.cleaning.by == "crew":
        yield "cleaners (`run` does)"


def _surge(load: ExpectedLoad, settings: Settings) -> str:
    """Say how long the surge is, how it begins, and for how long that shows."""
    long = duration_text(settings.horizon)
    said = f"{long} from {settings.start:%A %Y-%m-%d %H:%M}"
    if settings.run_in:
        said += f", in use at the start after {duration_text(settings.run_in)} of ordinary demand"
        if run_in_shows_s(settings) < settings.run_in:
            return said
        return (
            f"{said}, in which not every battery has been used and charged again on average; "
            "a longer `run_in` would hide that all were full at first"
        )
    share = f"{number(100 * load.start_shows_s / settings.horizon)} %"
    said = (
        f"{said}. All is clean and charged then, which flatters the first "
        f"{about(load.start_shows_s)} ({share})"
    )
    # a log has no ordinary demand to begin with
    return said if settings.entries is not None else f"{said}; `run_in` avoids that"


def _read_back(scenario: Scenario) -> Iterator[Block]:
    """Yield the whole file in sentences, section by section."""
    settings = scenario.settings
    yield Heading("Question")
    yield Sentences(tuple(text for text in (settings.question, settings.note) if text))
    ranges = [range_words(one, scenario) for one in scenario.ranges]
    for heading, sentences in (
        ("Patient arrivals", _arrivals(scenario)),
        ("Care", care_words(settings)),
        ("Equipment", kit_words(settings)),
        ("Operating rules", policy_words(settings)),
        ("Uncertain inputs (sampled once per simulated surge)", ranges),
        ("Prices and search limits", money_words(settings)),
    ):
        items = tuple(sentences)
        if items:
            yield Heading(heading)
            yield Sentences(items)


def _arrivals(scenario: Scenario) -> list[str]:
    replay = replay_of(scenario)
    covers = [] if replay is None else [f"{NOT_COVERED} {drawn_words(replay)}"]
    return [*demand_words(scenario.settings), *covers]


def _warnings(scenario: Scenario) -> list[str]:
    settings = scenario.settings
    alone = single_charger_words(stock_in_hand(settings), settings)
    said = (nobody_wipes(settings), alone, invented_prices(settings))
    some = (one for one in said if one)
    return [*all_warnings(scenario), *some, *_without_source(scenario)]


def range_words(one: Range, scenario: Scenario) -> str:
    """Say one uncertain input as it is written: its name, ends and likely value."""
    ends = value_at(scenario.tree.root, one.path)
    likely = f", most likely {ends['likely']}" if "likely" in ends else ""
    return f"{one.name}: {ends['low']} to {ends['high']}{likely}."


def _sources(scenario: Scenario) -> Iterator[Block]:
    yield Heading("Sources")
    root = scenario.tree.root
    yield Rows(
        tuple(
            (name, text)
            for name, text in scenario.settings.sources.items()
            if name.split(".")[0] in root
        )
    )


def _without_source(scenario: Scenario) -> Iterator[str]:
    """Say which sections have no source, and which sources no section."""
    root, sources = scenario.tree.root, scenario.settings.sources
    gone = [name for name in sources if name.split(".")[0] not in root]
    if gone:
        yield f"Sources are given for what the file does not have: {', '.join(gone)}."
    named = {name.split(".")[0] for name in sources}
    missing = [
        name
        for name in root
        if name not in _NEED_NO_SOURCE and name not in named and not _is_default(scenario, name)
    ]
    if missing:
        yield f"No source is given for: {', '.join(missing)}."


def _is_default(scenario: Scenario, name: str) -> bool:
    """Say whether a section is as it would be if the file left it out."""
    field = Settings.model_fields[name]
    default = field.get_default(call_default_factory=True)
    return not field.is_required() and bool(getattr(scenario.settings, name) == default)


def check_json(scenario: Scenario) -> dict[str, Any]:
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
            "arrivals": _arrivals(scenario),
            "care": list(care_words(settings)),
            "kits": list(kit_words(settings)),
            "operating_rules": list(policy_words(settings)),
            "service_target": target_sentence(settings.target, must_keep(replay_of(scenario))),
            "prices_and_limits": list(money_words(settings)),
        },
        "average_workload": load,
        "stock": {"kits": stock.kits, "batteries": stock.batteries, "bays": stock.bays},
        "ranges": [
            {"name": one.name, "kind": one.kind, "low": one.low, "likely": one.likely,
             "high": one.high, "words": range_words(one, scenario)}
            for one in scenario.ranges
        ],
        "inputs": dict(scenario.inputs),
        "sources": dict(settings.sources),
        "warnings": _warnings(scenario),
        "target_wait": duration_text(settings.target.wait),
        "caution": CAUTION,
    }  # fmt: skip
