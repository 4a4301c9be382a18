"""Arguments and options that several commands share, and how they print."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

import click

from surge_sim.scenario.limits import MOST_OF_ANYTHING, MOST_SEED, MOST_SURGES, most_processes

if TYPE_CHECKING:
    from surge_sim.equipment.stock import Stock
    from surge_sim.scenario.load import Scenario

Function = TypeVar("Function", bound=Callable[..., Any])
Decorator = Callable[[Function], Function]


class Whole(click.ParamType):
    """A whole number between two limits; says so in plain words where it is not."""

    name = "number"

    def __init__(self, least: int, most: int = MOST_OF_ANYTHING) -> None:
        self.least, self.most = least, most

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> int:
        """Return the number, or refuse what is none."""
        try:
            number = int(str(value))
        except ValueError:
            number = self.least - 1
        if not self.least <= number <= self.most:
            asked = f"Write a whole number from {self.least} to {self.most:,}."
            self.fail(f"{value!r} cannot be used. {asked}", param, ctx)
        return number


class Money(click.ParamType):
    """An amount of money; one that is read differently elsewhere, 1.400, is asked about."""

    name = "money"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """Return the amount, or refuse what is none."""
        from surge_sim import units

        try:
            return units.parse_money(value)
        except units.QuantityError as error:
            right = " ".join(error.right().split())
            self.fail(f"{value!r} cannot be used. {right}", param, ctx)


class Place(click.Path):
    """A file or folder; no name at all is refused, which else would be the folder one is in."""

    def __init__(self) -> None:
        super().__init__(path_type=Path, readable=False)

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Return the path."""
        if not str(value):
            self.fail("the name is empty. Name a file or a folder.", param, ctx)
        return super().convert(value, param, ctx)


#: the scenario file; that it exists and can be read is the loader's to judge, so that every
#: fault of a file is said in one form
scenario_argument: Decorator[Any] = click.argument("scenario_file", metavar="FILE", type=Place())

seed_option: Decorator[Any] = click.option(
    "--seed",
    type=Whole(0, MOST_SEED),
    default=1,
    show_default=True,
    help="Random seed; the same seed gives the same answer.",
)

json_option: Decorator[Any] = click.option(
    "--json",
    "as_json",
    is_flag=True,
    help="Print one JSON object on standard output and nothing else there.",
)

full_option: Decorator[Any] = click.option(
    "--full", is_flag=True, help="Show the whole answer, as in answer.txt of the results folder."
)

out_option: Decorator[Any] = click.option(
    "--out",
    "out_folder",
    metavar="DIR",
    type=Place(),
    help="Folder for the results: a new one, or an empty one.",
)

processes_option: Decorator[Any] = click.option(
    "--processes",
    type=Whole(1, most_processes()),
    help="Processes to share the work; the answer does not depend on it.  [default: one a core]",
)

cluster_option: Decorator[Any] = click.option(
    "--cluster",
    metavar="ADDRESS",
    help="Share the work among the workers of this Dask scheduler instead; same answer. They "
    "exchange pickles with this program, which can run any code: use only a scheduler and workers "
    "that you trust. Encryption and access are settings of the cluster.",
)


class Shared(NamedTuple):
    """What every command that plays surges is asked, besides what it plays."""

    seed: int
    out_folder: Path | None
    full: bool
    as_json: bool
    processes: int | None
    cluster: str | None

    @property
    def place(self) -> dict[str, Any]:
        """Where surges are played, as arguments."""
        return {"processes": self.processes, "cluster": self.cluster}


def shared_options(function: Callable[..., None]) -> Callable[..., None]:
    """Add the options of :class:`Shared`; the command takes them together, as `shared`."""

    @wraps(function)
    def command(**given: Any) -> None:
        shared = Shared(**{name: given.pop(name) for name in Shared._fields})
        function(shared=shared, **given)

    # decorators apply from the last to the first
    for option in (
        cluster_option, processes_option, json_option, full_option, out_option, seed_option
    ):  # fmt: skip
        command = option(command)
    return command


def stock_options(function: Function) -> Function:
    """Add options for a stock other than the scenario's; see :func:`chosen_stock`."""
    count = Whole(0)
    # decorators apply from the last to the first
    for name, words in (
        ("--bays", "Charger bays."),
        ("--batteries", "Batteries, spare ones included."),
        ("--kits", "Kits, instead of the scenario's."),
    ):
        function = click.option(name, type=count, help=words)(function)
    return function


def chosen_stock(
    scenario: Scenario, kits: int | None, batteries: int | None, bays: int | None
) -> Stock:
    """Return the scenario's stock in hand with what the options change."""
    from surge_sim.equipment.stock import stock_in_hand

    chosen = {"kits": kits, "batteries": batteries, "bays": bays}
    given = {name: count for name, count in chosen.items() if count is not None}
    return replace(stock_in_hand(scenario.settings), **given)


def surges_option(default: int, help_text: str = "Number of simulated surges.") -> Decorator[Any]:
    """Return the option ``--surges`` with a default of its own."""
    return click.option(
        "--surges",
        type=Whole(1, MOST_SURGES),
        default=default,
        show_default=True,
        help=help_text,
    )
