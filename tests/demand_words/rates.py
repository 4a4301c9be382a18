"""What the words of a file let expect: patients by hour, visits of so much time in isolation."""

from __future__ import annotations

import csv
import math
from datetime import timedelta
from pathlib import Path
from typing import Any

import numpy as np
from scipy.integrate import odeint

from tests.demand_words.reading import (
    DAY_S,
    HOUR_S,
    WEEKDAYS,
    per_second,
    seconds,
    shape_of,
    share,
    start_of,
)


class Calendar:
    """The minutes of a surge, and the hour of the clock and the weekday of each."""

    def __init__(self, file: dict[str, Any]) -> None:
        start = start_of(file)
        self.minutes = int(seconds(file["horizon"])) // 60
        moments = [start + timedelta(minutes=minute) for minute in range(self.minutes)]
        self.hour = np.array([one.hour for one in moments])
        self.weekday = np.array([one.weekday() for one in moments])
        self.day = np.arange(self.minutes) // (24 * 60)


def patients_by_minute(file: dict[str, Any], calendar: Calendar, folder: Path) -> np.ndarray:
    """Expected patients in each minute, without those present at the start and clusters."""
    arrivals = file["arrivals"]
    middle_s = (np.arange(calendar.minutes) + 0.5) * 60
    rate = np.full(calendar.minutes, per_second(arrivals.get("baseline", "0 per day")))
    if "wave" in arrivals:
        wave = arrivals["wave"]
        far = (middle_s - seconds(wave["peak"])) / seconds(wave["width"])
        rate += per_second(wave["extra_at_peak"]) * np.exp(-(far**2) / 2)
    if "epidemic" in arrivals:
        rate += epidemic_rate(arrivals["epidemic"], middle_s)
    by_hour = shape_of(arrivals.get("hours_of_day"), 24)
    given = arrivals.get("days_of_week", {})
    by_weekday = shape_of([float(given.get(day, 1)) for day in WEEKDAYS], 7)
    exact = np.zeros(calendar.minutes)
    counts = daily_counts(arrivals, calendar, folder)
    if "daily_counts" in arrivals:
        per_s = np.array(counts)[calendar.day] / DAY_S
        if arrivals["daily_counts"]["exact"] in (True, "yes"):
            # their days are what they are; only the hours have weights
            exact = per_s * by_hour[calendar.hour]
        else:
            rate += per_s
    rate = rate * by_hour[calendar.hour] * by_weekday[calendar.weekday] + exact
    for event in file.get("timeline", []):
        if event["what"] == "extra patients":
            from_s = seconds(event["at"])
            during = (middle_s >= from_s) & (middle_s < from_s + seconds(event["lasts"]))
            rate[during] *= share(event["arrivals"])
    return rate * 60


def epidemic_rate(epidemic: dict[str, Any], at_s: np.ndarray) -> np.ndarray:
    """Admissions per second: the admitted share of those who fall ill, some time after."""
    people = float(epidemic["population"])
    latent, infectious = seconds(epidemic["latent"]), seconds(epidemic["infectious"])
    first = float(epidemic["first_cases"])
    contact = float(epidemic["reproduction_number"]) / infectious

    def change(state: np.ndarray, _: float) -> list[float]:
        open_to_it, exposed, ill = state
        infected = contact * open_to_it * ill / people
        return [-infected, infected - exposed / latent, exposed / latent - ill / infectious]

    begin = [people * (1 - share(epidemic["immune"])) - first, 0.0, first]
    exposed = odeint(change, begin, np.concatenate(([0.0], at_s)), rtol=1e-9)[1:, 1]
    falls_ill = exposed / latent * share(epidemic["admitted"])
    shift = seconds(epidemic["onset_to_admission"])
    return np.interp(at_s - shift, at_s, falls_ill, left=0.0)


def daily_counts(arrivals: dict[str, Any], calendar: Calendar, folder: Path) -> list[float]:
    """Patients of each day of 24 hours; days past the end of the file have none."""
    days = int(calendar.day[-1]) + 1
    if "daily_counts" not in arrivals:
        return [0.0] * days
    given = arrivals["daily_counts"]
    with (folder / given["file"]).open(encoding="utf-8") as rows:
        by_day = {int(row["day"]): float(row["patients"]) for row in csv.DictReader(rows)}
    counts = [by_day.get(day + 1, 0.0) * share(given["share"]) for day in range(days)]
    if given["exact"] not in (True, "yes"):
        return counts
    # nobody is lost by rounding: what a day lacks comes with a later one
    summed = [math.floor(total + 0.5 - 1e-9) for total in np.cumsum(counts)]
    return [float(one) for one in np.diff(summed, prepend=0)]


def cluster_by_minute(cluster: dict[str, Any], calendar: Calendar) -> np.ndarray:
    """Expected patients of a cluster in each minute: evenly within its hours."""
    at_s = seconds(cluster["at"])
    length_s = seconds(cluster.get("within", "0 s")) + 1
    edges_s = np.arange(calendar.minutes + 1) * 60
    return float(cluster["patients"]) * np.diff(np.clip((edges_s - at_s) / length_s, 0, 1))


def time_by_hour(
    from_s: np.ndarray, to_s: np.ndarray, file: dict[str, Any]
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Seconds of each stay in each hour of the clock that the surge touches.

    Returns the seconds, shape (stays, hours), and the clock's hour and the weekday of each.
    """
    start = start_of(file)
    past_s = start.minute * 60 + start.second
    horizon_s = int(seconds(file["horizon"]))
    edges = np.arange(-past_s, horizon_s + HOUR_S, HOUR_S)
    inside = np.minimum(to_s[:, None], edges[1:]) - np.maximum(from_s[:, None], edges[:-1])
    moments = [start + timedelta(seconds=int(edge)) for edge in edges[:-1]]
    hour = np.array([one.hour for one in moments])
    weekday = np.array([one.weekday() for one in moments])
    return np.clip(inside, 0, None), hour, weekday


def visits_per_second(file: dict[str, Any], patient_class: str, role: str) -> float:
    """Visits with a kit per second of a patient of the class, on average over the day."""
    words = file["classes"][patient_class]["entries"].get(role)
    if words is None:
        return 0.0
    care = file.get("policy", {}).get("bundled_care")
    fewer = share(care["entries"]) if care and role in care.get("roles", [role]) else 1.0
    with_kit = share(file["roles"][role].get("kit_share", "100 %"))
    return per_second(words) * fewer * with_kit


def longer_by(file: dict[str, Any], role: str) -> float:
    """Factor of the room time of a role's visits by bundled care."""
    care = file.get("policy", {}).get("bundled_care")
    return share(care["room_time"]) if care and role in care.get("roles", [role]) else 1.0
