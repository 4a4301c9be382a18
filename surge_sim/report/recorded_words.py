"""Recorded waits beside simulated ones: in words, and for programs."""

from __future__ import annotations

from typing import Any

from surge_sim.report.rounding import for_json, minutes, percent
from surge_sim.statistics.recorded import WHOLE
from surge_sim.statistics.result import RunResult


def recorded_words(result: RunResult) -> str:
    """Say the recorded and simulated measures, and whether the model gives what was recorded."""
    reading, whole = result.recorded_reading, _whole(result)
    assert reading is not None
    verdict = "reproduced by the model"
    if not reading.reproduced:
        verdict = f"NOT reproduced by the model ({', '.join(reading.apart)})"
    said = []
    for measure, row in whole.items():
        name, write = ("late", percent) if measure == "share late" else (measure, minutes)
        said.append(f"{name} {write(row['recorded'])} and {write(row['simulated'])}")
    seen = reading.late_in_both + reading.late_in_record_only
    several = result.replay is not None and not result.replay.alike
    where = "in at least half of the plays" if several else "when simulated"
    return (
        f"{verdict}; recorded and simulated: {', '.join(said)}. Entry by entry: {seen:,} late in "
        f"the record, {reading.late_in_both:,} of these also {where}; "
        f"{reading.late_in_plays_only:,} others in the simulation only."
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
