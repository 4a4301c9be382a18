"""What an alternative relaxes of the usual handling: it is no choice until that is permitted.

Whether it is permitted, the manufacturer's instructions, the respiratory protection program and
local codes decide. Here it is said in plain words what exactly they would have to allow.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

from surge_sim.equipment.kits import KEPT
from surge_sim.equipment.timeline import AS_USUAL, InForce, timeline_of
from surge_sim.scenario.timeline import CareBundled, EntriesPostponed, MaximumWait
from surge_sim.units import duration_text, share_text

if TYPE_CHECKING:
    from surge_sim.scenario.schema import Settings


def relaxed(before: Settings, after: Settings) -> tuple[str, ...]:
    """Say what an alternative relaxes, each in a sentence without a full stop.

    Parameters
    ----------
    before : Settings
        The scenario as it is.
    after : Settings
        The alternative.

    Returns
    -------
    tuple of str
        Empty where the usual handling stays as it is.
    """
    of_all = (
        *_of_rules(before, after), *_of_policy(before, after), *_of_kits(before, after),
        *_of_timeline(before, after),
    )  # fmt: skip
    return tuple(dict.fromkeys(of_all))


def _of_rules(before: Settings, after: Settings) -> Iterator[str]:
    """Compare the rules that are in force at any moment, by policy or by timeline."""
    for _, kept in _differing(before, after, "kept", lambda one: KEPT.index(one.policy.kit)):
        if KEPT[kept] != "per entry":
            yield _kept(after, KEPT[kept])
    for _, allowed in _differing(
        before, after, "partial_charge_at_reissue",
        lambda one: int(one.charging.partial_charge_at_reissue),
    ):  # fmt: skip
        if allowed:
            yield _before_full(after)
    for was, kits in _differing(
        before, after, "reserved", lambda one: one.policy.reserved_for_urgent
    ):
        yield _reserve(kits, was)


def _differing(
    before: Settings, after: Settings, name: str, usual: Callable[[Settings], int]
) -> Iterator[tuple[int, int]]:
    """Yield the values of a number of `InForce` where they differ, in the order of time."""
    place, held = InForce._fields.index(name), []
    for one in (before, after):
        rows = [row for row in timeline_of(one).rows.tolist() if row[1] == place]
        since = {at_s: usual(one) if value == AS_USUAL else value for at_s, _, value in rows}
        held.append({0: usual(one)} | since)
    for moment_s in sorted({*held[0], *held[1]}):
        was, now = (one[max(at_s for at_s in one if at_s <= moment_s)] for one in held)
        if was != now:
            yield was, now


def _of_policy(before: Settings, after: Settings) -> Iterator[str]:
    old, new = before.policy, after.policy
    if new.bundled_care is not None and new.bundled_care != old.bundled_care:
        bundled = new.bundled_care
        of_roles = f" of {', '.join(bundled.roles)}" if bundled.roles else ""
        longer = bundled.room_time - 1.0
        takes = f", each visit {_share(longer)} longer" if longer > 0.0 else ""
        yield f"{_share(1.0 - bundled.entries)} of routine visits{of_roles} {_MERGED}{takes}"
    for entries, wait, known in (
        ("routine", new.maximum_wait, old.maximum_wait),
        ("urgent", new.urgent_maximum_wait, old.urgent_maximum_wait),
    ):
        if wait is not None and wait != known:
            yield _leave(entries, wait)


def _of_kits(before: Settings, after: Settings) -> Iterator[str]:
    old, new = before.charging, after.charging
    if before.kit.single_use_hoods and not after.kit.single_use_hoods:
        yield "hoods are used again instead of being thrown away after each use"
    if new.charge_below < old.charge_below:
        yield f"a battery is charged only once it holds less than {_share(new.charge_below)}"
    for name, role in after.roles.items():
        known = before.roles.get(name)
        if known is not None and role.kit_share < known.kit_share:
            yield (
                f"{_share(role.kit_share)} of the visits of {name} are made with a kit, instead of "
                f"{_share(known.kit_share)}"
            )


def _of_timeline(before: Settings, after: Settings) -> Iterator[str]:
    for change in after.timeline:
        if change in before.timeline:
            continue
        match change:
            case CareBundled(dropped=share):
                yield f"{_share(share)} of routine entries {_MERGED}"
            case EntriesPostponed(share=share, by=later_s):
                yield f"{_share(share)} of the routine entries come {duration_text(later_s)} later"
            case MaximumWait(entries=entries, wait=wait):
                yield _leave(entries, wait)


_MERGED = "made within others"


def _kept(settings: Settings, kept: str) -> str:
    wipe = duration_text(settings.policy.wipe_between_visits)
    shift = kept == "held for a shift"
    between, end = ("visits", "shift") if shift else ("rooms", "round")
    return (
        f"the wearer keeps the kit, only wiped for {wipe} between {between}; contact and drying "
        f"time follow only after the {end}"
    )


def _before_full(settings: Settings) -> str:
    least = duration_text(settings.batteries.minimum_run_time)
    return f"batteries are reissued before full, once they hold {least} of run time"


def _reserve(kits: int, before: int) -> str:
    if not kits:
        return f"no complete kit is kept for urgent entries, instead of {before}"
    lie = "kit lies" if kits == 1 else "kits lie"
    return (
        f"{kits} complete {lie} ready for urgent entries instead of {before}, and routine entries "
        "may not take them"
    )


def _leave(entries: str, wait: int) -> str:
    return f"{entries} entries leave the queue unserved after {duration_text(wait)}"


def _share(share: float) -> str:
    return share_text(round(share, 9))
