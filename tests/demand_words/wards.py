"""Random scenario files with several classes, roles and patterns; every number is invented."""

from __future__ import annotations

from typing import Any

import numpy as np
import yaml

#: chosen once
SEED = 20310
CLASSES = ("rule-out", "ward", "intensive", "recovering")
ROLES = ("nurse", "physician", "cleaner", "therapist")


class Dice:
    """What a ward is made of, thrown one after the other."""

    def __init__(self, number: int) -> None:
        self.rng = np.random.default_rng([SEED, number])

    def whole(self, low: int, high: int) -> int:
        """A whole number from low to high."""
        return int(self.rng.integers(low, high + 1))

    def number(self, low: float, high: float) -> float:
        """A number with two decimals."""
        return round(float(self.rng.uniform(low, high)), 2)

    def one_of(self, *choices: Any) -> Any:
        """One of the choices."""
        return choices[self.whole(0, len(choices) - 1)]

    def weights(self) -> list[int]:
        """Weights of 24 hours, some of them 0."""
        return [self.one_of(0, 1, 2, 5, 9, 12) for _ in range(23)] + [4]

    def shares(self, count: int) -> list[str]:
        """Unequal shares of 100 %, none below 10."""
        parts = self.rng.permutation(np.cumsum([10, 3, 7, 11])[:count])
        parts[0] += 100 - parts.sum()
        return [f"{part} %" for part in parts]

    def time(self, low_s: int, high_s: int) -> Any:
        """A distribution of times around some mean of seconds, in any of the ways to give it."""
        mean = self.whole(low_s, high_s)
        second = round(mean * self.number(1.4, 2.2))
        return self.one_of(
            f"{mean} s",
            {"shape": "exponential", "mean": f"{mean} s"},
            {"shape": "lognormal", "median": f"{mean} s", "p75": f"{second} s"},
            {"shape": "gamma", "mean": f"{mean} s", "cv": f"{self.whole(30, 80)} %"},
            {"shape": "weibull", "mean": f"{mean} s", "cv": f"{self.whole(30, 80)} %"},
            {"values": [f"{mean} s", f"{mean // 2} s", f"{second} s"]},
        )


def ward(number: int) -> str:
    """Write a scenario with at least three classes and roles; the number decides everything."""
    dice = Dice(number)
    classes = CLASSES[: dice.whole(3, 4)]
    roles = ROLES[: dice.whole(3, 4)]
    horizon = dice.whole(8, 11)
    file = {
        "title": f"Ward {number} of the words (invented)",
        "start": f"2031-{dice.whole(1, 9):02}-{dice.whole(1, 28):02} "
        f"{dice.whole(0, 23):02}:{dice.whole(0, 59):02}",
        "horizon": f"{horizon} d",
        "arrivals": _arrivals(dice, number, horizon, classes),
        "classes": _classes(dice, classes, roles),
        "roles": {name: _role(dice, place) for place, name in enumerate(roles)},
        "policy": {
            "maximum_wait": "50 min",
            "urgent_maximum_wait": "9 min",
            "bundled_care": {
                "entries": f"{dice.whole(50, 90)} %",
                "room_time": f"{dice.whole(110, 160)} %",
                "roles": [roles[number % len(roles)]],
            },
        },
        "kit": {
            "pre_use_check": "1 min", "don": dice.time(100, 300), "doff": dice.time(100, 300),
            "levels": [{"flow": "180 L/min", "run_time": "8 h"}],
        },
        "batteries": {"charge_time": "3 h", "minimum_run_time": "1 h",
                      "low_battery_alarm": "10 min"},
        "cleaning": {"by": "wearer", "wipe_down": "5 min"},
        "failures": {
            "hood_damage": f"{dice.whole(2, 5)} %", "tube_damage": f"{dice.whole(6, 9)} %",
        },
        "stock": {"kits": 9, "batteries": 12, "bays": 5},
        "target": {"wait": "5 min", "service_level": "95 %", "share_of_surges": "90 %"},
    }  # fmt: skip
    if number % 4:
        file["rooms"] = _rooms(dice, number, roles)
    if number % 2:
        rise = {"what": "extra patients", "arrivals": f"{dice.whole(180, 260)} %"}
        file["timeline"] = [rise | {"at": f"{dice.whole(30, 90)} h", "lasts": "50 h"}]
    return yaml.safe_dump(file, sort_keys=False)


