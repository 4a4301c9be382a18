"""The course of a surge: who waits, where things are and how full the rooms are, over its days."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from surge_sim.engine.log import Use
from surge_sim.sizing.reasons import reduced_by
from surge_sim.statistics.summary import hours_per_stretch, stretch_seconds
from surge_sim.statistics.tables import cause_of_waiting_table, use_name
from surge_sim.statistics.waits import ALL_CAUSES, cause_name
from surge_sim.units import DAY_S, HOUR_S

if TYPE_CHECKING:
    from surge_sim.purchase.play import PlayedStages

#: of longer surges one stretch a day is told: a mean over a day looks idle though people wait [h]
BY_DAY = 240
#: what is told of, its states, and the one of which each day's least (-1) or most (1) is told
THINGS: dict[str, tuple[tuple[Use, ...], Use, int]] = {
    "people": ((Use.ENTRIES_WAITING,), Use.ENTRIES_WAITING, 1),
    "kits": (
        (
            Use.KITS_IN_USE, Use.KITS_DRYING, Use.KITS_IN_WIPE_DOWN, Use.KITS_WAITING_FOR_WIPE,
            Use.KITS_OUT, Use.KITS_AWAY, Use.KITS_READY,
        ),
        Use.KITS_READY,
        -1,
    ),
    "batteries": (
        (
            Use.BATTERIES_IN_USE, Use.BATTERIES_COOLING, Use.BATTERIES_WAITING_FOR_BAY,
            Use.BATTERIES_IN_BAY, Use.BATTERIES_OUT, Use.BATTERIES_AWAY, Use.BATTERIES_ON_SHELF,
        ),
        Use.BATTERIES_ON_SHELF,
        -1,
    ),
}  # fmt: skip
ROOMS = "patients in rooms"


def course_table(played: PlayedStages, horizon_s: int) -> pd.DataFrame:
    """Return how many are in each state over a surge: mean, and where 8 of 10 surges lie.

    One row per stock, thing, stretch of time and state. Of more than ten days each day has one
    row, from its stretch with most people at the door, or least kits or batteries free. Rooms
    do not depend on the stock; their rows belong to both.
    """
    rows = list(_of_rooms(played.in_rooms))
    lengths_s = stretch_seconds(horizon_s)
    step = hours_per_stretch(horizon_s)
    for stock, one in (("in_hand", played.now), ("proposed", played.then)):
        # surges x states x stretches
        mean = one.summary.use_s / lengths_s / len(one.summary)
        low, high = np.quantile(one.summary.band, (0.1, 0.9), axis=0)
        for thing, (states, decides, sign) in THINGS.items():
            for place in _told(sign * mean[decides], step):
                for use in states:
                    rows.append(
                        {
                            "stock": stock, "thing": thing, "hour": place * step,
                            "hours": lengths_s[place] / HOUR_S, "state": use_name(use),
                            "mean": mean[use, place], "p10": low[use, place],
                            "p90": high[use, place],
                        }
                    )  # fmt: skip
    table = pd.DataFrame(rows)
    numbers = ["mean", "p10", "p90"]
    table[numbers] = table[numbers].astype(float).map(lambda value: float(f"{value:.6g}"))
    return table


def _of_rooms(in_rooms: NDArray[np.int64]) -> Iterator[dict[str, Any]]:
    mean = in_rooms.mean(axis=0)
    low, high = np.quantile(in_rooms, (0.1, 0.9), axis=0)
    for hour in _told(mean, 1):
        yield {
            "stock": "both", "thing": "rooms", "hour": hour, "hours": 1.0, "state": ROOMS,
            "mean": mean[hour], "p10": low[hour], "p90": high[hour],
        }  # fmt: skip


def _told(heavy: NDArray[np.float64], step: int) -> list[int]:
    """Return the stretches to tell of: all, or the heaviest of each day."""
    if len(heavy) * step <= BY_DAY:
        return list(range(len(heavy)))
    day = np.arange(len(heavy)) * step * HOUR_S // DAY_S
    return [
        int(mine[np.argmax(heavy[mine])]) for one in np.unique(day)
        for mine in [np.flatnonzero(day == one)]
    ]  # fmt: skip


def waiting_table(played: PlayedStages, by_crew: bool) -> pd.DataFrame:
    """Return the hours waited by cause with the stock in hand and with the proposed one.

    Parameters
    ----------
    played : PlayedStages
        Both stocks on the same surges.
    by_crew : bool
        Whether cleaners wipe the kits down.
    """
    both = [
        cause_of_waiting_table(one.summary.rows["cause_s"]).drop(columns="in_surges")
        for one in (played.now, played.then)
    ]
    keys = ["missing", "cause_of_waiting"]
    table = both[0].merge(both[1], on=keys, how="outer", suffixes=("_in_hand", "_proposed"))
    numbers = [str(name) for name in table if name not in keys]
    table[numbers] = table[numbers].fillna(0.0).map(lambda value: float(f"{value:.6g}"))
    item = {cause_name(state): reduced_by(state, by_crew) for state in range(ALL_CAUSES)}
    table["reduced_by"] = table["cause_of_waiting"].map(item)
    order = ["hours_per_surge_in_hand", "hours_per_surge_proposed", "cause_of_waiting"]
    return table.sort_values(order, ascending=[False, False, True], ignore_index=True)
