"""What a sizing left in its folder, read back: nothing is taken that was changed since."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from surge_sim.equipment.stock import ITEMS, Stock, stock_in_hand
from surge_sim.purchase.folder import Folder
from surge_sim.scenario.load import load_scenario

if TYPE_CHECKING:
    import pandas as pd

    from surge_sim.scenario.load import Scenario

_RIGHT = "Name a folder that `surge-sim size FILE --out DIR` has written, or size again."
#: tables that every sizing leaves
TABLES = ("stages", "tested", "cause_of_waiting_in_hand")


@dataclass(frozen=True, eq=False)
class Sized:
    """A sizing as its folder tells it."""

    folder: Path
    #: the scenario that was sized, with the target and the prices that were asked for
    scenario: Scenario = field(repr=False)
    seed: int
    #: what was typed
    command: tuple[str, ...]
    #: release that sized
    tool: str
    #: chance that all its claims hold together; None for a recorded period
    confidence: float | None
    in_hand: Stock
    proposed: Stock
    #: whether an empty store was sized instead of the stock in hand
    new: bool
    #: items that could be bought
    searched: tuple[str, ...]
    #: bounds of the least cost, and how strong that is
    least_cost: Mapping[str, Any]
    #: by name, as they were written
    tables: Mapping[str, pd.DataFrame] = field(repr=False)
    #: the very bytes of the files that are told from, by their path in the folder
    files: Mapping[str, bytes] = field(repr=False)

    @property
    def empty(self) -> bool:
        """Whether it began with an empty store; what may not be bought stays as it is owned."""
        return self.new and not (self.in_hand.kits or self.in_hand.batteries or self.in_hand.bays)

    @property
    def as_in_scenario(self) -> bool:
        """Whether the stock in hand is the scenario's, with which other commands begin."""
        return self.in_hand == stock_in_hand(self.scenario.settings)

    @property
    def place(self) -> int:
        """Row of the proposed stock in the table of stages."""
        return int(self.tables["stages"]["recommended"].to_numpy().argmax())

    @property
    def stages(self) -> tuple[Stock, ...]:
        """The stock of each stage."""
        rows = self.tables["stages"].to_dict(orient="records")
        return tuple(_stock({str(key): value for key, value in row.items()}) for row in rows)

    @property
    def next_cheaper(self) -> int | None:
        """Row of the dearest tested stock below the request in the table of tested ones."""
        tested, price = self.tables["tested"], self.tables["stages"]["cost"].iloc[self.place]
        cheaper = tested[tested["cost"] < price].sort_values(["cost", "surges"], kind="stable")
        if cheaper.empty:
            return None
        return int(cheaper.index[-1])

    @property
    def next_cheaper_no_stage(self) -> int | None:
        """Row of that stock; None where it is a stage of buying, which a case shows anyway."""
        place = self.next_cheaper
        return None if place is None or self.tested_stock(place) in self.stages else place

    def tested_stock(self, place: int) -> Stock:
        """Return the stock of a row of the table of tested ones."""
        row = self.tables["tested"].iloc[place].to_dict()
        return _stock({str(key): value for key, value in row.items()})

    @property
    def same_surges(self) -> int:
        """Number of surges on which all stages were played."""
        return int(self.tables["stages"]["same_surges"].iloc[0])


def read_sized(folder: Path) -> Sized:
    """Read the folder of a sizing.

    Parameters
    ----------
    folder : Path
        What ``surge-sim size`` wrote.

    Raises
    ------
    ScenarioError
        Where it is no such folder, is not whole, or was changed since.
    """
    written = Folder(folder, "sizing", _RIGHT)
    summary = written.json("summary.json")
    written.read("columns.txt")
    tables = {name: written.table(name) for name in TABLES}
    scenario = _as_asked(written, written.scenario())
    try:
        sized = Sized(
            folder=folder,
            scenario=scenario,
            seed=int(summary["seed"]),
            command=tuple(map(str, written.manifest["command"])),
            tool=str(written.manifest["tool"]),
            confidence=summary["confidence"],
            in_hand=_stock(summary["in_hand"]),
            proposed=_stock(summary["recommended"]),
            new=bool(summary["empty_store"]),
            searched=tuple(map(str, summary["searched"])),
            least_cost=dict(summary["least_cost"]),
            tables=tables,
            files=written.files,
        )
        if not tables["stages"]["recommended"].any():
            raise KeyError("recommended")
    except (KeyError, TypeError, ValueError):
        # of a run, a comparison, or another release
        raise written.fault("summary.json", "is no summary of a sizing.") from None
    return sized


def _as_asked(written: Folder, scenario: Scenario) -> Scenario:
    """Return the scenario with the target and the prices that were asked for.

    The copy of the file has its own; the full form beside it has what was sized.
    """
    full = f"scenario/{scenario.path.stem}_in_full.yaml"
    written.read(full)
    asked = load_scenario(written.path / full).settings
    changed = {"target": asked.target, "prices": asked.prices}
    return replace(scenario, settings=scenario.settings.model_copy(update=changed))


def _stock(told: Mapping[str, Any]) -> Stock:
    return Stock(**{one.field: int(told[one.field]) for one in ITEMS.values() if one.field in told})
