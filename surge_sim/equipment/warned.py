"""All warnings of a scenario: those of the file, and what the average load makes of them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from surge_sim.equipment.average_load import expected_load

if TYPE_CHECKING:
    from surge_sim.scenario.load import Scenario
    from surge_sim.scenario.schema import Settings


def waits_without_end(settings: Settings) -> bool:
    """Return whether routine entries of some role have no maximum wait."""
    if settings.policy.patience is not None:
        return False
    roles = settings.roles.values()
    return not roles or any(role.patience is None for role in roles)


def all_warnings(
    scenario: Scenario, kits: int | None = None, batteries: int | None = None
) -> tuple[str, ...]:
    """Return the warnings that `check`, `run` and `size` show, in the same words.

    Parameters
    ----------
    scenario : Scenario
        A loaded scenario.
    kits, batteries : int, optional
        The stock that is played, where it is not the one in hand.
    """
    settings = scenario.settings
    have = {
        "kits": settings.stock.kits if kits is None else kits,
        "batteries": settings.stock.batteries if batteries is None else batteries,
    }
    if not all(have.values()) or not waits_without_end(settings):
        return scenario.warnings
    load = expected_load(settings)
    in_use = load.batteries_busy_at_peak
    if settings.charging.early_take:
        in_use -= load.bays_busy_at_peak
    for (name, held), busy in zip(have.items(), (load.kits_busy_at_peak, in_use), strict=True):
        if busy > held:
            said = (
                f"is not set, and on the peak day {busy:.1f} {name} are busy on average with "
                f"{held} in stock: the line grows all day, and mean waits can be days. Give the "
                "maximum wait of your unit, for example `patience: 45 min`."
            )
            return (*scenario.warnings, scenario.tree.warning(("policy", "patience"), said))
    return scenario.warnings
