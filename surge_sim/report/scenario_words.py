"""What each section of a scenario says, in plain sentences for a planner."""

from __future__ import annotations

from collections.abc import Iterator

from surge_sim.demand.air import air_clearance_s
from surge_sim.demand.spread import mean_s
from surge_sim.report.rounding import number
from surge_sim.scenario.arrivals import Arrivals, DayWeights
from surge_sim.scenario.events import (
    BadFilters,
    CleanersAbsent,
    DeliveryMissed,
    Disruption,
    ExtraPatients,
    KitsBorrowed,
    KitsWithdrawn,
)
from surge_sim.scenario.gear import Cleaning, Supply
from surge_sim.scenario.schema import Settings
from surge_sim.scenario.spread import TimeSpread
from surge_sim.units import clock_text, duration_text, flow_text, number_text, share_text


def about(seconds: float, longest: str = "d") -> str:
    """Say a length of time with two or three digits, in `longest` units at most: ``6.1 min``."""
    for size, unit, least in ((86_400, "d", 5 * 86_400), (3_600, "h", 7_200), (60, "min", 60)):
        if seconds >= least and (unit != "d" or longest == "d"):
            value = seconds / size
            return (
                f"{value:.1f}".removesuffix(".0") + f" {unit}"
                if value < 20
                else (f"{value:,.0f} {unit}")
            )
    return f"{seconds:.0f} s"


def spread_words(spread: TimeSpread, longest: str = "d") -> str:
    """Say how a time varies."""
    if spread.shape == "fixed":
        fixed = spread.mean or 0
        return duration_text(fixed) if longest == "d" else about(fixed, longest)
    mean = about(mean_s(spread), longest)
    if spread.values:
        return f"one of {len(spread.values):,} values, {mean} on average"
    if spread.quantiles:
        said = [
            f"{'half' if one.p == 0.5 else share_text(round(one.p, 6))} at most "
            f"{duration_text(one.time_s)}"
            for one in spread.quantiles
        ]
        return f"{', '.join(said)}, {mean} on average"
    varies = "" if spread.cv is None else f", varying by {share_text(spread.cv)}"
    return f"{mean} on average{varies}"


def demand_words(settings: Settings) -> Iterator[str]:
    """Say who comes, or which log is played."""
    start = f"{settings.start:%A} {settings.start:%Y-%m-%d %H:%M}"
    yield f"The horizon is {duration_text(settings.horizon)} from {start}."
    log = settings.entries
    if log is not None:
        rows = log.rows
        count = 0 if rows is None else len(rows)
        urgent = 0 if rows is None else int(rows.urgent.sum())
        yield (
            f"No patients are drawn: the {count:,} entries of {log.file} are played as they are, "
            f"{urgent:,} of them urgent."
        )
    if settings.arrivals is not None:
        yield "Patients: " + "; ".join(_arrivals_words(settings.arrivals)) + "."
        varies = [
            name
            for name, there in (
                ("hour of the day", settings.arrivals.hours_of_day is not None),
                ("day of the week", settings.arrivals.days_of_week != DayWeights()),
            )
            if there
        ]
        if varies:
            yield f"Arrivals differ by {' and '.join(varies)}."


def _arrivals_words(arrivals: Arrivals) -> Iterator[str]:
    if arrivals.present_at_start:
        yield f"{arrivals.present_at_start} in isolation at the start"
    if arrivals.baseline:
        yield f"{number_text(arrivals.baseline)} per day throughout"
    wave = arrivals.wave
    if wave is not None:
        yield (
            f"a wave that adds {number_text(wave.extra_at_peak)} per day at its peak, "
            f"{duration_text(wave.peak)} after the start (half as many about "
            f"{about(1.177 * wave.width)} before and after)"
        )
    epidemic = arrivals.epidemic
    if epidemic is not None:
        yield (
            f"an epidemic (SEIR) in {epidemic.population:,} people, reproduction number "
            f"{number_text(epidemic.reproduction_number)}; {share_text(epidemic.admitted)} of "
            "those infected are admitted"
        )
    counts = arrivals.daily_counts
    if counts is not None:
        how = "exactly" if counts.exact else "on average"
        yield (
            f"{how} {number(counts.share * sum(counts.counts))} over "
            f"{len(counts.counts)} days from {counts.file}"
        )
    for cluster in arrivals.clusters:
        named = "" if cluster.patient_class is None else f" of class {cluster.patient_class}"
        yield (
            f"{cluster.patients} together{named}, {duration_text(cluster.at)} after the start, "
            f"within {duration_text(cluster.within)}"
        )


