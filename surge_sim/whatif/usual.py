"""Alternatives that most planners ask about first, each only where it makes sense.

Free operating rules and cheap purchases are choices; stress is not, and is told apart. Each says
what it assumes. To add one: a function that returns its changes and its assumption, or why it is
not tried (`NotTried`), and its line in `RULES` or `STRESS`.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from surge_sim.demand.expected import expected_course
from surge_sim.scenario.advice import times_without_cleaner
from surge_sim.units import DAY_S, HOUR_S, clock_at_start_s, clock_text, duration_text
from surge_sim.whatif.design import Alternative, alternative_of

if TYPE_CHECKING:
    from surge_sim.scenario.load import Scenario
    from surge_sim.scenario.schema import Settings

RULE, PURCHASE, STRESS_SORT = "rule", "purchase", "stress"


class Tried(NamedTuple):
    """An alternative that makes sense: its changes by dotted name, and what it assumes."""

    changes: dict[str, Any]
    assumes: str


class NotTried(NamedTuple):
    """Why an alternative makes no sense here."""

    reason: str


Usual = Callable[["Settings"], Tried | NotTried]

_TOO_SHORT = NotTried("the surge is shorter than an hour")


def _partial_charge(settings: Settings) -> Tried | NotTried:
    if settings.charging.partial_charge_at_reissue:
        return NotTried("is the rule already")
    least = duration_text(settings.batteries.minimum_run_time)
    assumes = (
        f"A battery may be reissued before it is full, once it runs for the {least} that the "
        "scenario asks for at issue, where the manufacturer's instructions and local rules allow "
        "it."
    )
    return Tried({"charging.partial_charge_at_reissue": "yes"}, assumes)


def _kit_for_a_shift(settings: Settings) -> Tried | NotTried:
    if settings.policy.kit == "held for a shift":
        return NotTried("is the rule already")
    roles = [name for name, role in settings.roles.items() if role.patients_per_wearer]
    if not roles:
        return NotTried("no role has named wearers (patients_per_wearer)")
    wipe = duration_text(settings.policy.wipe_between_visits)
    assumes = (
        f"Of {', '.join(roles)}, each wearer keeps a kit from the first visit to the end of the "
        f"shift, checks it before each entry, and wipes it for {wipe} between visits "
        "(policy.wipe_between_visits), where the manufacturer's instructions and local rules "
        "allow it."
    )
    return Tried({"policy.kit": "held for a shift"}, assumes)


def _reserve(settings: Settings) -> Tried | NotTried:
    log = settings.entries is not None and settings.entries.rows is not None
    if not log and not any(one.urgent for one in settings.classes.values()):
        return NotTried("there are no urgent entries")
    before = settings.policy.reserved_for_urgent
    more = max(round(0.05 * settings.stock.kits), 1)
    if before + more >= settings.stock.kits:
        return NotTried("hardly any kit would be left for others")
    assumes = (
        f"Complete kits that are kept for urgent entries: {before + more} instead of {before}."
    )
    return Tried({"policy.reserved_for_urgent": before + more}, assumes)


def _bundled_care(settings: Settings) -> Tried | NotTried:
    if settings.policy.bundled_care is not None:
        return NotTried("care is bundled already")
    if settings.entries is not None:
        changes = {"timeline.+": {"what": "care bundled", "at": "0 min", "dropped": "20 %"}}
        assumes = (
            "A fifth of the routine entries of the log is made within other visits, which last no "
            "longer for it."
        )
        return Tried(changes, assumes)
    assumes = (
        "A fifth of the routine visits is made within other visits, and each visit takes a "
        "quarter longer: as many hours in the rooms, fewer entries."
    )
    return Tried({"policy.bundled_care": {"entries": "80 %", "room_time": "125 %"}}, assumes)


def _rounds(settings: Settings) -> Tried | NotTried:
    every = settings.charging.rounds_every
    if every is None:
        return NotTried("a full battery leaves its bay at once")
    half = duration_text(max(every // 2, 60))
    assumes = f"Somebody looks after the chargers every {half} instead of {duration_text(every)}."
    return Tried({"charging.rounds_every": half}, assumes)


def _cleaner(settings: Settings) -> Tried | NotTried:
    if settings.cleaning.by != "crew":
        return NotTried("kits are not cleaned by a crew")
    shifts = settings.cleaning.crew
    changes = {
        f"cleaning.crew.{number}.cleaners": one.cleaners + 1 for number, one in enumerate(shifts)
    }
    return Tried(changes, "One cleaner more in each of the crew's shifts.")


def _cleaner_at_all_hours(settings: Settings) -> Tried | NotTried:
    if settings.cleaning.by != "crew":
        return NotTried("kits are not cleaned by a crew")
    gaps = _hours_without_cleaner(settings)
    if not gaps:
        return NotTried("the crew has somebody at all hours")
    shifts = [(one.start, one.end, one.cleaners) for one in settings.cleaning.crew]
    crew = [
        {"start": clock_text(start_s), "end": clock_text(end_s), "cleaners": cleaners}
        for start_s, end_s, cleaners in (*shifts, *((*gap, 1) for gap in gaps))
    ]
    hours = " and ".join(f"{clock_text(start_s)} to {clock_text(end_s)}" for start_s, end_s in gaps)
    assumes = f"One cleaner from {hours}, when there is none now."
    return Tried({"cleaning.crew": crew}, assumes)


def _hours_without_cleaner(settings: Settings) -> list[tuple[int, int]]:
    """Return from when to when no cleaner of the crew is there, each an hour or more [s]."""
    gaps = times_without_cleaner(settings.cleaning.crew)
    return [gap for gap in gaps if ((gap[1] - gap[0]) % DAY_S or DAY_S) >= HOUR_S]


def _charger(settings: Settings) -> Tried | NotTried:
    stock, prices = settings.stock, settings.prices
    if stock.bays >= stock.batteries:
        return NotTried("each battery has a bay")
    more = prices.bays_per_charger
    bays, them = ("bays", "them") if more > 1 else ("bay", "it")
    assumes = f"{more} more {bays}, where there is power for {them}."
    return Tried({"stock.bays": stock.bays + more}, assumes)


def _half_more_patients(settings: Settings) -> Tried | NotTried:
    return more_patients(settings, 50)


def more_patients(settings: Settings, per_cent: int) -> Tried | NotTried:
    """Return the changes by which so many per cent more patients arrive."""
    arrivals, horizon = settings.arrivals, duration_text(settings.horizon)
    if arrivals is None:
        return NotTried("entries come from a log")
    changes: dict[str, Any] = {
        f"arrivals.clusters.{number}.patients": -(-one.patients * (100 + per_cent) // 100)
        for number, one in enumerate(arrivals.clusters)
    }
    extra = {
        "what": "extra patients",
        "at": "0 min",
        "lasts": horizon,
        "arrivals": f"+{per_cent} %",
    }
    counts = arrivals.daily_counts is not None and any(arrivals.daily_counts.counts)
    if arrivals.baseline or arrivals.wave or arrivals.epidemic or counts:
        changes["timeline.+"] = extra
    if not changes:
        return NotTried("no patient arrives after the start")
    more = "half as many" if per_cent == 50 else f"{per_cent} %"
    assumes = f"The same patients, and {more} more who arrive."
    if arrivals.clusters:
        assumes = f"The same patients, and {more} more, those of clusters within their hours."
    return Tried(changes, assumes)


def _power_outage(settings: Settings) -> Tried | NotTried:
    if not settings.stock.bays:
        return NotTried("there are no charger bays")
    hours = min(12, settings.horizon // HOUR_S)
    if not hours:
        return _TOO_SHORT
    at_s = _busiest_s(settings, hours)
    changes = {"what": "power outage", "at": duration_text(at_s), "lasts": f"{hours} h"}
    when = _clock(settings, at_s)
    assumes = f"No bay charges for {hours} h from {when}, the hours with most entries expected."
    return Tried({"timeline.+": changes}, assumes)


def _crew_absent(settings: Settings) -> Tried | NotTried:
    if settings.cleaning.by == "wearer":
        return NotTried("wearers clean their kits themselves")
    night_s = _evening_s(settings)
    if night_s is None:
        return NotTried("the surge has no whole night")
    changes = {"what": "cleaning crew absent", "at": duration_text(night_s), "lasts": "12 h"}
    assumes = f"Nobody cleans for 12 h from {_clock(settings, night_s)}, near the busiest day."
    return Tried({"timeline.+": changes}, assumes)


def _late_delivery(settings: Settings) -> Tried | NotTried:
    supplies = settings.supplies
    names = ("hoods", "tubes", "prefilters", "he_filters", "large_hoods")
    parts = [getattr(supplies, name) for name in names]
    if not any(one is not None and one.reorder_point is not None for one in parts):
        return NotTried("no part is ordered during the surge")
    hours = min(14 * 24, settings.horizon // HOUR_S)
    if not hours:
        return _TOO_SHORT
    at_s, lasts = _busiest_s(settings, hours), duration_text(hours * HOUR_S)
    changes = {"what": "late delivery", "at": duration_text(at_s), "lasts": lasts}
    assumes = (
        f"Nothing that is due comes for {lasts} from {_clock(settings, at_s)}, the time with most "
        "entries expected."
    )
    return Tried({"timeline.+": changes}, assumes)


def _recall(settings: Settings) -> Tried | NotTried:
    kits = round(0.1 * settings.stock.kits)
    if not kits:
        return NotTried("there are too few kits")
    at_s = max(_busiest_s(settings, min(24, settings.horizon // HOUR_S)) - DAY_S, 0)
    lasts = duration_text(settings.horizon - at_s)
    changes = {"what": "kits recalled", "at": duration_text(at_s), "lasts": lasts, "kits": kits}
    assumes = (
        f"{kits} of {settings.stock.kits} kits gone from {_clock(settings, at_s)} on: from the day "
        "before the busiest hours."
    )
    return Tried({"timeline.+": changes}, assumes)


#: choices: name, sort and what it is, in the order in which they are told
RULES: tuple[tuple[str, str, Usual], ...] = (
    ("reissued before full", RULE, _partial_charge),
    ("kit per shift", RULE, _kit_for_a_shift),
    ("larger reserve", RULE, _reserve),
    ("bundled care", RULE, _bundled_care),
    ("rounds twice as often", RULE, _rounds),
    ("one cleaner more", PURCHASE, _cleaner),
    ("cleaner at all hours", PURCHASE, _cleaner_at_all_hours),
    ("one charger more", PURCHASE, _charger),
)
#: what may happen
STRESS: tuple[tuple[str, str, Usual], ...] = (
    ("50 % more patients", STRESS_SORT, _half_more_patients),
    ("12 h power outage", STRESS_SORT, _power_outage),
    ("night without crew", STRESS_SORT, _crew_absent),
    ("supplies 14 d late", STRESS_SORT, _late_delivery),
    ("tenth of kits gone", STRESS_SORT, _recall),
)


def usual_alternatives(
    scenario: Scenario,
) -> tuple[list[Alternative], tuple[tuple[str, str], ...]]:
    """Return the usual alternatives that make sense for a scenario, and the others with reasons.

    Where two are one and the same in a short horizon, both are returned.
    """
    tried, left_out = list[Alternative](), list[tuple[str, str]]()
    for name, sort, usual in (*RULES, *STRESS):
        one = usual(scenario.settings)
        if isinstance(one, NotTried):
            left_out.append((name, one.reason))
        else:
            tried.append(alternative_of(scenario, name, one.changes, one.assumes, sort))
    return tried, tuple(left_out)


def _busiest_s(settings: Settings, hours: int) -> int:
    """Return where so many hours with most expected entries begin [s]."""
    entries = expected_course(settings).entries
    summed = np.concatenate(([0.0], np.cumsum(entries)))
    most = np.round(summed[hours:] - summed[:-hours], 6) if hours else summed
    return int(np.argmax(most)) * HOUR_S


def _evening_s(settings: Settings) -> int | None:
    """Return 19:00 before the busiest 24 hours, or the first evening with a night behind it."""
    start, horizon_s = settings.start, settings.horizon
    midnight_s = clock_at_start_s(start)
    busy_s = _busiest_s(settings, min(24, horizon_s // HOUR_S))
    evenings = [day * DAY_S + 19 * HOUR_S - midnight_s for day in range(-1, horizon_s // DAY_S + 2)]
    fit = [at_s for at_s in evenings if 0 <= at_s <= horizon_s - 12 * HOUR_S]
    before = [at_s for at_s in fit if at_s <= busy_s]
    return before[-1] if before else next(iter(fit), None)


def _clock(settings: Settings, at_s: int) -> str:
    """Write a moment as day of the surge and clock time."""
    moment = settings.start + timedelta(seconds=at_s)
    return f"day {at_s // DAY_S + 1} of the surge, {moment:%H:%M}"
