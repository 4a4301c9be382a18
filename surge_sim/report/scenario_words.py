"""What each section of a scenario says, in plain sentences for a planner."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

from surge_sim.demand.curve import whole_counts
from surge_sim.demand.distributions import mean_s
from surge_sim.report.phrases import change_words
from surge_sim.report.rounding import about, counted, listed, moment_words, number
from surge_sim.scenario.clearance import clean_in_a_kit, clearance_s
from surge_sim.scenario.patients import Arrivals, DayWeights, Role, TerminalClean
from surge_sim.scenario.schema import Prices, SearchLimits, Settings
from surge_sim.scenario.spread import TimeSpread
from surge_sim.units import (
    clock_text,
    duration_text,
    number_text,
    share_text,
)

#: a wait can be longer than the maximum wait of whoever waits
PAST_THE_MAXIMUM_WAIT = (
    "A maximum wait is for the time in line: whoever has taken a kit by then finishes its check, "
    "with a new prefilter if it fails, and such a wait can be longer."
)


def demand_words(settings: Settings) -> Iterator[str]:
    """Say which patients arrive, or which log is replayed."""
    start = f"{settings.start:%A} {settings.start:%Y-%m-%d %H:%M}"
    end = settings.start + timedelta(seconds=settings.horizon)
    yield (
        f"{duration_text(settings.horizon)} from {start} (day 1 begins) to "
        f"{end:%A} {end:%Y-%m-%d %H:%M}, then a run-out period of "
        f"{duration_text(settings.run_out)} to serve those who still wait."
    )
    if settings.run_in:
        yield (
            f"Before it, a run-in period of {duration_text(settings.run_in)} with ordinary demand, "
            "the initial census and the baseline: equipment is in use, charging and being cleaned "
            "when the surge begins. Nothing of the run-in is counted, and no spare part runs out."
        )
    else:
        yield "When it begins all kits are ready and all batteries are full."
    log = settings.entries
    if log is not None:
        rows = log.rows
        count = 0 if rows is None else len(rows)
        urgent = 0 if rows is None else int(rows.urgent.sum())
        yield (
            f"No patients are simulated: the {count:,} entries recorded in {log.file}, {urgent:,} "
            "of them urgent, are replayed at their times and with their time in the room."
        )
        unused = [name for name in ("rooms", "classes") if getattr(settings, name)]
        if settings.roles:
            unused.append("of roles all but donning, doffing and maximum wait")
        if settings.policy.bundled_care is not None:
            unused.append("policy.bundled_care")
        if unused:
            yield f"Not used beside a log: {', '.join(unused)}."
    if settings.arrivals is not None:
        yield "Patients: " + "; ".join(_arrivals_words(settings.arrivals, settings.start)) + "."
        varies = [
            name
            for name, there in (
                ("hour of the day", settings.arrivals.hours_of_day is not None),
                ("day of the week", settings.arrivals.days_of_week != DayWeights()),
            )
            if there
        ]
        if varies:
            yield f"Arrivals vary by {' and '.join(varies)}."


def _arrivals_words(arrivals: Arrivals, start: datetime) -> Iterator[str]:
    if arrivals.initial_census:
        stay = (
            "each for the rest of a stay that has begun"
            if arrivals.initial_stay == "residual"
            else "each for a whole stay from then on"
        )
        yield f"initial census {arrivals.initial_census}, {stay}"
    if arrivals.baseline:
        yield f"{number_text(arrivals.baseline)} per day throughout"
    wave = arrivals.wave
    if wave is not None:
        yield (
            f"a wave that adds {number_text(wave.extra_at_peak)} per day at its peak, "
            f"{moment_words(start, wave.peak)}, and half as many about "
            f"{about(1.177 * wave.width)} before and after"
        )
    epidemic = arrivals.epidemic
    if epidemic is not None:
        yield (
            f"an epidemic (SEIR) in {epidemic.population:,} people, {share_text(epidemic.immune)} "
            f"of them immune and {epidemic.first_cases:,} ill at first, reproduction number "
            f"{number_text(epidemic.reproduction_number)}, {duration_text(epidemic.latent)} "
            f"latent and {duration_text(epidemic.infectious)} infectious; "
            f"{share_text(epidemic.admitted)} of those infected are admitted, "
            f"{duration_text(epidemic.onset_to_admission)} after onset"
        )
    counts = arrivals.daily_counts
    if counts is not None:
        how, patients = "on average", counts.share * sum(counts.counts)
        if counts.exact:
            how, patients = "exactly", int(whole_counts(arrivals).sum())
        yield (
            f"{how} {number(patients)} over "
            f"{counted(len(counts.counts), 'day')} from {counts.file} "
            f"({share_text(counts.share)} of its {counts.column})"
        )
    for cluster in arrivals.clusters:
        named = "" if cluster.patient_class is None else f" of class {cluster.patient_class}"
        yield (
            f"{cluster.patients} together{named}, {moment_words(start, cluster.at)}, "
            f"within {duration_text(cluster.within)}"
        )


def care_words(settings: Settings) -> Iterator[str]:
    """Say where patients are, how long they stay, and who goes in how often.

    Of a log's entries: only what the scenario still decides.
    """
    if settings.entries is not None:
        for name, role in settings.roles.items():
            parts = list(_own_words(role))
            if parts:
                yield f"{name}: {'; '.join(parts)}."
        return
    rooms = settings.rooms
    if rooms is not None:
        shut = clearance_s(rooms)
        full = "boarded elsewhere and visited there" if rooms.when_full == "board" else "diverted"
        yield (
            f"{counted(rooms.count, 'airborne infection isolation room')} (AIIR); patients who "
            f"find none free are {full}. After a patient leaves, the room stays closed for "
            f"{about(shut)}: {number_text(round(rooms.air_changes, 3))} air changes per hour "
            f"(ACH), {share_text(rooms.clearance)} of the air cleared, mixing factor "
            f"{number_text(rooms.mixing_factor)} (an empty room without a source)."
        )
        if rooms.terminal_clean is not None:
            yield _clean_words(rooms.terminal_clean, shut, clean_in_a_kit(rooms) is not None)
    for name, one in settings.classes.items():
        rates = ", ".join(
            f"{role} {number_text(round(rate, 3))}" for role, rate in one.entries.items()
        )
        said = (
            f"{name}: {share_text(one.share)} of patients; length of isolation "
            f"{spread_words(one.length_of_isolation)}; {number(sum(one.entries.values()))} entries "
            f"per patient-day ({rates})"
        )
        if one.urgent is not None:
            said += (
                f"; urgent: a team of {one.urgent.team} ({one.urgent.role}) at once, "
                f"{number_text(round(one.urgent.per_patient, 3))} times per patient-day"
            )
        yield f"{said}."
    for name, role in settings.roles.items():
        said = f"{name}: time in the room {spread_words(role.room_time)}"
        if role.kit_share < 1:
            said += f"; {share_text(role.kit_share)} of the entries need a kit"
        if role.patients_per_wearer is not None:
            starts = ", ".join(clock_text(start) for start in role.shifts)
            said += (
                f"; one named wearer for {counted(role.patients_per_wearer, 'patient')}, shifts "
                f"from {starts}"
            )
        if (role.rooms_per_round or 1) > 1:
            said += f"; routine entries in rounds of {role.rooms_per_round} rooms"
        if role.hours_of_day is not None:
            said += "; entries vary by hour of the day"
        yield f"{'; '.join([said, *_own_words(role)])}."


def _own_words(role: Role) -> Iterator[str]:
    """Say what a role has of its own, also in a log: donning, doffing, maximum wait."""
    for name, spread in (("donning", role.don), ("doffing", role.doff)):
        if spread is not None:
            yield f"{name} {spread_words(spread)}"
    if role.maximum_wait is not None:
        yield f"maximum wait {duration_text(role.maximum_wait)}"


def _clean_words(clean: TerminalClean, shut_s: int, in_a_kit: bool) -> str:
    """Say when the clean of a room falls: inside the time that the room is shut, or after it."""
    takes = spread_words(clean.room_time)
    if in_a_kit:
        begins = f"{duration_text(clean.delay)} after" if clean.delay else "as soon as"
        return (
            f"Within that time, {begins} the patient left, {clean.role} in a kit cleans the room "
            f"({takes}); it stays closed until both are over."
        )
    late = clean.delay > shut_s
    begins = f"{duration_text(clean.delay)} after the patient left" if late else "After that"
    return (
        f"{begins}, {clean.role} cleans the room ({takes}), which stays closed until then; no kit "
        "is counted for it, and what protection is used is outside this model."
    )


def policy_words(settings: Settings) -> Iterator[str]:
    """Say the operating rules, and what is planned to go wrong."""
    policy = settings.policy
    if policy.kit == "held for a shift":
        yield (
            "A named wearer keeps one kit for the shift and checks it before each entry; a "
            f"wipe-down between visits takes {duration_text(policy.wipe_between_visits)}."
        )
    elif policy.kit == "per round":
        yield (
            "A named wearer keeps one kit for the rooms of a round, with a wipe-down of "
            f"{duration_text(policy.wipe_between_visits)} and a check between rooms; what is wiped "
            "and changed there, and whether a kit may go from room to room, the manufacturer's "
            "instructions and local rules decide. "
            "Entries that are in no round take a kit each."
        )
    else:
        yield "Each entry takes a clean kit and returns it afterwards."
    if policy.bundled_care is not None and settings.entries is None:
        bundle = policy.bundled_care
        whose = "all roles" if bundle.roles is None else ", ".join(bundle.roles)
        yield (
            f"Bundled care ({whose}): {share_text(bundle.entries)} of the entries, each "
            f"{share_text(bundle.room_time)} of its room time."
        )
    yield from _maximum_wait_words(settings)
    if policy.reserved_for_urgent:
        yield f"Complete kits reserved for urgent entries: {policy.reserved_for_urgent}."
    for event in settings.timeline:
        yield f"Timeline: {change_words(event, settings.start)}."


def _maximum_wait_words(settings: Settings) -> Iterator[str]:
    """Say who has a maximum wait and what becomes of the visit then, and who has none."""
    policy = settings.policy
    urgent = any(one.urgent is not None for one in settings.classes.values())
    log = settings.entries
    if log is not None and log.rows is not None:
        urgent = bool(log.rows.urgent.any())
    own = [name for name, role in settings.roles.items() if role.maximum_wait is not None]
    if policy.maximum_wait is not None or policy.urgent_maximum_wait is not None or own:
        said = [
            f"{sort} entries {duration_text(after)}"
            for sort, after in (
                ("routine", policy.maximum_wait),
                ("urgent", policy.urgent_maximum_wait),
            )
            if after is not None
        ]
        if own:
            # their times stand with the roles
            said.append(f"routine entries of {', '.join(own)} a time of their own")
        then = (
            "the visit leaves this queue and counts as late; whether and how it is then made is "
            "outside this model"
            if policy.after_maximum_wait == "leaves the queue"
            else "the visit counts as late and is postponed by "
            f"{duration_text(policy.postponed_by)}"
        )
        yield f"Maximum wait: {', '.join(said)}. After that {then}."
        if settings.filters is not None:
            yield PAST_THE_MAXIMUM_WAIT
    never = []
    if policy.maximum_wait is None and len(own) < max(len(settings.roles), 1):
        never.append("routine entries" if not own else "other routine entries")
    if policy.urgent_maximum_wait is None and urgent:
        never.append("urgent entries")
    if never:
        who = " and ".join(never)
        yield f"{who[0].upper()}{who[1:]} have no maximum wait: they stay until they are served."


def money_words(settings: Settings) -> Iterator[str]:
    """Say what things cost and how far a search may go, as far as the scenario says so."""
    prices, limits = settings.prices, settings.limits
    if prices != Prices():
        charger = "1 bay" if prices.bays_per_charger == 1 else f"{prices.bays_per_charger} bays"
        costs = [
            f"{name} {price:,.10g}"
            for name, price in (
                ("kit", prices.kit), ("battery", prices.battery),
                (f"charger of {charger}", prices.charger), ("hood", prices.hood),
                ("tube", prices.tube), ("prefilter", prices.prefilter),
                ("HE filter", prices.he_filter),
                ("large hood", prices.large_hood), ("cleaner on every shift", prices.cleaner),
            )
            if price
        ]  # fmt: skip
        if costs:
            yield f"Price of one more, in {prices.currency}: {', '.join(costs)}."
    if limits != SearchLimits():
        most = [
            counted(limits.kits, "kit"),
            counted(limits.batteries, "battery", "batteries"),
            counted(limits.bays, "bay"),
        ]
        if settings.cleaning.by == "crew":
            most.append(counted(limits.cleaners, "more cleaner"))
        yield f"Search limits: {listed(most)}."


def spread_words(spread: TimeSpread, longest: str = "d") -> str:
    """Say how a time varies."""
    if spread.shape == "fixed":
        fixed = spread.mean or 0
        return duration_text(fixed) if longest == "d" else about(fixed, longest)
    mean = about(mean_s(spread), longest)
    if spread.values:
        return f"one of {len(spread.values):,} values, mean {mean}"
    if spread.quantiles:
        said = [f"{quantile_words(one.p)} {duration_text(one.time_s)}" for one in spread.quantiles]
        return f"{', '.join(said)}, mean {mean}"
    varies = "" if spread.cv is None else f" (standard deviation {share_text(spread.cv)} of it)"
    return f"mean {mean}{varies}"


def quantile_words(share: float) -> str:
    """Name a quantile: ``median``, ``90th percentile``, ``97.5th percentile``."""
    if share == 0.5:
        return "median"
    percent = f"{round(100 * share, 4):g}"
    teens = percent[-2:] in ("11", "12", "13")
    ending = (
        "th"
        if teens or "." in percent
        else {"1": "st", "2": "nd", "3": "rd"}.get(percent[-1], "th")
    )
    return f"{percent}{ending} percentile"