def care_words(settings: Settings) -> Iterator[str]:
    """Say where patients are, how long they stay, and who goes in how often."""
    rooms = settings.rooms
    if rooms is not None:
        shut = air_clearance_s(rooms.air_changes, rooms.clearance, rooms.mixing_factor)
        full = (
            "boarded elsewhere and visited there"
            if rooms.when_full == "board"
            else "diverted, and counted"
        )
        yield (
            f"There are {rooms.count} isolation rooms; patients who find none are {full}. After a "
            f"patient leaves, a room stays shut for {about(shut)}: "
            f"{number_text(round(rooms.air_changes, 3))} air changes per h, "
            f"{share_text(rooms.clearance)} cleared, mixing factor "
            f"{number_text(rooms.mixing_factor)} (an empty room without a source)."
        )
        clean = rooms.terminal_clean
        if clean is not None:
            yield (f"Then {clean.role} cleans it, {clean.when}: {spread_words(clean.room_time)}.")
    for name, one in settings.classes.items():
        rates = ", ".join(
            f"{role} {number_text(round(rate, 3))}" for role, rate in one.entries.items()
        )
        said = (
            f"{name}: {share_text(one.share)} of patients; isolated "
            f"{spread_words(one.isolation)}; {number(sum(one.entries.values()))} entries per "
            f"patient-day ({rates})"
        )
        if one.urgent is not None:
            said += (
                f"; a team of {one.urgent.team} ({one.urgent.role}) at once, "
                f"{number_text(round(one.urgent.per_patient, 3))} times per patient-day"
            )
        yield f"{said}."
    for name, role in settings.roles.items():
        said = f"{name}: in the room {spread_words(role.room_time)}"
        if role.kit_share < 1:
            said += f"; {share_text(role.kit_share)} of the entries need a kit"
        if role.patients_per_wearer is not None:
            starts = ", ".join(clock_text(start) for start in role.shifts)
            said += (
                f"; one named wearer for {role.patients_per_wearer} patients, shifts from {starts}"
            )
        yield f"{said}."


def kit_words(settings: Settings) -> Iterator[str]:
    """Say what one use of a kit takes, and what wears out."""
    kit = settings.kit
    yield (
        f"A kit is checked before every use ({duration_text(kit.check)}), put on "
        f"({spread_words(kit.don)}) and taken off ({spread_words(kit.doff)})."
    )
    if kit.recheck is not None:
        yield (
            f"It is checked again after {duration_text(kit.recheck.first_after)} of wear, then "
            f"every {duration_text(kit.recheck.then_every)}."
        )
    if kit.single_use_hoods:
        yield "Its hoods are thrown away after each use."
    levels = [
        duration_text(level.run_time)
        + ("" if level.flow is None else f" at {flow_text(level.flow)}")
        for level in kit.levels
    ]
    fleet = settings.batteries
    full = fleet.health == (1.0,) and fleet.age is None
    health = "" if full else ", less where a battery's health is below 100 %"
    yield f"A full battery runs {', '.join(levels)}{health}."
    charging = settings.charging
    taken = (
        "may be taken from a bay before it is full"
        if charging.early_take
        else "stays in its bay until it is full"
    )
    rounds = charging.rounds_every
    watched = "" if rounds is None else f"; full ones leave at rounds every {duration_text(rounds)}"
    if charging.charge_below < 1:
        watched += (
            f"; a battery is charged when it is below {share_text(charging.charge_below)} of its "
            "charge"
        )
    yield (
        f"Charging an empty one takes {duration_text(fleet.charge_time)} "
        f"({share_text(fleet.knee_charge)} of the charge in {share_text(fleet.knee_time)} of the "
        f"time); a battery {taken}{watched}. It is handed out with at least "
        f"{duration_text(fleet.least_run)} left; its alarm sounds at "
        f"{duration_text(fleet.alarm_reserve)}."
    )
    yield _cleaning_words(settings.cleaning)
    filters = settings.filters
    if filters is not None:
        first = spread_words(filters.prefilter_life, longest="h")
        main = spread_words(filters.main_filter_life, longest="h")
        yield (
            f"Filters, in run time: pre-filter {first}; main filter {main} "
            f"({filters.at_start} at the start)."
        )
    faults = settings.faults
    if faults.blower_run_between_faults is not None:
        repair = "no time" if faults.repair_time is None else spread_words(faults.repair_time)
        yield (
            f"A blower fails once in {about(faults.blower_run_between_faults, 'h')} of running on "
            f"average; repair takes {repair}."
        )
    if faults.hood_damage or faults.tube_damage:
        yield (
            f"Damaged per use: {share_text(faults.hood_damage)} of hoods, "
            f"{share_text(faults.tube_damage)} of tubes."
        )
    yield from _supply_words(settings)


