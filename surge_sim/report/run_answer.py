"""The answer of a run: whether the stock meets the target, who waited how long, and for what."""

from __future__ import annotations

import math
from collections.abc import Iterator

from surge_sim.cautions import CAUTION_IN_SHORT
from surge_sim.report.document import (
    Answer,
    Block,
    Column,
    Document,
    Heading,
    Remark,
    Rows,
    Table,
    document,
)
from surge_sim.report.phrases import (
    change_words,
    enough_words,
    entries_clause,
    has_more,
    must_keep,
    per_play,
    plays_name,
    replay_words,
    stock_in_words,
    target_words,
    waiting_words,
)
from surge_sim.report.rounding import (
    counted,
    half_width,
    interval_numbers,
    listed,
    minutes,
    number,
    percent,
    percent_near,
    percent_number,
    percent_range,
    three_digits,
)
from surge_sim.statistics.intervals import Interval
from surge_sim.statistics.recorded import WHOLE
from surge_sim.statistics.result import RunResult
from surge_sim.units import duration_text, share_text


def run_answer(result: RunResult, full: bool = True) -> Document:
    """Return the answer of a run; intervals are 95 % ones.

    Parameters
    ----------
    result : RunResult
        What was simulated.
    full : bool
        Also say how to read it, as in the results folder; else what fits a screen.
    """
    any_entries = bool(result.entries)
    recorded = recorded_blocks(result) if result.recorded_reading is not None else ()
    return document(
        Heading(result.title or result.name, 1),
        Answer(_answer(result)),
        _numbers(result) if any_entries else None,
        Rows(tuple(_rows(result, any_entries, full))),
        *recorded,
        *(Remark("warning", text) for text in result.warnings),
        Remark("caution", CAUTION_IN_SHORT),
    )


def _answer(result: RunResult) -> str:
    said = [f"With {stock_in_words(result.stock)}, {_verdict(result)}."]
    reading = result.recorded_reading
    if reading is not None and not reading.reproduced:
        said.append(
            "The model does NOT reproduce the waits that were recorded: find out why before you "
            "plan on it."
        )
    return " ".join(said)


def _verdict(result: RunResult) -> str:
    """Say whether the target is met, and in how many surges it was."""
    target, replay = result.target, result.replay
    words = {
        "met": "the service target is met",
        "not met": "the service target is NOT met",
        "undecided": "it is undecided whether the service target is met",
    }[result.verdict]
    if replay is not None:
        words += " in this recorded period"
        if replay.alike:
            return words
    plays = counted(result.surges_played, "simulated surge" if replay is None else "replication")
    parts = "it was met" if has_more(target) else entries_clause(target)
    return (
        f"{words}: {parts} in {result.passes:,} of {plays}; "
        f"{share_text(target.share_of_surges)} of {plays_name(replay)} are asked for"
    )


def _numbers(result: RunResult) -> Table:
    """Return means over all surges, their intervals, and what the worst tenth of surges meets."""
    replay = result.replay
    spread = {
        (one["quantity"], one["share_of_surges"]): one["estimate"] for one in result.quantiles
    }
    one_in_ten = f"1 {plays_name(replay).removesuffix('s')} in 10, this or worse"
    heads = {
        "mean": replay is None or not replay.alike,
        "this period": replay is not None and replay.alike,
        _OF_THE_MEAN: replay is None,
        one_in_ten: replay is None or not replay.alike,
    }
    columns = [head for head, there in heads.items() if there]
    rows = []
    for name, (mean, limits), worst in _measures(result):
        tenth = _tenth(spread[worst], worst) if worst else ""
        cells = {"mean": mean, "this period": mean, _OF_THE_MEAN: limits, one_in_ten: tenth}
        rows.append((name, *(cells[head] for head in columns)))
    return Table((Column("", align="left"), *map(Column, columns)), tuple(rows))


