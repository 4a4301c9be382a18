"""Options of ``size`` that are written as text: shares, prices, targets, items."""

from __future__ import annotations

from collections.abc import Callable
from difflib import get_close_matches
from typing import TYPE_CHECKING, Any

from surge_sim import units
from surge_sim.errors import Fault, ScenarioError

if TYPE_CHECKING:
    from surge_sim.scenario.goal import Prices, Target

_TARGET_PARTS: dict[str, Callable[[Any], Any]] = {
    "wait": units.parse_duration,
    "share_of_entries": units.parse_share,
    "share_of_surges": units.parse_share,
    "most_alarms_per_1000": units.parse_number,
    "most_stock_outs": lambda raw: round(units.parse_number(raw)),
}


def read_share(option: str, text: str) -> float:
    """Return a share written like ``95%``."""
    return float(_read(option, text, units.parse_share))


def read_duration(option: str, text: str) -> int:
    """Return a time [s] written like ``60 s``."""
    return int(_read(option, text, units.parse_duration))


def read_names(text: str) -> tuple[str, ...]:
    """Return names separated by commas."""
    return tuple(name.strip() for name in text.split(",") if name.strip())


def read_target(text: str, target: Target) -> Target:
    """Return the target with the parts that the text names, like ``wait=5min``."""
    parts = _pairs("--target", text, tuple(_TARGET_PARTS))
    values = {key: _read(f"--target {key}", raw, _TARGET_PARTS[key]) for key, raw in parts.items()}
    return target.model_copy(update=values)


def read_prices(text: str, prices: Prices) -> Prices:
    """Return the prices with those that the text names, like ``kit=1400,battery=240``."""
    keys = tuple(type(prices).model_fields)
    values: dict[str, Any] = {}
    for key, raw in _pairs("--prices", text, keys).items():
        number: Any = raw
        if key != "currency":
            read = units.parse_count if key == "bays_per_charger" else units.parse_money
            number = float(_read(f"--prices {key}", raw, read))
        if key == "bays_per_charger":
            number = int(number)
        least = {"currency": None, "bays_per_charger": 1}.get(key, 0)
        if least is not None and not number >= least:
            raise _wrong("--prices", f"{key} is {raw!r}.", f"Write a number of {least} or more.")
        values[key] = number
    return prices.model_copy(update=values)


def _pairs(option: str, text: str, keys: tuple[str, ...]) -> dict[str, str]:
    pairs: dict[str, str] = {}
    for part in read_names(text):
        key, sign, value = part.partition("=")
        key = key.strip().replace("-", "_")
        if not sign:
            raise _wrong(option, f"{part!r} has no value.", f"Write {keys[0]}=..., with commas.")
        if key not in keys:
            near = get_close_matches(key, keys, n=1)
            hint = f"Did you mean {near[0]}?" if near else f"Known: {', '.join(keys)}."
            raise _wrong(option, f"there is no {key!r}.", hint)
        if key in pairs:
            found = f"{key} is given more than once: {pairs[key]!r} and {value.strip()!r}."
            raise _wrong(option, found, "Give it once.")
        pairs[key] = value.strip()
    return pairs


def _read(option: str, text: str, parse: Callable[[Any], Any]) -> Any:
    try:
        return parse(text)
    except units.QuantityError as error:
        right = " ".join(error.right().split())
        raise _wrong(option, f"{text!r} cannot be used.", right) from None


def _wrong(option: str, found: str, right: str) -> ScenarioError:
    return ScenarioError([Fault(option, 0, found, right)])