def _arrivals(dice: Dice, number: int, horizon: int, classes: tuple[str, ...]) -> dict[str, Any]:
    arrivals: dict[str, Any] = {
        "baseline": f"{dice.number(2, 4)} per day",
        "initial_census": dice.whole(8, 14),
        "initial_stay": "full" if number % 3 == 0 else "residual",
        "hours_of_day": dice.weights(),
        "days_of_week": {
            "monday": 1.7, "tuesday": 0.9, "wednesday": 0.6, "thursday": 1.2,
            "friday": 1.4, "saturday": 0.3, "sunday": 0.5,
        },
    }  # fmt: skip
    main = ("wave", "epidemic", "counts", "exact counts")[number % 4]
    if main == "wave":
        arrivals["wave"] = {
            "extra_at_peak": f"{dice.number(6, 9)} per day",
            "peak": f"{dice.whole(40, 24 * horizon - 40)} h",
            "width": f"{dice.whole(30, 60)} h",
        }
    if main == "epidemic":
        arrivals["epidemic"] = {
            "population": 20_000, "reproduction_number": dice.number(1.8, 2.6),
            "latent": f"{dice.whole(30, 60)} h", "infectious": f"{dice.whole(70, 110)} h",
            "admitted": f"{dice.whole(3, 6)} %", "first_cases": dice.whole(250, 400),
            "immune": f"{dice.whole(10, 30)} %", "onset_to_admission": f"{dice.whole(40, 70)} h",
        }  # fmt: skip
    if main in ("counts", "exact counts"):
        arrivals["daily_counts"] = {
            "file": f"counts_{number}.csv", "share": f"{dice.whole(60, 90)} %",
            "exact": "yes" if main == "exact counts" else "no",
        }  # fmt: skip
    if number % 3 != 1:
        arrivals["clusters"] = [
            {"patients": dice.whole(5, 9), "at": f"{dice.whole(30, 80)} h", "within": "7 h",
             "patient_class": classes[number % len(classes)]},
            {"patients": dice.whole(3, 6), "at": f"{dice.whole(90, 150)} h", "within": "3 h"},
        ]  # fmt: skip
    return arrivals


def counts_file(number: int) -> str:
    """Write the patients of each day, as daily counts read them."""
    dice = Dice(1_000 + number)
    rows = [f"{day},{dice.whole(2, 14)}" for day in range(1, 15)]
    return "\n".join(["day,patients", *rows]) + "\n"


def _classes(dice: Dice, names: tuple[str, ...], roles: tuple[str, ...]) -> dict[str, Any]:
    classes: dict[str, Any] = {}
    for place, (name, share) in enumerate(zip(names, dice.shares(len(names)), strict=True)):
        classes[name] = {
            "share": share,
            "length_of_isolation": dice.time(80_000, 180_000),
            "entries": {role: f"{dice.number(1, 7)} per day" for role in roles},
        }
        if place != dice.whole(0, 5):
            classes[name]["urgent"] = {
                "per_patient": f"{dice.number(0.1, 1.5)} per day",
                "team": dice.whole(2, 5),
                "role": dice.one_of(*roles),
            }
    # one role does not visit one class at all
    classes[names[1]]["entries"].pop(roles[2])
    return classes


def _role(dice: Dice, place: int) -> dict[str, Any]:
    role: dict[str, Any] = {"room_time": dice.time(200, 900)}
    if place != 1:
        role["hours_of_day"] = dice.weights()
    if place != 2:
        role["kit_share"] = f"{dice.whole(40, 90)} %"
    if place in (0, 3):
        role["patients_per_wearer"] = dice.whole(2, 4)
        role["shifts"] = dice.one_of(["07:00", "15:00", "23:00"], ["06:30", "18:30"])
    if place == dice.whole(0, 3):
        role["don"] = dice.time(60, 200)
    if place == dice.whole(0, 3):
        role["doff"] = dice.time(60, 200)
    if place == 0:
        role["maximum_wait"] = "35 min"
    return role


def _rooms(dice: Dice, number: int, roles: tuple[str, ...]) -> dict[str, Any]:
    in_kit = number % 3 != 0
    return {
        "count": dice.whole(9, 14),
        "when_full": "divert" if number % 2 else "board",
        "air_changes": f"{dice.one_of(6, 8, 12)} per h",
        "clearance": dice.one_of("99 %", "99.9 %"),
        "mixing_factor": dice.number(1, 2),
        "terminal_clean": {
            "role": roles[2],
            "when": "with a kit" if in_kit else "after clearance",
            "room_time": dice.time(600, 1_500) if in_kit else "17 min",
            "delay": f"{dice.whole(1, 15)} min",
        },
    }
