"""The answer of a run on one screen: 80 columns, 28 lines at most."""

from __future__ import annotations

import pandas as pd

from surge_sim.cautions import CAUTION_LINES
from surge_sim.report.cause_words import waiting_words
from surge_sim.report.lines import broken
from surge_sim.report.recorded_words import recorded_words
from surge_sim.report.replay_words import must_keep, per_play, replay_words
from surge_sim.report.rounding import (
    half_width,
    minutes,
    number,
    number_with_limits,
    percent,
    percent_range,
)
from surge_sim.report.run_notes import run_notes
from surge_sim.report.scenario_words import disruption_words
from surge_sim.report.target_words import enough_words, target_words
from surge_sim.statistics.intervals import Interval
from surge_sim.statistics.result import RunResult

COLUMNS, LINES = 80, 28
_INDENT = 19
#: short names of the causes of alarms, in the order of their table
_CAUSES = {"battery nearly spent": "battery", "flow too low": "flow", "blower fault": "fault"}


def run_text(result: RunResult) -> str:
    """Return the answer in words; intervals are 95 % ones."""
    title = _wrapped(f"{result.title}; seed {result.seed}", most=1)
    question = broken(result.question, COLUMNS)
    stock = [*_wrapped(_stock_words(result), most=3), *_disruptions(result)]
    replay = result.replay
    period = [] if replay is None else _wrapped(replay_words(replay, result.surges_played))
    verdict = [*period, *_wrapped(_verdict(result), most=2)]
    # the caution comes last and is never cut, and notes are said whole if that is possible at
    # all; where it is tight, empty lines go first, then limits that the tables have too; a
    # question is cut only where it leaves no room for that
    warnings = run_notes(result)
    whole = sum(len(_note(warning)) for warning in warnings)
    two, one = (_wrapped(" ".join(question), most=most) for most in (2, 1))
    for notes_kept in (whole, min(whole, 1)):
        kept = LINES - len(CAUTION_LINES) - notes_kept
        for asked, detail, space in (
            (question, 2, [""]), (question, 2, []), (question, 1, []), (two, 1, []), (one, 1, []),
            (one, 0, []),
        ):  # fmt: skip
            numbers = _numbers(result, detail) if result.entries else []
            lines = [*title, *asked, *stock, *verdict, *space, *numbers, *space]
            if len(lines) <= kept:
                break
        if len(lines) <= kept:
            break
    notes = _notes(warnings, LINES - len(lines) - len(CAUTION_LINES))
    return "\n".join([*lines, *notes, *CAUTION_LINES])


def _notes(warnings: tuple[str, ...], room: int) -> list[str]:
    lines: list[str] = []
    for place, warning in enumerate(warnings):
        left = len(warnings) - place
        some = f"{left}{' more' if place else ''} note{'s' if left > 1 else ''}"
        note = _note(warning)
        if len(lines) + len(note) + (left > 1) > room:
            return [*lines, f"{some}: see summary.json, or --json."]
        lines += note
    return lines


def _note(warning: str) -> list[str]:
    return _wrapped(f"Note: {warning}", most=2)


def _stock_words(result: RunResult) -> str:
    stock = result.stock
    # without a kit none is spare: nothing would take the first one
    spare = f" ({stock.spare_batteries:,} spare)" if stock.kits else ""
    words = (
        f"Stock: {stock.kits:,} kits, {stock.batteries:,} batteries{spare}, "
        f"{stock.bays:,} charger bays."
    )
    return f"{words} Target: {target_words(result.target, must_keep(result.replay))}."


def _disruptions(result: RunResult) -> list[str]:
    said = "; ".join(disruption_words(one, result.start) for one in result.disruptions)
    return _wrapped(f"Disruptions: {said}.", most=3) if said else []


def _verdict(result: RunResult) -> str:
    verb = {
        "keeps": "The target is kept",
        "misses": "The target is NOT kept",
        "undecided": "Whether the target is kept cannot be told yet",
    }[result.verdict]
    share = result.surges_on_target
    if result.replay is not None:
        counted = (
            ""
            if result.replay.alike
            else f": in {result.passes:,} of {result.surges_played:,} plays "
            f"({percent(share.estimate)})"
        )
        return f"{verb} on this recorded period{counted}."
    return (
        f"{verb}: {result.passes:,} of {result.surges_played:,} surges were on target "
        f"({percent(share.estimate, half_width(share))}; 95 % interval {percent_range(share)})."
    )


