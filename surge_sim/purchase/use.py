"""What is measured of each surge for a case: how people were served, and what was used up."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from surge_sim.engine.log import Count, Use
from surge_sim.randomness import Sample

if TYPE_CHECKING:
    from surge_sim.scenario.load import Scenario
    from surge_sim.scenario.schema import Settings
    from surge_sim.statistics.summary import Summary


class Measure(NamedTuple):
    """How people were served in a surge; less is better."""

    name: str
    unit: str
    #: from a run's table of surges
    of: Callable[[pd.DataFrame], pd.Series]
    #: whether it is never above 1
    is_share: bool = False


MEASURES = {
    measure.name: measure
    for measure in (
        Measure(
            "missed_target",
            "0 or 1",
            lambda table: 1 - table["on_target"].astype(int),
            is_share=True,
        ),
        Measure("late", "entries", lambda table: table["entries"] - table["in_time"]),
        Measure("urgent_late", "entries", lambda table: table["urgent_late"]),
        Measure("unserved", "entries", lambda table: table["unserved"]),
        Measure("hours_waited", "h", lambda table: table["hours_waited"]),
        Measure("longest_wait", "min", lambda table: table["wait_max_min"].fillna(0)),
        Measure(
            "worst_day_late",
            "share of the day's entries",
            lambda table: (1 - table["worst_day_service_level"]).fillna(0),
            is_share=True,
        ),
    )
}

#: what is used up in a surge, and its unit
USED = {
    "entries": "entries",
    "battery_hours": "h",
    "charges": "charges",
    "full_charges": "full charges",
    "wipe_downs": "wipe-downs",
    "wiping_hours": "h",
    "wipes": "wipes",
    "hoods": "hoods",
    "large_hoods": "large hoods",
    "tubes": "tubes",
    "prefilters": "prefilters",
    "he_filters": "HE filters",
    "repairs": "repairs",
    "battery_replacements": "batteries",
    "parts_price": "the scenario's currency",
}
_PARTS = ("hood", "large_hood", "tube", "prefilter", "he_filter")

_COUNTS = {
    "charges": Count.CHARGES,
    "hoods": Count.HOODS_USED,
    "large_hoods": Count.LARGE_HOODS_USED,
    "tubes": Count.TUBES_USED,
    "prefilters": Count.PREFILTERS_USED,
    "he_filters": Count.HE_FILTERS_USED,
    "repairs": Count.BLOWER_REPAIRS,
    "battery_replacements": Count.BATTERY_REPLACEMENTS,
}


def used_per_surge(summary: Summary, scenario: Scenario, seed: int) -> pd.DataFrame:
    """Return what is used up in each surge, one row each; columns are ``surge`` and `USED`.

    Hours are those within the horizon. ``full_charges`` is the time that batteries are in use over
    the shortest run time of a new one, so it is an upper bound: at a lower level a battery lasts
    longer. ``parts_price`` is hoods of both sizes, tubes, prefilters and HE filters, each at
    the scenario's price; a part without a price counts nothing.
    """
    rows = summary.rows
    counts, use_s = rows["counts"], rows["use_s"]
    table = pd.DataFrame({"surge": rows["surge"], "entries": rows["entries"][:, 0]})
    for name, count in _COUNTS.items():
        table[name] = counts[:, count]
    # a wipe-down between visits takes as many wipes as a full one
    table["wipe_downs"] = counts[:, [Count.WIPE_DOWNS, Count.SHORT_WIPES]].sum(axis=1)
    in_use_s = use_s[:, Use.BATTERIES_IN_USE]
    run_s = np.array(
        [
            _shortest_run_s(scenario.settings_for(seed, Sample.CONFIRM, int(surge)))
            for surge in rows["surge"]
        ]
    )
    table["battery_hours"] = in_use_s / 3_600
    table["full_charges"] = in_use_s / run_s
    table["wiping_hours"] = use_s[:, Use.KITS_IN_WIPE_DOWN] / 3_600
    table["wipes"] = table["wipe_downs"] * scenario.settings.supplies.wipes_per_clean
    prices = scenario.settings.prices
    table["parts_price"] = sum(table[f"{part}s"] * getattr(prices, part) for part in _PARTS)
    hours = ["battery_hours", "full_charges", "wiping_hours", "parts_price"]
    table[hours] = table[hours].map(lambda value: float(f"{value:.6g}"))
    return table[["surge", *USED]]


def _shortest_run_s(settings: Settings) -> int:
    return min(level.run_time for level in settings.kit.levels)
