"""The tables of a run, made a second time from raw rows."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
import pandas as pd
from scipy import stats

from surge_sim.scenario.schema import Target
from tests.shadow.cells import FEWEST, mean, ratio, reaches, telling
from tests.shadow.raw import STATES, Raw

Rows = list[dict[str, Any]]

#: longer waits may be counted at the next whole minute [s]
COARSE_S = 6 * 3_600
WORK = {
    "wipe-downs": "WIPE_DOWNS",
    "wipe-downs between visits": "SHORT_WIPES",
    "checks": "CHECKS",
    "failed checks": "FAILED_CHECKS",
    "checks during wear": "RECHECKS",
    "battery swaps": "BATTERY_SWAPS",
    "charges": "CHARGES",
    "blower repairs": "BLOWER_REPAIRS",
    "battery replacements": "BATTERY_REPLACEMENTS",
    "stock-outs of hoods": "STOCK_OUTS_HOODS",
    "stock-outs of tubes": "STOCK_OUTS_TUBES",
    "stock-outs of prefilters": "STOCK_OUTS_PREFILTERS",
    "stock-outs of HE filters": "STOCK_OUTS_HE_FILTERS",
    "stock-outs of large hoods": "STOCK_OUTS_LARGE_HOODS",
}
ALARMS = {
    "low battery": "ALARMS_BATTERY",
    "low flow": "ALARMS_FLOW",
    "blower failure": "ALARMS_FAILURE",
    "battery failure": "ALARMS_BATTERY_FAILURE",
}
USED = {
    "hoods": "HOODS_USED",
    "tubes": "TUBES_USED",
    "prefilters": "PREFILTERS_USED",
    "HE filters": "HE_FILTERS_USED",
    "large hoods": "LARGE_HOODS_USED",
}
PROBABILITIES = {"p50": 0.5, "p90": 0.9, "p95": 0.95, "p99": 0.99}
SPREAD = (
    "entries", "service_level", "wait_mean_min", "wait_max_min", "hours_waited", "unserved",
    "alarms", "worst_day_service_level",
)  # fmt: skip


def quantile(values: Sequence[float] | pd.Series, share: float) -> float:
    """Return the least value that at least this share of the values do not pass."""
    ordered = np.sort(np.asarray(values))
    return float(ordered[max(math.ceil(share * len(ordered) - 1e-9), 1) - 1])


class Books:
    """Second accounts of one run."""

    def __init__(self, raw: Raw, target: Target, wipes_per_clean: int) -> None:
        self.raw, self.target, self.wipes_per_clean = raw, target, wipes_per_clean
        needs, entries = raw.needs, raw.entries
        served = needs["ended"] == "served"
        waited, delayed = (
            ~(served & (needs[column] <= target.wait)) for column in ("wait_s", "delay_s")
        )
        on_time = ~(delayed if target.late_by == "delay" else waited)
        urgent_wait = target.wait if target.urgent is None else target.urgent.wait
        soon = (needs["ended"] == "served") & (needs["wait_s"] <= urgent_wait)
        by_entry = [needs["surge"], needs["entry"]]
        judged = pd.DataFrame(
            {
                "in_time": on_time.groupby(by_entry).all(),
                "in_urgent_time": soon.groupby(by_entry).all(),
                "unserved": (needs["ended"] != "served").groupby(by_entry).any(),
                "late_by_wait": waited.groupby(by_entry).any(),
                "late_by_delay": delayed.groupby(by_entry).any(),
            }
        ).reset_index()
        self.entries = entries.merge(judged, on=["surge", "entry"], how="left")
        assert not self.entries[["in_time", "unserved"]].isna().any(axis=None)
        self.needs = needs
        self.surges = pd.DataFrame(self.rows_of_surges())

    def each(self, rows: pd.DataFrame, column: str | None = None) -> np.ndarray:
        """Sum a column of some rows by surge; without a column, count the rows."""
        values = np.ones(len(rows)) if column is None else rows[column].to_numpy(dtype=float)
        return np.bincount(rows["surge"], weights=values, minlength=self.raw.surges)

    # --- surge by surge ----------------------------------------------------------------------

    def rows_of_surges(self) -> Rows:
        """One row for each surge."""
        return [self._surge(surge) for surge in range(self.raw.surges)]

    def _surge(self, surge: int) -> dict[str, Any]:
        raw = self.raw
        needs = self.needs[self.needs["surge"] == surge]
        entries = self.entries[self.entries["surge"] == surge]
        count = raw.counts.iloc[surge]
        alarms = int(count[list(ALARMS.values())].sum())
        # a visit that the close cuts off is planned, alarm and all, but its alarm has not come
        over = needs["end_s"] <= raw.closing_s
        assert alarms == int(((needs["alarm"] != 0) & over).sum())
        stock_outs = int(sum(count[name] for name in count.index if "STOCK_OUTS" in name))
        urgent = entries[entries["urgent"]]
        row: dict[str, Any] = {
            "surge": surge,
            "entries": len(entries),
            "in_time": int(entries["in_time"].sum()),
            "service_level": entries["in_time"].mean() if len(entries) else None,
            "urgent_entries": len(urgent),
            "urgent_late": int((~urgent["in_urgent_time"].astype(bool)).sum()),
            "requests": len(needs),
            "wait_mean_min": needs["wait_s"].mean() / 60 if len(needs) else None,
            "wait_max_min": needs["wait_s"].max() / 60 if len(needs) else None,
            "hours_waited": needs["wait_s"].sum() / 3_600,
            "unserved": int(entries["unserved"].sum()),
            "reached_maximum_wait": int((needs["ended"] == "maximum wait reached").sum()),
            "waiting_at_end": int((needs["ended"] == "still waiting at the end").sum()),
            "alarms": alarms,
            "stock_outs": stock_outs,
            **{column.lower(): int(count[column]) for column in raw.told(USED).values()},
            "wipe_downs": int(count["WIPE_DOWNS"] + count["SHORT_WIPES"]),
            "patients": int(raw.patients["patients"][surge]),
            "boarded": int(raw.patients["boarded"][surge]),
            "diverted": int(raw.patients["diverted"][surge]),
            "peak_kits_in_use": int(raw.use_peak[surge, STATES["kits in use"]]),
            "peak_waiting": int(raw.use_peak[surge, STATES["entries waiting"]]),
            "late_by_wait": int(entries["late_by_wait"].sum()),
            "late_by_delay": int(entries["late_by_delay"].sum()),
        }
        by_day = entries.groupby("day")["in_time"].mean()
        row["worst_day"] = int(by_day.idxmin()) if len(by_day) else None
        row["worst_day_service_level"] = float(by_day.min()) if len(by_day) else None
        missed = self._missed(row)
        return row | {"on_target": not missed, "target_parts_missed": ", ".join(missed) or None}

    def _missed(self, row: dict[str, Any]) -> list[str]:
        target, entries = self.target, row["entries"]
        missed = []
        if row["in_time"] < target.service_level * entries - 1e-9:
            missed.append("wait")
        if target.urgent is not None:
            on_time = row["urgent_entries"] - row["urgent_late"]
            if on_time < target.urgent.service_level * row["urgent_entries"] - 1e-9:
                missed.append("urgent wait")
        most = target.most_alarms_per_1000
        if most is not None and row["alarms"] > most * entries / 1_000 + 1e-9:
            missed.append("alarms")
        if target.most_stock_outs is not None and row["stock_outs"] > target.most_stock_outs:
            missed.append("stock-outs")
        return missed

    def spread(self) -> Rows:
        """Quantiles over surges, with the limits of order statistics."""
        return [
            {"quantity": name, "share_of_surges": share} | self._over_surges(name, share)
            for name in SPREAD
            for share in (0.1, 0.5, 0.9)
        ]

    def _over_surges(self, name: str, share: float, times: int = 1) -> dict[str, Any]:
        values = times * np.sort(self.surges[name].dropna().to_numpy(dtype=float))
        count = len(values)
        if not count:
            return {"estimate": None, "low": None, "high": None}
        # so many surges at most lie below (above) the true quantile, but for 2.5 %
        below = int(stats.binom.ppf(0.025, count, share))
        above = int(stats.binom.isf(0.025, count, share))
        return {
            "estimate": quantile(values, share),
            "low": values[below - 1] if below >= 1 else None,
            "high": values[above] if above < count else None,
        }

    # --- waits -------------------------------------------------------------------------------

    def wait_mean(self, rows: pd.DataFrame) -> dict[str, Any]:
        """Mean wait of some needs [min]."""
        return ratio("wait_mean_min", self.each(rows, "wait_s"), self.each(rows), 1 / 60)

    def waits(self, ladder_s: np.ndarray) -> Rows:
        """Mean, quantiles and longest wait, of all needs and of urgent ones."""
        rows = []
        for group, those in (("all", self.needs), ("urgent", self.needs[self.needs["urgent"]])):
            if group == "urgent" and not len(those):
                continue
            middle = ratio("estimate", self.each(those, "wait_s"), self.each(those), 1 / 60)
            keys = {"estimate": "estimate", "estimate_low": "low", "estimate_high": "high"}
            begin = {"group": group, "unit": "min"}
            rows.append(begin | {"measure": "mean"} | {keys[k]: v for k, v in middle.items()})
            points = [
                {"measure": name} | self._wait_quantile(those, share, ladder_s)
                for name, share in PROBABILITIES.items()
            ]
            rows += [begin | point for point in only_rising(points)]
            longest = those["wait_s"].max() / 60 if len(those) else None
            rows.append(begin | {"measure": "max", "estimate": longest, "low": None, "high": None})
        return rows

    def _wait_quantile(
        self, those: pd.DataFrame, share: float, ladder_s: np.ndarray
    ) -> dict[str, Any]:
        """Its limits are the quantiles of what the share that waits no longer may be instead."""
        nothing = {"low": None, "high": None}
        if not len(those):
            return {"estimate": None, **nothing}
        exact_s = those["wait_s"].to_numpy()
        wait_s = coarse(exact_s)
        middle_s = quantile(wait_s, share)
        place = int(np.searchsorted(ladder_s, middle_s, side="right"))
        around = ladder_s[max(place - 1, 0) : place + 1]
        # the error is worked out at the rungs of the ladder on both sides
        count = self.each(those)
        within = [self.each(those[exact_s <= rung]) for rung in around]
        if max(telling(some, count, share=True) for some in within) < FEWEST:
            return {"estimate": middle_s / 60, **nothing}
        both = [reaches(some, count) for some in within]
        down, up = np.max(both, axis=0)
        return {
            "estimate": middle_s / 60,
            "low": quantile(wait_s, max(share - up, 0.0)) / 60,
            "high": quantile(wait_s, share + down) / 60 if share + down < 1 else None,
        }

    def within(self, rows: pd.DataFrame, wait_s: np.ndarray, most_s: float) -> dict[str, Any]:
        """Share of needs that wait no longer, with limits."""
        return ratio("in", self.each(rows[wait_s <= most_s]), self.each(rows), highest=1.0)

    def wait_curve(self, ladder_s: np.ndarray) -> Rows:
        """Share of needs that wait longer than each of a ladder of waits."""
        wait_s = self.needs["wait_s"].to_numpy()
        rows = []
        for rung in ladder_s:
            one = self.within(self.needs, wait_s, rung)
            longer = {"wait_min": rung / 60, "estimate": 1 - one["in"]}
            for end, other in (("low", "in_high"), ("high", "in_low")):
                longer[end] = None if one[other] is None else 1 - one[other]
            rows.append(longer)
        falling = only_rising(rows[::-1])[::-1]
        return [{"share_longer": row.pop("estimate"), **row} for row in falling]

    # --- entries by group --------------------------------------------------------------------

    def group(self, by: str) -> Rows:
        """Entries by class, role, urgency, day or hour."""
        rows = []
        for name, entries, needs in self._groups(by):
            count = self.each(entries)
            row = {
                by: name,
                "entries_per_surge": count.mean(),
                **ratio("service_level", self.each(entries, "in_time"), count, highest=1.0),
                "surges_with_late": int((self.each(entries, "in_time") < count).sum()),
                **ratio(
                    "unserved_per_1000", self.each(entries, "unserved"), count, 1_000, highest=1.0
                ),
                **self.wait_mean(needs),
            }
            if by in ("class", "role"):
                waits_s = coarse(self.needs["wait_s"])[self.needs.index.isin(needs.index)]
                p95 = quantile(waits_s, 0.95) / 60 if len(needs) else None
                row["wait_p95_min"] = p95
            rows.append(row)
        return rows

    def _groups(self, by: str) -> Iterator[tuple[Any, pd.DataFrame, pd.DataFrame]]:
        column = "urgent" if by == "urgency" else by
        names: dict[Any, Any]
        if by == "urgency":
            names = {"routine": False, "urgent": True}
        elif by == "day":
            last = int(self.entries["day"].max())
            days = math.ceil(self.raw.horizon_s / 86_400)
            assert last <= days
            names = {day: day for day in range(1, days + 1)}
        elif by == "hour":
            names = {hour: hour for hour in range(24)}
        else:
            given = self.raw.roles if by == "role" else self.raw.classes
            names = {name: name for name in given}
            if by == "class" and (self.entries["class"] == "").any():
                names["no class"] = ""
        for name, value in names.items():
            entries = self.entries[self.entries[column] == value]
            if len(entries) or by in ("day", "hour", "role", "class"):
                yield name, entries, self.needs[self.needs[column] == value]

    # --- things ------------------------------------------------------------------------------

    def use(self) -> Rows:
        """Things in each state: mean over time, peak."""
        every, area = np.ones(self.raw.surges), self.raw.use_area.sum(axis=2)
        return [
            {
                "state": name,
                **ratio("mean", area[:, number], every, 1 / self.raw.horizon_s),
                **mean("peak_mean", self.raw.use_peak[:, number]),
                "peak_highest": int(self.raw.use_peak[:, number].max()),
            }
            for name, number in sorted(STATES.items(), key=lambda one: one[1])
        ]

    def use_over_time(self, stretch_h: int) -> Rows:
        """Things in each state in each stretch of time."""
        rows = []
        area = self.raw.use_area
        for name, number in sorted(STATES.items(), key=lambda one: one[1]):
            for hour in range(0, area.shape[2], stretch_h):
                end_s = min((hour + stretch_h) * 3_600, self.raw.horizon_s)
                length_s = end_s - hour * 3_600
                level = area[:, number, hour : hour + stretch_h].sum(axis=1) / length_s
                first = level[:200]
                rows.append(
                    {
                        "hour": hour, "hours": length_s / 3_600, "state": name,
                        "mean": level.mean(), "p10": np.quantile(first, 0.1),
                        "p90": np.quantile(first, 0.9),
                    }
                )  # fmt: skip
        return rows

    def counted(self, names: dict[str, str], key: str) -> Rows:
        """Things counted, per surge and per 1,000 entries."""
        return [self._count(name, self.raw.counts[column], key) for name, column in names.items()]

    def _count(self, name: str, values: pd.Series, key: str) -> dict[str, Any]:
        every = np.ones(self.raw.surges)
        return {
            key: name,
            **ratio("per_surge", values, every),
            **ratio("per_1000_entries", values, self.each(self.entries), 1_000),
            "in_surges": int((values > 0).sum()),
        }

    def consumables(self) -> Rows:
        """Parts and wipes that were used up; a short wipe takes as many as a whole one."""
        share, rows = self.target.share_of_surges, []
        columns = {name: (column.lower(), 1) for name, column in self.raw.told(USED).items()}
        for name, (column, times) in (
            columns | {"wipes": ("wipe_downs", self.wipes_per_clean)}
        ).items():
            enough = self._over_surges(column, share, times)
            rows.append(
                {
                    "what": name, "share_of_surges": share, "enough": enough["estimate"],
                    "enough_low": enough["low"], "enough_high": enough["high"],
                    "per_surge": times * self.surges[column].mean(),
                }
            )  # fmt: skip
        return rows


def coarse(wait_s: Any) -> np.ndarray:
    """Return waits as they may be counted: up to the next whole minute, or the longest of them."""
    values = np.asarray(wait_s)
    up = np.where(values > COARSE_S, -(-values // 60) * 60, values)
    return np.minimum(up, values.max(initial=0))


def only_rising(points: Rows) -> Rows:
    """Widen limits along a curve that only rises until they do so too.

    The upper limit becomes the highest so far, the lower one the lowest from there on; one that
    is not known stays so and widens no other.
    """
    for end, order, wider in (("low", -1, min), ("high", 1, max)):
        farthest = None
        for point in points[::order]:
            if point[end] is not None:
                farthest = point[end] if farthest is None else wider(farthest, point[end])
                point[end] = farthest
    return points
