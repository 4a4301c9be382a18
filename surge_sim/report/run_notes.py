"""What a careful reader of a run should know: about its numbers, and about its stock."""

from __future__ import annotations

from surge_sim.statistics.result import RunResult


def run_notes(result: RunResult) -> tuple[str, ...]:
    """Return the notes of a run, those on a stock that serves nobody first."""
    stock = result.stock
    said = []
    if not stock.kits or not stock.batteries:
        none = "kits" if not stock.kits else "batteries"
        said.append(f"The stock has no {none}, so nobody is ever served and every entry is late.")
    elif not stock.bays and not any("stock.bays" in note for note in result.notes):
        said.append("The stock has no charger bays, so no battery is ever charged again.")
    return (*said, *result.warnings)
