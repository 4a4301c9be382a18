"""What may be asked of a sizing: the same words in Python and on the command line."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches
from typing import TYPE_CHECKING, Any

import numpy as np

from surge_sim import units
from surge_sim.equipment.stock import ITEMS, PARTS, Stock
from surge_sim.errors import Fault, ScenarioError
from surge_sim.sizing.betting import by_block, limits

if TYPE_CHECKING:
    from surge_sim.scenario.load import Scenario
    from surge_sim.scenario.schema import Prices, Settings, Target


#: surges that usually choose what is tested, and most that usually test it
CHOOSE, SURGES = 200, 800


@dataclass(frozen=True)
class Asked:
    """What a sizing is asked for, once it was read."""

    names: tuple[str, ...]
    target: Target
    prices: Prices
    stock: Stock
    confidence: float
    choose: int
    surges: int
    seed: int
    new: bool = False
    spend: float | None = None


def read_share(option: str, given: str | float) -> float:
    """Return a share written like ``95%``, or a number from 0 to 1."""
    return given if isinstance(given, float) else float(_read(option, given, units.parse_share))


def read_names(given: str | Sequence[str]) -> tuple[str, ...]:
    """Return names separated by commas, or a sequence of them."""
    names = given.split(",") if isinstance(given, str) else given
    return tuple(name.strip() for name in names if name.strip())


#: parts of the target that may be asked for
_TARGET_PARTS = (
    "wait", "service_level", "share_of_surges", "most_alarms_per_1000", "most_stock_outs"
)  # fmt: skip


def read_target(given: Target | str | Mapping[str, Any], scenario: Scenario) -> Target:
    """Return the scenario's target with the parts that are named, like ``wait=5min``."""
    target = scenario.settings.target
    if isinstance(given, type(target)):
        return given
    parts = _pairs("--target", given, _TARGET_PARTS)
    read = _changed(scenario, "target", parts).target
    # what is not named stays to the last digit
    return target.model_copy(update={name: getattr(read, name) for name in parts})


def read_prices(given: Prices | str | Mapping[str, Any], scenario: Scenario) -> Prices:
    """Return the scenario's prices with those that are named, like ``kit=1400,battery=240``."""
    prices = scenario.settings.prices
    if isinstance(given, type(prices)):
        return given
    parts = _pairs("--prices", given, tuple(type(prices).model_fields))
    read = _changed(scenario, "prices", parts).prices
    return prices.model_copy(update={name: getattr(read, name) for name in parts})


def _changed(scenario: Scenario, section: str, parts: Mapping[str, Any]) -> Settings:
    """Return the settings with other values in a section, judged like those of a file."""
    values = {f"{section}.{name}": str(raw) for name, raw in parts.items()}
    try:
        return scenario.changed(values).settings
    except ScenarioError as error:
        raise ScenarioError([replace(one, file=f"--{section}") for one in error.faults]) from None


def with_asked(
    scenario: Scenario,
    target: Target | str | Mapping[str, Any] | None,
    prices: Prices | str | Mapping[str, Any] | None,
) -> Scenario:
    """Return the scenario with another target and other prices, as it is written to a folder."""
    changed: dict[str, Any] = {}
    if target is not None:
        changed["target"] = read_target(target, scenario)
    if prices is not None:
        changed["prices"] = read_prices(prices, scenario)
    if not changed:
        return scenario
    return replace(scenario, settings=scenario.settings.model_copy(update=changed))


def read_stock(given: Stock | Sequence[int] | Mapping[str, int]) -> Stock:
    """Return a stock given as such, as (kits, batteries, bays), or by name."""
    if isinstance(given, Stock):
        return given
    right = "Write stock=(8, 13, 8): kits, batteries and bays."
    try:
        return Stock(**given) if isinstance(given, Mapping) else Stock(*map(int, given))
    except (TypeError, ValueError):
        raise _wrong("stock", f"{given!r} is no stock.", right) from None


def searched(settings: Settings, prices: Prices) -> tuple[str, ...]:
    """Return what is searched by default: kits, batteries, bays, priced cleaners of a crew, parts.

    Parts are those that `supplies` names; without a price they count as free.
    """
    names = ["kits", "batteries", "bays"]
    if settings.cleaning.by == "crew" and prices.cleaner > 0:
        names.append("cleaners")
    return (*names, *limited_parts(settings))


