"""Worlds in which one thing is different: used to say why a target is out of reach."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from surge_sim.scenario.gear import Supply
    from surge_sim.scenario.schema import Settings


def _without_disruptions(settings: Settings) -> dict[str, Any]:
    return {"disruptions": ()}


def _nothing_reserved(settings: Settings) -> dict[str, Any]:
    return {"policy": settings.policy.model_copy(update={"reserved_for_urgent": 0})}


def _no_wet_or_dry_time(settings: Settings) -> dict[str, Any]:
    return {"cleaning": settings.cleaning.model_copy(update={"wet": 0, "dry": 0})}


def _cleaners_at_all_hours(settings: Settings) -> dict[str, Any]:
    from surge_sim.scenario.gear import CrewShift

    most = max((shift.cleaners for shift in settings.cleaning.crew), default=0)
    halves = (("00:00", "12:00"), ("12:00", "00:00"))
    crew = tuple(CrewShift(start=a, end=b, cleaners=most) for a, b in halves)  # type: ignore[arg-type]
    by_crew = settings.cleaning.by == "crew"
    return {"cleaning": settings.cleaning.model_copy(update={"crew": crew})} if by_crew else {}


def _kit_for_each_entry(settings: Settings) -> dict[str, Any]:
    return {"policy": settings.policy.model_copy(update={"kit": "per entry"})}


def _filters_never_clog(settings: Settings) -> dict[str, Any]:
    return {"filters": None}


def _nothing_breaks(settings: Settings) -> dict[str, Any]:
    faults = {"blower_run_between_faults": None, "hood_damage": 0.0, "tube_damage": 0.0}
    return {"faults": settings.faults.model_copy(update=faults)}


def _spares_never_run_out(settings: Settings) -> dict[str, Any]:
    none = {"hoods": None, "tubes": None, "prefilters": None, "main_filters": None}
    return {"supplies": settings.supplies.model_copy(update=none)}


def _parts_ordered_at_first_use(settings: Settings) -> dict[str, Any]:
    """Raise each reorder point so that an order goes out as soon as one part is used."""
    shelf = settings.supplies
    earlier = {
        name: part.model_copy(update={"reorder_at": first_use(part)})
        for name in ("hoods", "tubes", "prefilters", "main_filters")
        if (part := getattr(shelf, name)) is not None
    }
    return {"supplies": shelf.model_copy(update=earlier)}


def first_use(part: Supply) -> int | None:
    """Return the reorder point at which using one part sends an order; None: never ordered."""
    return None if part.reorder_at is None else max(part.reorder_at, part.spare - 1)


def _batteries_as_new(settings: Settings) -> dict[str, Any]:
    return {"batteries": settings.batteries.model_copy(update={"health": (1.0,), "age": None})}


PARTS_ORDERED_AT_FIRST_USE = "with spare parts ordered again as soon as one is used"

#: name of the change, as it reads after "the target would be kept": the settings it replaces
CHANGES: dict[str, Callable[[Settings], dict[str, Any]]] = {
    "without the disruptions": _without_disruptions,
    "with no kit reserved for urgent entries": _nothing_reserved,
    "without wet and dry time after the wipe-down": _no_wet_or_dry_time,
    "with the full crew of cleaners at all hours": _cleaners_at_all_hours,
    "with a kit for each entry instead of one held for a shift": _kit_for_each_entry,
    "with filters that never clog": _filters_never_clog,
    "if nothing broke": _nothing_breaks,
    "with spare parts and filters that never run out": _spares_never_run_out,
    PARTS_ORDERED_AT_FIRST_USE: _parts_ordered_at_first_use,
    "with batteries as new": _batteries_as_new,
}


def changed(settings: Settings, change: str) -> Settings:
    """Return the settings with one named change."""
    return settings.model_copy(update=CHANGES[change](settings))
