"""Textbook cases written as ordinary scenario files and entry logs, and played as a user would."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import yaml
from numpy.typing import NDArray

import surge_sim
from tests.validation.check import Found

IntArray = NDArray[np.int64]
MINUTE, HOUR, DAY = 60, 3600, 86400


def generator(case: int) -> np.random.Generator:
    """Random numbers of one case: seed 1 throughout, chosen once, never tuned."""
    return np.random.default_rng([1, case])


def whole(times: Any) -> IntArray:
    """Round times to whole seconds."""
    return np.rint(np.asarray(times, float)).astype(np.int64)


def plain_pool(kits: int, horizon_s: int, **changes: Any) -> dict[str, Any]:
    """Return a scenario in which only the number of kits matters.

    No check, no donning, no doffing, no wipe-down, batteries that last for years and are
    charged in no time: the kits are the servers of a textbook line. ``changes`` replaces or
    adds sections; a section given as a dict is merged into the one that is there.
    """
    scene: dict[str, Any] = {
        "title": "A textbook line",
        "note": "Not a ward: a case with a known answer.",
        "start": "2030-01-07 00:00",
        "horizon": f"{horizon_s} s",
        "run_out": "1000 d",
        "kit": {
            "pre_use_check": "0 s", "don": "0 s", "doff": "0 s", "levels": [{"run_time": "3000 d"}],
        },
        "batteries": {"charge_time": "0 s", "minimum_run_time": "1 s"},
        "cleaning": {"by": "wearer", "wipe_down": "0 s"},
        "stock": {"kits": kits, "batteries": kits, "bays": max(kits, 1)},
        "target": {"wait": "5 min", "service_level": "95 %", "share_of_surges": "90 %"},
    }  # fmt: skip
    for section, value in changes.items():
        old = scene.get(section)
        both = isinstance(old, dict) and isinstance(value, dict)
        scene[section] = {**old, **value} if both else value
    return scene


def loaded(scene: dict[str, Any], files: dict[str, str] | None = None) -> Any:
    """Write the scenario file (and the files that it names) to a folder and load it."""
    with tempfile.TemporaryDirectory() as folder:
        for name, text in (files or {}).items():
            (Path(folder) / name).write_text(text, encoding="utf-8")
        path = Path(folder) / "case.yaml"
        path.write_text(yaml.safe_dump(scene, sort_keys=False), encoding="utf-8")
        return surge_sim.load_scenario(path)


def log_file(
    due_s: Sequence[int] | IntArray,
    room_s: Sequence[int] | IntArray,
    urgent: Sequence[bool] | None = None,
    wearer: Sequence[str] | None = None,
) -> str:
    """Return an entry log as CSV text; minutes have enough decimals for whole seconds."""
    columns = [[f"{due / 60:.4f}" for due in due_s], [f"{room / 60:.4f}" for room in room_s]]
    heads = ["requested", "room_minutes"]
    if urgent is not None:
        heads.append("urgent")
        columns.append(["yes" if one else "no" for one in urgent])
    if wearer is not None:
        heads.append("wearer")
        columns.append(list(wearer))
    return "\n".join([",".join(heads), *map(",".join, zip(*columns, strict=True))]) + "\n"


@dataclass(frozen=True)
class Played:
    """What came of a scenario: its demand and the log of its play."""

    trace: Any
    log: Any

    @property
    def wait_s(self) -> IntArray:
        """Waits in the order of the needs."""
        return self.log.wait_s  # type: ignore[no-any-return]


def demand(scene: dict[str, Any], files: dict[str, str] | None = None, **log: Any) -> Any:
    """Load a scenario and draw a surge, for the stock in hand; ``log``: an entry log's columns."""
    if log:
        scene = {**scene, "entries": {"from": "log.csv"}}
        files = {**(files or {}), "log.csv": log_file(**log)}
    scenario = loaded(scene, files)
    return surge_sim.situation_of(scenario, surge_sim.stock_in_hand(scenario.settings))


def played(scene: dict[str, Any], files: dict[str, str] | None = None, **log: Any) -> Played:
    """Draw the demand of a scenario and play it with the stock in hand."""
    case = demand(scene, files, **log)
    return Played(case.demand, surge_sim.play(*case))