def _tenth(value: float | None, worst: tuple[str, float]) -> str:
    if value is None or math.isnan(value):
        return ""
    _, share = worst
    return percent_number(value) if share < 0.5 else three_digits(value)


def _measures(
    result: RunResult,
) -> Iterator[tuple[str, tuple[str, str], tuple[str, float] | None]]:
    """Yield a name, the mean with its interval, and which quantile of the surges is a bad one."""
    target, per = result.target, per_play(result.replay)
    wait = duration_text(target.wait)
    by_delay = target.late_by == "delay"
    own, delayed = f"Kit within {wait} (%)", f"Within {wait} of due time (%)"
    first = delayed if by_delay else own
    # a recorded period played once is judged by this share alone
    asked = target.service_level if result.replay is not None and result.replay.alike else None
    yield first, _shares(result.service_level, asked), ("service_level", 0.1)
    worst_day = result.per_surge("worst_day_service_level", 1.0)
    yield "the same, worst day (%)", _shares(worst_day), ("worst_day_service_level", 0.1)
    if result.hides_waits:
        other = result.service_level_by_wait if by_delay else result.service_level_by_delay
        yield own if by_delay else delayed, _shares(other), None
    if result.urgent_service_level.estimate is not None:
        urgent = wait if target.urgent is None else duration_text(target.urgent.wait)
        due = " of due time" if by_delay else ""
        yield f"Urgent within {urgent}{due} (%)", _shares(result.urgent_service_level), None
    for name, column in (
        (f"Hours of waiting {per}", "hours_waited"),
        (f"Left the queue, {per}", "unserved"),
    ):
        yield name, interval_numbers(result.per_surge(column)), (column, 0.9)
    yield "Exits by alarm, per 1,000", interval_numbers(result.alarms_per_1000), None


def _shares(interval: Interval, asked: float | None = None) -> tuple[str, str]:
    estimate = interval.estimate
    if estimate is None or math.isnan(estimate):
        return "-", ""
    limits = percent_range(interval).removesuffix(" %") if half_width(interval) else ""
    return percent_near(estimate, asked, half_width(interval)), limits


def _rows(result: RunResult, any_entries: bool, full: bool) -> Iterator[tuple[str, str]]:
    if has_more(result.target) or (result.replay is not None and result.replay.alike):
        yield "Service target", target_words(result.target, must_keep(result.replay))
    changes = "; ".join(change_words(one, result.start) for one in result.timeline)
    if changes:
        yield "Timeline", changes
    if any_entries:
        waits = {name: minutes(one.estimate) for name, one in result.wait_minutes.items()}
        longest = f"longest {waits['max']}"
        if result.surges_played > 1 and result.wait_minutes["max"].estimate:
            rows = result.summary.rows
            surge = int(rows["surge"][rows["longest_wait_s"].argmax()])
            longest += f" ({plays_name(result.replay).removesuffix('s')} {surge})"
        yield "Wait for a kit", f"half {waits['p50']}; 9 of 10 at most {waits['p90']}; {longest}"
        if left := _left(result, full):
            yield "Left the queue", left
        yield "Cause of waiting", waiting_words(result.causes)
        if result.hides_waits and full:
            yield "Due time", _DUE_TIME
        if without := _without_room(result, full):
            yield "Rooms", without
        if used := _used(result, full):
            yield "Supplies used", used
    yield "Confidence", _confidence(result, full)


#: a share of patients without a room that a screen tells
_MANY = 0.2
#: the head of the limits of a mean, which say nothing of a single surge
_OF_THE_MEAN = "mean is within"
#: what the line of the due time means
_DUE_TIME = (
    "when the kit would come with ample stock; late: it comes after that by more than the wait of "
    "the target (knock-on delays). A named wearer who is kept by one wait comes late to the next "
    "door and need not wait there"
)


