"""What each choice of a rule does to the stock and its price, on the three shipped scenarios.

    python -m tests.studies.choices FILE [--scenario NAME] [--surges 60]    # takes hours
    python -m tests.studies.choices FILE --table

Each line of FILE is one scenario with one choice: the cheapest kits, batteries and bays, from an
empty store, that meet the target in the target's share of so many simulated surges, the same for
every choice. This is how a sizing chooses its candidates. It is an estimate and confirms nothing:
it flatters a little, and steps of one lot are random variation. What stands in FILE already is
left out, so a run that was stopped goes on.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from surge_sim import load_scenario
from surge_sim.engine.surges import compile_engine, workers
from surge_sim.equipment.stock import Stock, money
from surge_sim.errors import ScenarioError
from surge_sim.scenario.load import Scenario
from surge_sim.sizing.choosing import SampleA
from surge_sim.sizing.player import ScenarioPlayer, Watch, Work
from surge_sim.sizing.search import find_cheap, find_rich, from_minimum_passing, search_region
from tests.conftest import ROOT

SCENARIOS = ("rule_out_unit", "exposure_cluster", "winter_wave")
SEED, SURGES = 1, 60
AS_SHIPPED = "as shipped"
#: a change of the price from here on is written in bold
MATTERS = 0.05

#: rates of the file that `surge-sim new` writes, all of them invented
FAILURES = {
    "blower_run_between_failures": "30 d",
    "repair_time": {"shape": "lognormal", "median": "2 d", "p90": "5 d"},
    "battery_run_between_failures": "60 d",
    "battery_replacement_time": {"shape": "lognormal", "median": "5 d", "p90": "14 d"},
    "charger_time_between_failures": "400 d",
    "charger_repair_time": {"shape": "lognormal", "median": "3 d", "p90": "10 d"},
    "hood_damage": "0.4 %",
    "tube_damage": "0.1 %",
}
#: price of a large hood in talers, invented
LARGE_HOOD = 35
CARRYING = {"fetch": "2 min", "bring_back": "1 min", "to_cleaning": "1 min"}


def rounds(scenario: Scenario) -> dict[str, Any]:
    """Rounds of three, or of as many as a wearer has patients, for every role with wearers."""
    return {
        f"roles.{name}.rooms_per_round": min(3, role.patients_per_wearer)
        for name, role in scenario.settings.roles.items()
        if role.patients_per_wearer is not None
    }


def choices(scenario: Scenario) -> dict[str, Mapping[str, Any]]:
    """Each choice by name, as changes of the scenario."""
    below = {
        "charging.charge_below": "60 %", "charging.partial_charge_at_reissue": "yes",
    }  # fmt: skip
    large = {
        "kit.large_hood_share": "30 %", "supplies.large_hoods": {"spare": 0},
        "prices.large_hood": LARGE_HOOD,
    }  # fmt: skip
    return {
        AS_SHIPPED: {},
        "issued: any usable": {"batteries.issued": "any usable"},
        "issued: fullest": {"batteries.issued": "fullest"},
        "issued: least charged that will do": {"batteries.issued": "least charged that will do"},
        "reissue with a partial charge": {"charging.partial_charge_at_reissue": "yes"},
        "partial charge, issued: fullest": {
            "charging.partial_charge_at_reissue": "yes", "batteries.issued": "fullest",
        },
        "partial charge, failures of the starter file": {
            "charging.partial_charge_at_reissue": "yes", "failures": FAILURES,
        },
        "charged below 60 %": below,
        "charged below 60 %, issued: fullest": below | {"batteries.issued": "fullest"},
        "charged below 60 %, issued: least charged": below
        | {"batteries.issued": "least charged that will do"},
        "end of charge: straight": {"batteries.end_of_charge": "straight"},
        "nothing fails": {"failures": {}},
        "failures of the starter file": {"failures": FAILURES},
        "carrying 4 min a cycle": {"carrying": CARRYING},
        "late by delay": {"target.late_by": "delay"},
        "rounds of three rooms": rounds(scenario),
        "rounds, one kit for a round": {**rounds(scenario), "policy.kit": "per round"},
        "kit held for a shift": {"policy.kit": "held for a shift"},
        "run-in of 7 d": {"run_in": "7 d"},
        "large hoods for 30 %, as many as needed": large,
    }  # fmt: skip


def cheapest(scenario: Scenario, surges: int, processes: int) -> dict[str, Any]:
    """Find the cheapest stock that meets the target in its share of so many surges."""
    settings = scenario.settings
    player = ScenarioPlayer(scenario, settings.target, SEED, "compiled")
    sizes = settings.kit.large_hood_share > 0
    names = ("kits", "batteries", "bays", *(["large_hoods"] if sizes else []))
    space = search_region(Stock(0, 0, 0), names, settings.prices, settings.limits)
    with workers(processes) as place:
        compile_engine()
        work = Work(lambda task, numbers: place.over(task, numbers, "compiled"), Watch())
        sample, share = SampleA(player, surges, work), settings.target.share_of_surges
        if sample.share(space.ample) < share:
            return {"stock": None, "price": None, "met": sample.passes(space.ample)}
        rich = find_rich(sample, space, {})
        found = find_cheap(sample, space, from_minimum_passing(sample, space, rich, share), share)
    return {
        "stock": [found.kits, found.batteries, found.bays],
        "large_hoods": found.extra_large_hoods,
        "price": money(space.owned, found, settings.prices),
        "met": sample.passes(found),
    }


def known(file: Path) -> list[dict[str, Any]]:
    """Lines of a file, if it is there."""
    lines = file.read_text("utf-8").splitlines() if file.exists() else []
    return [json.loads(line) for line in lines]


def run(
    file: Path, names: tuple[str, ...], surges: int, processes: int, only: list[str] | None
) -> None:
    """Size every choice, or only some, as far as they are not in the file yet."""
    done = {(one["scenario"], one["choice"], one["surges"]) for one in known(file)}
    for name in names:
        scenario = load_scenario(ROOT / "scenarios" / f"{name}.yaml")
        for choice, changes in choices(scenario).items():
            if (name, choice, surges) in done or choice not in (only or [choice]):
                continue
            row: dict[str, Any] = {"scenario": name, "choice": choice, "surges": surges}
            try:
                changed = scenario.changed(changes) if changes else scenario
            except ScenarioError as error:
                row |= {"stock": None, "price": None, "why": str(error)}
            else:
                row |= cheapest(changed, surges, processes)
            with file.open("a", encoding="utf-8") as out:
                out.write(json.dumps(row) + "\n")
            print(name, choice, row["stock"], row["price"], flush=True)


def table(rows: list[dict[str, Any]]) -> Iterator[str]:
    """Yield the table of tests/README.md: stock and price, and its change, by scenario."""
    names = [name for name in SCENARIOS if any(one["scenario"] == name for one in rows)]
    found = {(one["scenario"], one["choice"]): one for one in rows}
    labels = [f"{name} ({found[name, AS_SHIPPED]['surges']} surges)" for name in names]
    yield f"| choice | {' | '.join(labels)} |"
    yield f"| --- |{' --- |' * len(names)}"
    for choice in dict.fromkeys(one["choice"] for one in rows):
        cells = [_cell(found.get((name, choice)), found[name, AS_SHIPPED]) for name in names]
        yield f"| {choice} | {' | '.join(cells)} |"


def _cell(one: dict[str, Any] | None, shipped: dict[str, Any]) -> str:
    if one is None:
        return "not run"
    if one["stock"] is None:
        return "does not apply" if "why" in one else "out of reach within the search limits"
    stock = "-".join(map(str, one["stock"]))
    if one.get("large_hoods"):
        stock += f" and {one['large_hoods']} large hoods"
    if one is shipped:
        return f"{stock}: {one['price']:,.0f}"
    change = one["price"] / shipped["price"] - 1
    said = f"{100 * change:+.2g} %" if one["price"] != shipped["price"] else "the same"
    bold = "**" if abs(change) >= MATTERS else ""
    return f"{stock}: {one['price']:,.0f}, {bold}{said}{bold}"


def main() -> None:
    """Run, or print the table of what was run."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("file", type=Path)
    parser.add_argument("--scenario", choices=SCENARIOS, action="append")
    parser.add_argument("--choice", action="append")
    parser.add_argument("--surges", type=int, default=SURGES)
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--table", action="store_true")
    asked = parser.parse_args()
    if asked.table:
        print("\n".join(table(known(asked.file))))
    else:
        names, only = tuple(asked.scenario or SCENARIOS), asked.choice
        run(asked.file, names, asked.surges, asked.processes, only)


if __name__ == "__main__":
    main()
