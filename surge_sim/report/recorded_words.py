"""Recorded waits beside simulated ones: in words, and for programs."""

from __future__ import annotations

from typing import Any

from surge_sim.report.document import Block, Column, Remark, Table
from surge_sim.report.rounding import counted, for_json, minutes, percent
from surge_sim.statistics.recorded import WHOLE
from surge_sim.statistics.result import RunResult


def recorded_blocks(result: RunResult) -> tuple[Block, ...]:
    """Return recorded and simulated waits side by side, and whether the model reproduces them."""
    reading = result.recorded_reading
    assert reading is not None
    rows = []
    for measure, row in _whole(result).items():
        name, write = ("Late entries", percent) if measure == "share late" else (measure, minutes)
        rows.append((name, write(row["recorded"]), write(row["simulated"])))
    late = reading.late_in_both + reading.late_in_record_only
    several = result.replay is not None and not result.replay.alike
    where = "in at least half of the plays" if several else "when simulated"
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
            f"{reading.late_in_plays_only:,}.",
        ),
    )


def recorded_json(result: RunResult) -> dict[str, Any]:
    """Return the same for programs; waits in minutes."""
    reading = result.recorded_reading
    assert reading is not None
    return {
        "entries": reading.entries,
        "reproduced": reading.reproduced,
        "apart": list(reading.apart),
        "whole_period": {
            measure.replace(" ", "_"): {name: for_json(value, 5) for name, value in row.items()}
            for measure, row in _whole(result).items()
        },
        "entry_by_entry": {
            "median_difference_minutes": for_json(reading.typical_difference_min, 3),
            "late_in_record_and_plays": reading.late_in_both,
            "late_in_record_only": reading.late_in_record_only,
            "late_in_plays_only": reading.late_in_plays_only,
        },
    }


def _whole(result: RunResult) -> dict[str, dict[str, float]]:
    table = result.recorded_waits
    assert table is not None
    names = ["recorded", "simulated", "simulated_lowest", "simulated_highest"]
    whole = table[table["group"] == WHOLE]
    return {str(row["measure"]): {one: float(row[one]) for one in names}
            for row in whole.to_dict("records")}  # fmt: skip