def _numbers(result: RunResult, detail: int) -> list[str]:
    """Rows of numbers; less detail leaves out what stands in the tables of the run too."""
    by_surge = result.share_in_time_by_surge
    spread = result.spread.set_index(["quantity", "share_of_surges"])["estimate"]
    one_in_ten = percent(float(spread[("share_in_time", 0.1)]))
    worst = percent(result.per_surge("worst_day_share", 1.0).estimate)
    in_time, replay, per = result.share_in_time, result.replay, per_play(result.replay)
    rows = [("Entries in time", _share(in_time, " of all entries"))]
    if replay is None:
        rows.append(
            (
                "  surge by surge",
                f"mean {percent(by_surge.estimate)}, large and small ones counted alike; in one "
                f"of ten at most {one_in_ten}; mean worst day {worst}",
            )
        )
    elif replay.alike:
        rows.append(("  worst day", worst))
    else:
        said = f"in one of ten at most {one_in_ten}; mean worst day {worst}"
        rows.append(("  play by play", said))
    urgent = result.urgent_share_in_time
    if urgent.estimate is not None:
        rows.append(("  urgent ones", _share(urgent)))
    wait = {name: minutes(interval.estimate) for name, interval in result.wait_minutes.items()}
    rows += [
        (
            "Wait",
            f"mean {wait['mean']}, median {wait['p50']}, 95 % {wait['p95']}, longest {wait['max']}",
        ),
        *(
            [("Recorded waits", recorded_words(result))]
            if result.recorded_reading is not None
            else []
        ),
        ("Cause of waiting", waiting_words(result.waiting_for)),
        ("Hours lost waiting", f"{number_with_limits(result.per_surge('hours_waited'))} {per}"),
        (
            "Entries",
            f"{number(result.per_surge('entries').estimate)} {per}; "
            f"unmet: {number_with_limits(result.per_surge('unmet'))}",
        ),
        ("Alarms", _alarms(result, detail)),
    ]
    if detail:
        rows.append(("Used", _used(result, detail)))
    lines: list[str] = []
    for name, words in rows:
        wrapped = broken(words, COLUMNS - _INDENT)
        lines.append(f"{name:<{_INDENT}}{wrapped[0]}")
        lines += [" " * _INDENT + more for more in wrapped[1:]]
    if detail > 1 and replay is None:
        lines.append("In brackets: 95 % interval of the average; single surges differ more.")
    return lines


def _alarms(result: RunResult, detail: int) -> str:
    """Alarms of all causes, then by cause, per 1,000 entries."""
    said = f"{number_with_limits(result.alarms_per_1000)} per 1,000 entries"
    causes = _some(result.alarms, "cause", "per_1000_entries", detail)
    if not causes or not detail:
        return said
    return f"{said}: " + ", ".join(f"{_CAUSES[name]} {words}" for name, words in causes.items())


def _used(result: RunResult, detail: int) -> str:
    """Wipes and parts that are enough in the target's share of surges, and repairs."""
    said = []
    for row in result.consumables[result.consumables["enough"] > 0].to_dict("records"):
        limit = _or_none(row["enough_high"])
        most = f" (upper limit {number(limit)})" if detail > 1 and limit is not None else ""
        said.append(f"{number(row['enough'])} {row['what']}{most}")
    share = result.target.share_of_surges
    used = enough_words(said, share, result.replay) if said else "nothing"
    repairs = _some(result.work[result.work["what"] == "blower repairs"], "what", "per_surge", 0)
    return used + "".join(
        f"; {name}: {words} {per_play(result.replay)}" for name, words in repairs.items()
    )


def _some(table: pd.DataFrame, key: str, value: str, detail: int) -> dict[str, str]:
    """Rows of a table that are above 0, in words; with their limits in full detail."""
    said = {}
    for row in table[table[value] > 0].to_dict("records"):
        limits = tuple(_or_none(row[f"{value}_{end}"]) for end in ("low", "high"))
        interval = Interval(float(row[value]), *limits)
        words = number_with_limits(interval) if detail > 1 else number(interval.estimate)
        said[str(row[key])] = words
    return said


def _or_none(value: float) -> float | None:
    return None if pd.isna(value) else float(value)


def _share(interval: Interval, of: str = "") -> str:
    words, limits = percent(interval.estimate, half_width(interval)), percent_range(interval)
    return f"{words}{of} ({limits})" if half_width(interval) else f"{words}{of}"


def _wrapped(text: str, most: int = 4) -> list[str]:
    return broken(text, COLUMNS, most=most)