def _cleaning_words(cleaning: Cleaning) -> str:
    wipe = "" if cleaning.wipe is None else f", {spread_words(cleaning.wipe)}"
    after = f"then {duration_text(cleaning.wet)} wet and {duration_text(cleaning.dry)} drying"
    if not cleaning.wet + cleaning.dry:
        after = "without wet or drying time"
    if cleaning.by == "crew":
        shifts = ", ".join(
            f"{shift.cleaners} from {clock_text(shift.start)} to {clock_text(shift.end)}"
            for shift in cleaning.crew
        )
        return f"A crew wipes kits down{wipe}, {after}. Cleaners: {shifts}."
    if cleaning.by == "central":
        rounds = ", ".join(clock_text(at) for at in cleaning.rounds)
        return (
            f"Kits are collected at {rounds} and back with the first round after "
            f"{duration_text(cleaning.turnaround)}, {after}."
        )
    places = "" if cleaning.places is None else f" at {cleaning.places} places"
    return f"The wearer wipes the kit down{places}{wipe}, {after}."


def _supply_words(settings: Settings) -> Iterator[str]:
    shelf = settings.supplies
    said = [
        f"{one.spare} {name}{_orders(one)}"
        for name, one in (
            ("hoods", shelf.hoods),
            ("tubes", shelf.tubes),
            ("pre-filters", shelf.prefilters),
            ("main filters", shelf.main_filters),
        )
        if one is not None
    ]
    if said:
        yield f"Spare on the shelf: {'; '.join(said)}. What is not named never runs out."


def _orders(supply: Supply) -> str:
    if supply.reorder_at is None:
        return " (never ordered)"
    return (
        f" ({supply.order_size} more at {supply.reorder_at}, after "
        f"{duration_text(supply.lead_time)})"
    )


def policy_words(settings: Settings) -> Iterator[str]:
    """Say how visits are arranged, and what is planned to go wrong."""
    policy = settings.policy
    if policy.kit == "held for a shift":
        yield (
            "A named wearer keeps one kit for the shift, with a short wipe of "
            f"{duration_text(policy.short_wipe)} between visits."
        )
    if policy.bundled_care is not None:
        bundle = policy.bundled_care
        whose = "all roles" if bundle.roles is None else ", ".join(bundle.roles)
        yield (
            f"Bundled care ({whose}): {share_text(bundle.entries)} of the entries, each "
            f"{share_text(bundle.room_time)} of its room time."
        )
    if policy.patience is not None or policy.urgent_patience is not None:
        said = [
            f"{sort} entries give up after {duration_text(after)}"
            for sort, after in (("routine", policy.patience), ("urgent", policy.urgent_patience))
            if after is not None
        ]
        then = (
            "they are done with other protection"
            if policy.fallback == "other protection"
            else f"they come again {duration_text(policy.postponed_by)} later"
        )
        yield f"{' and '.join(said).capitalize()}; {then}, and count as late."
    if policy.reserved_for_urgent:
        yield f"Complete kits kept for urgent entries: {policy.reserved_for_urgent}."
    for event in settings.disruptions:
        yield _disruption_words(event)


def _disruption_words(event: Disruption) -> str:
    what = f"{event.what}"
    if isinstance(event, KitsWithdrawn | KitsBorrowed):
        what += f" ({event.kits})"
    elif isinstance(event, CleanersAbsent):
        what += " (all)" if event.cleaners is None else f" ({event.cleaners} per shift)"
    elif isinstance(event, DeliveryMissed):
        what += f" ({event.supply})"
    elif isinstance(event, ExtraPatients):
        what += f" ({share_text(event.arrivals)} of the usual rate)"
    elif isinstance(event, BadFilters):
        what += f" ({event.filters}, {share_text(event.life)} of their life)"
    return (
        f"Disruption: {what}, {duration_text(event.at)} after the start, for "
        f"{duration_text(event.lasts)}."
    )


def target_sentence(settings: Settings) -> str:
    """Say the promise in one sentence."""
    target = settings.target
    said = (
        f"In {share_text(target.share_of_surges)} of surges, "
        f"{share_text(target.share_of_entries)} of the entries wait "
        f"{duration_text(target.wait)} or less"
    )
    if target.urgent is not None:
        said += (
            f", and {share_text(target.urgent.share_of_entries)} of the urgent ones "
            f"{duration_text(target.urgent.wait)} or less"
        )
    if target.most_alarms_per_1000 is not None:
        said += (
            f", with at most {number_text(target.most_alarms_per_1000)} alarms per 1,000 entries"
        )
    if target.most_stock_outs is not None:
        said += f", with at most {target.most_stock_outs} stock-outs"
    return f"{said}."