def line_demand(due_s: IntArray, room_s: IntArray, **changes: Any) -> Any:
    """Arrivals and service times of a line as an entry log; kits come later."""
    return demand(plain_pool(1, int(due_s[-1]) + 1, **changes), due_s=due_s, room_s=room_s)


def line_waits(case: Any, kits: int) -> IntArray:
    """Waits with a pool of kits and nothing else, in the order of the entries."""
    stock = surge_sim.Stock(kits=kits, batteries=kits, bays=kits)
    log = surge_sim.play(*case._replace(stock=stock))
    return log.wait_s  # type: ignore[no-any-return]


def line(
    kits: int,
    due_s: IntArray,
    room_s: IntArray,
    urgent: Sequence[bool] | None = None,
    **changes: Any,
) -> Played:
    """Play arrivals and service times with a pool of kits and nothing else."""
    scene = plain_pool(kits, int(due_s[-1]) + 1, **changes)
    return played(scene, due_s=due_s, room_s=room_s, urgent=urgent)


def batch_mean(values: Any, batches: int = 60, skip: float = 0.02) -> Found:
    """Mean of a long series with a standard error from batch means; the beginning is skipped."""
    series = np.asarray(values, float)
    series = series[int(len(series) * skip) :]
    size = len(series) // batches
    means = series[: size * batches].reshape(batches, size).mean(axis=1)
    return Found(float(means.mean()), float(means.std(ddof=1) / batches**0.5), batches - 1)


def mean_of(values: Any) -> Found:
    """Mean of independent values and its standard error."""
    series = np.asarray(values, float)
    return Found(float(series.mean()), float(series.std(ddof=1) / len(series) ** 0.5),
                 len(series) - 1)  # fmt: skip


def ratio_of(parts: Any, wholes: Any) -> Found:
    """Sum of parts over sum of wholes of independent pairs, and its standard error."""
    part, total = np.asarray(parts, float), np.asarray(wholes, float)
    ratio = part.sum() / total.sum()
    spread = (part - ratio * total).std(ddof=1)
    return Found(float(ratio), float(spread / total.mean() / len(part) ** 0.5), len(part) - 1)


@cache
def poisson_log(case: int, per_service: float, mean_s: int, entries: int) -> IntArray:
    """Moments of Poisson arrivals, `per_service` in a mean service time."""
    gaps = generator(case).exponential(mean_s / per_service, entries)
    return whole(np.cumsum(gaps))


def services(case: int, shape: str, mean_s: int, entries: int, cv: float = 1.0) -> IntArray:
    """Service times of a shape: exponential, constant, lognormal or gamma, at least 1 s."""
    rng = generator(case + 1000)
    if shape == "constant":
        return np.full(entries, mean_s, np.int64)
    if shape == "exponential":
        times = rng.exponential(mean_s, entries)
    elif shape == "gamma":
        times = rng.gamma(1 / cv**2, mean_s * cv**2, entries)
    else:
        sigma2 = np.log(1 + cv**2)
        times = rng.lognormal(np.log(mean_s) - sigma2 / 2, sigma2**0.5, entries)
    return np.maximum(whole(times), 0)


def ward(horizon: str, arrivals: dict[str, Any], stay: Any, **changes: Any) -> dict[str, Any]:
    """Return a ward whose patients matter and whose staff do not: one class, no entries."""
    scene = plain_pool(1, DAY)
    scene |= {
        "horizon": horizon,
        "arrivals": arrivals,
        "classes": {
            "all": {
                "share": "100 %",
                "length_of_isolation": stay,
                "entries": {"nurse": "0 per day"},
            }
        },
        "roles": {"nurse": {"room_time": "5 min"}},
    }
    return {**scene, **changes}


def surges(scene: dict[str, Any], number: int, files: dict[str, str] | None = None) -> list[Any]:
    """Draw the demand of some surges of a scenario."""
    scenario = loaded(scene, files)
    return [surge_sim.draw_demand(scenario, surge=surge) for surge in range(number)]


def census(patients: Any, at_s: Any) -> IntArray:
    """Patients in isolation at some moments (who leaves then is gone)."""
    at = np.asarray(at_s)[:, None]
    there = (patients.arrive_s <= at) & (patients.leave_s > at)
    return there.sum(axis=1)
