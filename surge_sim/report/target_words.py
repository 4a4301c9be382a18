"""The target in words: the same for a scenario read back, a run and a sizing."""

from __future__ import annotations

from surge_sim.scenario.goal import Target
from surge_sim.units import duration_text, share_text


def target_words(target: Target) -> str:
    """Return the target as one clause."""
    entries, surges = share_text(target.share_of_entries), share_text(target.share_of_surges)
    said = f"in {surges} of surges, {entries} of entries wait {duration_text(target.wait)} or less"
    if target.urgent is not None:
        said += (
            f"; {share_text(target.urgent.share_of_entries)} of urgent ones "
            f"{duration_text(target.urgent.wait)} or less"
        )
    if target.most_alarms_per_1000 is not None:
        said += f"; at most {target.most_alarms_per_1000:g} alarms per 1,000 entries"
    if target.most_stock_outs is not None:
        said += f"; at most {target.most_stock_outs} stock-outs"
    return said
