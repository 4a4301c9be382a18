"""Random scenarios of all equipment with several classes, roles, levels, parts, timelines.

Everything is scarce, so that there is something to count. All numbers are invented.
"""

from __future__ import annotations

from typing import Any

import yaml

from tests.demand_words.wards import Dice, ward


def scene(number: int) -> str:
    """Write a scenario; the number decides everything."""
    dice = Dice(5_000 + number)
    # wards that need no file beside them
    file: dict[str, Any] = yaml.safe_load(ward(4 * number + dice.one_of(0, 1)))
    hours = dice.whole(50, 90)
    file["title"] = f"Scene {number} of the second accounts (invented)"
    file["horizon"] = f"{hours} h"
    file["run_out"] = f"{dice.whole(1, 6)} h"
    arrivals = file["arrivals"]
    arrivals.pop("clusters", None)
    if "wave" in arrivals:
        arrivals["wave"]["peak"] = "30 h"
    if "rooms" not in file and number % 3:
        file["rooms"] = {"count": 6, "air_changes": "12 per h", "when_full": "divert"}
    if "rooms" in file:
        file["rooms"] |= {"count": dice.whole(7, 10), "when_full": dice.one_of("board", "divert")}
    for one in file["classes"].values():
        one["urgent"] = {"per_patient": f"{dice.number(0.3, 0.9)} per day", "team": 2,
                         "role": list(file["roles"])[dice.whole(0, 2)]}  # fmt: skip
        one["entries"] = {role: f"{dice.number(2, 5)} per day" for role in one["entries"]}
    file["policy"] = {
        "maximum_wait": f"{dice.whole(15, 40)} min",
        "urgent_maximum_wait": f"{dice.whole(4, 12)} min",
        "after_maximum_wait": dice.one_of("leaves the queue", "postponed"),
        "postponed_by": "2 h",
        "kit": dice.one_of("per entry", "held for a shift"),
        "reserved_for_urgent": dice.whole(0, 1),
    }
    if number % 4 == 3:
        # whoever has none waits to the close
        file["policy"] = {"reserved_for_urgent": 1}
        for role in file["roles"].values():
            role.pop("maximum_wait", None)
    file["kit"] = {
        "pre_use_check": "1 min", "don": "2 min", "doff": "3 min",
        "minimum_flow": "170 L/min",
        "levels": [
            {"flow": "180 L/min", "run_time": f"{dice.whole(120, 200)} min"},
            {"flow": "200 L/min", "run_time": f"{dice.whole(80, 110)} min",
             "further_life": f"{dice.whole(20, 60)} %"},
        ],
        "recheck": {"first_after": "8 min", "then_every": "5 min"},
        "single_use_hoods": dice.one_of("yes", "no"),
    }  # fmt: skip
    file["filters"] = {
        "prefilter_life": {"shape": "weibull", "mean": f"{dice.whole(60, 140)} min", "cv": "40 %"},
        "he_filter_life": {"shape": "gamma", "mean": f"{dice.whole(100, 250)} min", "cv": "40 %"},
        "prefilter_change": "4 min",
        "he_filter_turnaround": "2 h",
    }
    file["failures"] = {
        "blower_run_between_failures": f"{dice.whole(4, 9)} h",
        "repair_time": "5 h",
        "battery_run_between_failures": f"{dice.whole(15, 30)} h",
        "battery_replacement_time": "7 h",
        "hood_damage": f"{dice.whole(4, 8)} %",
        "tube_damage": f"{dice.whole(9, 14)} %",
    }
    file["batteries"] = {
        "charge_time": f"{dice.whole(60, 120)} min", "minimum_run_time": "25 min",
        "low_battery_alarm": "12 min", "state_of_health": ["100 %", "80 %"],
    }  # fmt: skip
    file["charging"] = {
        "partial_charge_at_reissue": dice.one_of("yes", "no"),
        "cool_down": f"{dice.whole(5, 15)} min",
    }
    file["cleaning"] = {
        "by": "crew", "wipe_down": f"{dice.whole(3, 6)} min", "contact_time": "2 min",
        "drying_time": f"{dice.whole(5, 20)} min",
        "crew": [{"start": "00:00", "end": "24:00", "cleaners": dice.whole(1, 5)}],
    }  # fmt: skip
    file["supplies"] = {
        name: {"spare": dice.whole(0, 4), "reorder_point": dice.whole(1, 2),
               "order_quantity": dice.whole(2, 6), "lead_time": f"{dice.whole(5, 14)} h"}
        for name in ("hoods", "tubes", "prefilters", "he_filters")
    } | {"wipes_per_clean": dice.whole(2, 5)}  # fmt: skip
    file["timeline"] = [
        {"what": "power outage", "at": f"{dice.whole(5, 20)} h", "lasts": "3 h"},
        {"what": "kits recalled", "kits": 5, "at": f"{dice.whole(31, 45)} h", "lasts": "1 h"},
        {"what": "kits on loan", "kits": 2, "at": f"{dice.whole(20, 30)} h", "lasts": "9 h"},
    ]
    kits = dice.whole(7, 14)
    file["stock"] = {
        "kits": kits, "batteries": kits + dice.whole(1, 8), "bays": dice.whole(4, 14),
    }  # fmt: skip
    file["target"] = {
        "wait": f"{dice.whole(2, 9)} min",
        "service_level": f"{dice.one_of(20, 40, 60, 80)} %",
        "share_of_surges": "60 %",
        "urgent": {"wait": f"{dice.whole(1, 3)} min",
                   "service_level": f"{dice.one_of(20, 40, 60)} %"},
    }  # fmt: skip
    if number % 2:
        file["target"] |= {"most_alarms_per_1000": 150, "most_stock_outs": 30}
    if number % 5 == 4:
        del file["target"]["urgent"]
    return yaml.safe_dump(file, sort_keys=False)


def log_scene(number: int) -> tuple[str, str]:
    """Write a scenario that plays a log of entries, and the log, with some recorded waits."""
    dice = Dice(7_000 + number)
    file = yaml.safe_load(scene(number))
    file["title"] = f"Log {number} of the second accounts (invented)"
    for section in ("arrivals", "rooms", "classes"):
        file.pop(section, None)
    file["horizon"] = "50 h"
    file["entries"] = {"from": f"log_{number}.csv"}
    file["policy"] = {"maximum_wait": "40 min", "urgent_maximum_wait": "9 min"}
    file["cleaning"]["wipe_down"] = {"shape": "gamma", "mean": "6 min", "cv": "50 %"}
    file["cleaning"]["crew"][0]["cleaners"] = 1
    file["stock"] = {"kits": 5, "batteries": 7, "bays": 3}
    rows = ["requested,room_minutes,role,urgent,wait_minutes"]
    for need in sorted(dice.whole(0, 50 * 60 - 1) for _ in range(170)):
        role = list(file["roles"])[dice.whole(0, 2)]
        wait = dice.one_of("", 0, dice.whole(1, 9), dice.whole(5, 30))
        rows.append(f"{need},{dice.whole(2, 25)},{role},{dice.one_of('yes', 'no', 'no')},{wait}")
    return yaml.safe_dump(file, sort_keys=False), "\n".join(rows) + "\n"
