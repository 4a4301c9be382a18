"""How many kits, spare batteries and charger bays keep the wait for a kit short in a surge.

The public names below are loaded when they are first used, so that ``import surge_sim`` and
``surge-sim --help`` are quick, and the program hears a stop from its first moments.
"""

from __future__ import annotations

from importlib import import_module

TYPE_CHECKING = False
if TYPE_CHECKING:
    from typing import Any

    from surge_sim.demand.draw import draw_demand
    from surge_sim.engine.play import play
    from surge_sim.equipment.situation import situation_of
    from surge_sim.equipment.stock import Stock, stock_in_hand
    from surge_sim.errors import Fault, OutOfReach, ScenarioError
    from surge_sim.report.matters import matters
    from surge_sim.report.notebook import compare
    from surge_sim.scenario.load import load_scenario, scenario_from_text
    from surge_sim.sizing.size import size
    from surge_sim.statistics.run import run

__version__ = "0.1.0"

__all__ = [
    "Fault",
    "OutOfReach",
    "ScenarioError",
    "Stock",
    "__version__",
    "compare",
    "draw_demand",
    "load_scenario",
    "matters",
    "play",
    "run",
    "scenario_from_text",
    "situation_of",
    "size",
    "stock_in_hand",
]

# public name: module and name there
_HOMES = {
    "Fault": ("surge_sim.errors", "Fault"),
    "OutOfReach": ("surge_sim.errors", "OutOfReach"),
    "ScenarioError": ("surge_sim.errors", "ScenarioError"),
    "Stock": ("surge_sim.equipment.stock", "Stock"),
    "situation_of": ("surge_sim.equipment.situation", "situation_of"),
    "compare": ("surge_sim.report.notebook", "compare"),
    "draw_demand": ("surge_sim.demand.draw", "draw_demand"),
    "load_scenario": ("surge_sim.scenario.load", "load_scenario"),
    "matters": ("surge_sim.report.matters", "matters"),
    "play": ("surge_sim.engine.play", "play"),
    "run": ("surge_sim.statistics.run", "run"),
    "scenario_from_text": ("surge_sim.scenario.load", "scenario_from_text"),
    "size": ("surge_sim.sizing.size", "size"),
    "stock_in_hand": ("surge_sim.equipment.stock", "stock_in_hand"),
}


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module 'surge_sim' has no attribute {name!r}")
    module, home_name = _HOMES[name]
    value = getattr(import_module(module), home_name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return __all__