def limited_parts(settings: Settings) -> tuple[str, ...]:
    """Return the parts that can run out: those that the scenario's `supplies` name."""
    return tuple(name for name in PARTS if getattr(settings.supplies, name) is not None)


def check(asked: Asked, settings: Settings, file: str, alike: bool = False) -> None:
    """Refuse what cannot be done, with what would be right; ``alike``: one play says all."""
    faults = list(_faults_of_names(asked.names, settings, file))
    share = asked.target.share_of_surges
    if not 0.5 <= asked.confidence < 1.0:
        found = f"is {100 * asked.confidence:g} %."
        right = "Use at least 50 % and less than 100 %: 95 %."
        faults.append(Fault("--confidence", 0, found, right))
    elif not alike and asked.surges < (least := least_surges(share, asked.confidence)):
        found = f"is {asked.surges}, too few to show {100 * share:g} %."
        right = f"Use at least {least}{', better 300 or more' * (least < 300)}."
        faults.append(Fault("--surges", 0, found, right))
    if asked.choose < 20 and not alike:
        faults.append(Fault("--choose", 0, f"is {asked.choose}.", "Use at least 20."))
    if asked.spend is not None and not 0 < asked.spend < float("inf"):
        faults.append(Fault("--spend", 0, f"is {asked.spend:g}.", "Use more than 0."))
    if faults:
        raise ScenarioError(faults)


def least_surges(share: float, confidence: float) -> int:
    """Return with how many surges, all on target, a share is shown."""

    def is_shown(surges: int) -> bool:
        return limits(by_block(np.ones(surges, dtype=bool)), share, 1.0 - confidence)[0] >= share

    # each one more raises the limit; found by doubling and halving
    enough = 1
    while not is_shown(enough):
        enough *= 2
    return bisect_left(range(enough), True, key=is_shown)


def _faults_of_names(names: Sequence[str], settings: Settings, file: str):  # type: ignore[no-untyped-def]
    if not names:
        yield Fault("--only", 0, "names nothing.", f"Use any of {', '.join(ITEMS)}.")
    for name in dict.fromkeys(names):
        if name not in ITEMS:
            near = get_close_matches(name, ITEMS, n=1, cutoff=0.7)
            hint = f"Did you mean {near[0]}?" if near else f"Use any of {', '.join(ITEMS)}."
            yield Fault("--only", 0, f"there is no {name!r}.", hint)
        elif list(names).count(name) > 1:
            yield Fault("--only", 0, f"names {name} more than once.", "Name each item once.")
        elif name in PARTS and name not in limited_parts(settings):
            found = f"`supplies` of {file} names no {name}, so they never run out."
            yield Fault("--only", 0, found, f"Leave {name} out.")
        elif name == "cleaners" and settings.cleaning.by != "crew":
            found = f"cleaning in {file} is by {settings.cleaning.by}, so no crew wipes kits down."
            yield Fault("--only", 0, found, "Leave cleaners out.")


def _pairs(option: str, given: object, keys: tuple[str, ...]) -> dict[str, Any]:
    """Return what is given as pairs of a known key and a value."""
    if isinstance(given, Mapping):
        parts = list(given.items())
    elif isinstance(given, str):
        parts = []
        for part in read_names(given):
            key, sign, value = part.partition("=")
            if not sign:
                raise _wrong(
                    option, f"{part!r} has no value.", f"Write {keys[0]}=..., with commas."
                )
            parts.append((key.strip().replace("-", "_"), value.strip()))
    else:
        raise _wrong(option, f"{given!r} cannot be used.", f"Write '{keys[0]}=...', with commas.")
    pairs: dict[str, Any] = {}
    for key, value in parts:
        if key not in keys:
            near = get_close_matches(str(key), keys, n=1)
            hint = f"Did you mean {near[0]}?" if near else f"Known: {', '.join(keys)}."
            raise _wrong(option, f"there is no {key!r}.", hint)
        if key in pairs:
            found = f"{key} is given more than once: {pairs[key]!r} and {value!r}."
            raise _wrong(option, found, "Give it once.")
        pairs[key] = value
    return pairs


def _read(option: str, given: Any, parse: Callable[[Any], Any]) -> Any:
    try:
        return parse(given if isinstance(given, str) else str(given))
    except units.QuantityError as error:
        right = " ".join(error.right().split())
        raise _wrong(option, f"{given!r} cannot be used.", right) from None


def _wrong(option: str, found: str, right: str) -> ScenarioError:
    return ScenarioError([Fault(option, 0, found, right)])