def _left(result: RunResult, full: bool) -> str:
    """Say what became of those who left the queue, even if a postponed visit is made later.

    On a screen, which has few lines, only where it is at least one entry in a surge.
    """
    unserved = result.per_surge("unserved").estimate or 0.0
    if not unserved or (unserved < 1 and not full):
        return ""
    ways = {
        "reached_maximum_wait": "at their maximum wait",
        "waiting_at_end": "at the end of the run-out period",
    }
    ended = ", or ".join(way for name, way in ways.items() if result.summary.rows[name].any())
    if result.urgent_unserved:
        ended += f" ({number(result.urgent_unserved)} urgent)"
    if full:
        return (
            f"{ended}: not served, and counted as late; what is done then, unless the visit is "
            "postponed, is outside this model"
        )
    return f"{ended}: not served, so late"


def _without_room(result: RunResult, full: bool) -> str:
    """Say how many patients found no isolation room free; on a screen only where they are many."""
    patients, boarded, diverted = (
        float(result.summary.rows[name].mean()) for name in ("patients", "boarded", "diverted")
    )
    if not boarded + diverted or (boarded + diverted < _MANY * patients and not full):
        return ""
    ends = ((boarded, "boarded and visited"), (diverted, "sent elsewhere"))
    some = [(count, words) for count, words in ends if count]
    said = [words if len(some) == 1 else f"{number(count)} {words}" for count, words in some]
    return (
        f"none for {number(boarded + diverted)} of {number(patients)} patients "
        f"{per_play(result.replay)}: {listed(said)}"
    )


def _used(result: RunResult, full: bool) -> str:
    """Say what supplies are enough in the target's share of surges; wipes alone in full only."""
    used = [row for row in result.used if (row["enough"] or 0.0) > 0]
    if not full and [row["what"] for row in used] == ["wipes"]:
        return ""
    said = [f"{number(row['enough'])} {row['what']}" for row in used]
    return enough_words(said, result.target.share_of_surges, result.replay) if said else ""


def _confidence(result: RunResult, full: bool) -> str:
    if result.replay is not None:
        return replay_words(result.replay, result.surges_played)
    limits = percent_range(result.share_on_target, result.target.share_of_surges)
    if not full:
        return f"{limits} of surges on target (95 %), if inputs are right"
    return (
        f"{limits} of such surges meet the target (95 % interval "
        f"from {counted(result.surges_played, 'surge')}); random variation only, not wrong inputs"
    )


def recorded_blocks(result: RunResult) -> tuple[Block, ...]:
    """Return recorded and simulated waits side by side, and whether the model reproduces them."""
    reading = result.recorded_reading
    assert reading is not None
    rows = []
    for measure, row in whole_period(result).items():
        name, write = ("Late entries", percent) if measure == "share late" else (measure, minutes)
        rows.append((name, write(row["recorded"]), write(row["simulated"])))
    late = reading.late_in_both + reading.late_in_record_only
    several = result.replay is not None and not result.replay.alike
    where = "in at least half of the replications" if several else "when simulated"
    verdict = (
        Remark("note", "The model reproduces the recorded waits.")
        if reading.reproduced
        else Remark(
            "warning",
            f"The model does NOT reproduce the recorded waits ({', '.join(reading.apart)}).",
        )
    )
    return (
        Table((Column("Wait", align="left"), Column("recorded"), Column("simulated")), tuple(rows)),
        verdict,
        Remark(
            "note",
            f"Late in the record: {counted(late, 'entry', 'entries')}, "
            f"{reading.late_in_both:,} of them also {where}; late in the simulation only: "
            f"{reading.late_in_replications_only:,}.",
        ),
    )


def whole_period(result: RunResult) -> dict[str, dict[str, float]]:
    """Return recorded and simulated measures of a whole recorded period, by measure."""
    table = result.recorded_waits
    assert table is not None
    whole = table[table["group"] == WHOLE]
    names = ("recorded", "simulated", "simulated_lowest", "simulated_highest")
    return {row["measure"]: {one: row[one] for one in names} for row in whole.to_dict("records")}
