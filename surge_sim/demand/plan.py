"""What a scenario's settings mean for the drawing of demand, worked out once for all surges."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from surge_sim.demand.clock import DailyShape, ends_of_shifts
from surge_sim.demand.curve import Curve, expected_curve, extra_patients
from surge_sim.demand.distributions import Distribution, fitted, mean_s
from surge_sim.scenario.patients import PatientClass
from surge_sim.scenario.schema import Settings
from surge_sim.scenario.timeline import ChangeOfEntries, ExtraPatients
from surge_sim.units import DAY_S, NEVER_S

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
#: changes of the timeline that concern who comes and when; all others concern the unit
ChangeOfDemand = ChangeOfEntries | ExtraPatients


class RolePlan(NamedTuple):
    """Numbers with which the entries of one role are drawn."""

    #: times in the room, to put on and to take off
    room: Distribution | None
    don: Distribution
    doff: Distribution
    #: longest wait [s], or `NEVER_S`
    maximum_wait_s: int
    #: visits per second in the pace of `hours`, by class, shape (classes,)
    visits_per_s: FloatArray
    hours: DailyShape
    #: share of the visits with a kit, and factor of their room time by bundled care
    kit_share: float
    longer: float
    #: people that an urgent event brings, by class, shape (classes,)
    team: IntArray
    #: patients of one named wearer, or None; and when shifts end [s]
    patients_per_wearer: int | None
    shift_ends_s: IntArray
    #: rooms to which a named wearer goes one after the other; 1: each visit is by itself
    rooms_per_round: int
    #: share of the visits that come at all, by class; None: all of them
    done: FloatArray | None = None


class Plan(NamedTuple):
    """Numbers with which every surge of the same settings is drawn."""

    settings: Settings
    roles: tuple[RolePlan, ...]
    role_names: tuple[str, ...]
    class_names: tuple[str, ...]
    #: expected admissions without extra patients; None: nobody is admitted
    curve: Curve | None
    #: edges of slots [s] and expected extra patients in them, if there are any
    extra: tuple[IntArray, FloatArray] | None
    #: patients to expect in a surge, those of clusters and present at the start included
    expected_patients: float
    #: how admissions are spread over the day
    arrival_hours: DailyShape
    #: class of each cluster's patients; None: drawn
    cluster_classes: tuple[int | None, ...]
    #: shares of the classes, summed, shape (classes,)
    classes_below: FloatArray
    #: the same among the initial census, if it stays for the rest of its stay; None: as all
    found_below: FloatArray | None
    #: time in isolation of each class
    length_of_isolation: tuple[Distribution, ...]
    #: urgent events per second, by class, shape (classes,)
    urgent_per_s: FloatArray
    #: longest wait of an urgent entry [s], or `NEVER_S`
    urgent_maximum_wait_s: int
    #: time of the terminal clean of a room; None without one
    clean: Distribution | None
    #: edges of slots [s] and expected patients beyond those of another scenario: see `beside`
    more: tuple[IntArray, FloatArray] | None = None
    #: share of the curve's patients who come at all, by slot of the curve; None: all of them
    kept: FloatArray | None = None
    #: of the ordinary days before the surge, if it has a run-in period
    run_in: Plan | None = None


def plan_of(settings: Settings) -> Plan:
    """Work out the plan of settings in which no range is left."""
    arrivals, rooms = settings.arrivals, settings.rooms
    logged = None if settings.entries is None else settings.entries.rows
    role_names = tuple(settings.roles) if logged is None else logged.role_names
    class_names, classes = list(settings.classes), list(settings.classes.values())
    urgent_maximum_wait = settings.policy.urgent_maximum_wait
    curve = extra = found_below = None
    expected, clusters = 0.0, () if arrivals is None else arrivals.clusters
    if arrivals is not None:
        curve = expected_curve(arrivals, settings.start, settings.horizon)
        extra = extra_patients(curve, settings.timeline)
        expected = float(curve.expected.sum()) + arrivals.initial_census
        expected += 0.0 if extra is None else float(extra[1].sum())
        expected += sum(cluster.patients for cluster in clusters)
        if arrivals.initial_stay == "residual":
            # who is found present: more of the classes whose stays are long
            found_below = _summed(
                [one.share * max(mean_s(one.length_of_isolation), 1.0) for one in classes]
            )
    return Plan(
        settings=settings,
        roles=tuple(_role_plan(settings, name, classes) for name in role_names),
        role_names=role_names,
        class_names=tuple(settings.classes) if logged is None else (),
        curve=curve,
        extra=extra,
        expected_patients=expected,
        arrival_hours=DailyShape(
            None if arrivals is None else arrivals.hours_of_day, settings.start
        ),
        cluster_classes=tuple(
            None if one.patient_class is None else class_names.index(one.patient_class)
            for one in clusters
        ),
        classes_below=_summed([one.share for one in classes]),
        found_below=found_below,
        length_of_isolation=tuple(fitted(one.length_of_isolation) for one in classes),
        urgent_per_s=np.array(
            [0.0 if one.urgent is None else one.urgent.per_patient / DAY_S for one in classes]
        ),
        urgent_maximum_wait_s=NEVER_S if urgent_maximum_wait is None else urgent_maximum_wait,
        clean=None
        if rooms is None or rooms.terminal_clean is None
        else fitted(rooms.terminal_clean.room_time),
        run_in=plan_of(ordinary_days(settings)) if settings.run_in else None,
    )


def ordinary_days(settings: Settings) -> Settings:
    """Return the settings of the run-in period: the baseline and the initial census alone.

    The days have the clock times and weekdays that come before the surge; patients present when it
    begins are drawn for the surge itself.
    """
    arrivals = settings.arrivals
    assert arrivals is not None
    usual: dict[str, Any] = {
        "wave": None, "epidemic": None, "daily_counts": None, "clusters": ()
    }  # fmt: skip
    return settings.model_copy(
        update={
            "start": settings.start - timedelta(seconds=settings.run_in),
            "horizon": settings.run_in,
            "run_out": 0,
            "run_in": 0,
            "arrivals": arrivals.model_copy(update=usual),
            "timeline": (),
        }
    )


def beside(plan: Plan, base: Plan) -> Plan:
    """Return a plan that is drawn as another one as far as the two agree.

    Both have the same distribution of surges as before. Where fewer patients arrive than by the
    base, some of its patients are left out, by a mark of each; where more do, all of its patients
    stay and others come, from streams of their own. Where a role has fewer visits (bundled care,
    a lower rate), some of the base's are left out by marks. What else differs is drawn anew.

    Parameters
    ----------
    plan : Plan
        Of the settings that are played.
    base : Plan
        Of those that they are compared with.
    """
    if plan.curve is None or base.curve is None or plan.role_names != base.role_names:
        return plan
    mine, theirs = plan.curve, base.curve
    same_slots = np.array_equal(mine.edges_s, theirs.edges_s)
    if same_slots and np.array_equal(mine.exact, theirs.exact):
        kept = np.divide(
            mine.drawn, theirs.drawn, out=np.ones(len(mine.drawn)), where=theirs.drawn > 0
        )
        more = np.maximum(mine.drawn - theirs.drawn, 0.0)
        plan = plan._replace(
            curve=theirs,
            kept=np.minimum(kept, 1.0) if (kept < 1.0).any() else None,
            more=(mine.edges_s, more) if more.any() else None,
        )
    if plan.extra is not None and base.extra is None and plan.more is None:
        # from the last source, so that they move no draw of a cluster's patients
        plan = plan._replace(more=plan.extra, extra=None)
    roles = [
        _fewer_visits(name, plan, base, *pair)
        for name, *pair in zip(plan.role_names, plan.roles, base.roles, strict=True)
    ]
    if plan.run_in is not None and base.run_in is not None:
        plan = plan._replace(run_in=beside(plan.run_in, base.run_in))
    return plan._replace(roles=tuple(roles))


def _fewer_visits(name: str, plan: Plan, base: Plan, mine: RolePlan, theirs: RolePlan) -> RolePlan:
    """Return a role that is drawn with the visits of another and leaves some out."""
    hours = [one.settings.roles[name].hours_of_day for one in (plan, base)]
    rates, most = mine.visits_per_s, theirs.visits_per_s
    if hours[0] != hours[1] or rates.shape != most.shape or (rates > most).any():
        return mine
    done = np.divide(rates, most, out=np.ones(len(rates)), where=most > 0)
    return mine._replace(visits_per_s=most, done=done) if (done < 1.0).any() else mine


def drawn_from(settings: Settings) -> tuple[Any, ...]:
    """Return all that the demand of a surge is drawn from, ranges settled.

    Where two settings have equal ones, the same surge of both has the same demand, to the bit.
    """
    policy, kit, failures = settings.policy, settings.kit, settings.failures
    return (
        *(settings.start, settings.horizon, settings.run_out, settings.run_in),
        *(settings.arrivals, settings.entries, settings.rooms, settings.classes, settings.roles),
        *(policy.bundled_care, policy.maximum_wait, policy.urgent_maximum_wait),
        *(kit.don, kit.doff, kit.large_hood_share, failures.hood_damage, failures.tube_damage),
        tuple(one for one in settings.timeline if isinstance(one, ChangeOfDemand)),
    )


def _role_plan(settings: Settings, name: str, classes: Sequence[PatientClass]) -> RolePlan:
    """Return the numbers of a role; a log of entries may name one that is not described."""
    role, kit, policy = settings.roles.get(name), settings.kit, settings.policy
    events = [one.urgent for one in classes]
    kit_share = 1.0 if role is None else role.kit_share
    maximum_wait, per_wearer = (
        policy.maximum_wait,
        None if role is None else role.patients_per_wearer,
    )
    care, fewer, longer = policy.bundled_care, 1.0, 1.0
    if care is not None and (care.roles is None or name in care.roles):
        fewer, longer = care.entries, care.room_time
    per_day = [one.entries.get(name, 0.0) * fewer for one in classes]
    if role is not None and role.maximum_wait is not None:
        maximum_wait = role.maximum_wait
    return RolePlan(
        room=None if role is None else fitted(role.room_time),
        don=fitted(kit.don if role is None or role.don is None else role.don),
        doff=fitted(kit.doff if role is None or role.doff is None else role.doff),
        maximum_wait_s=NEVER_S if maximum_wait is None else maximum_wait,
        visits_per_s=np.array(per_day, dtype=np.float64) / DAY_S * (kit_share > 0),
        hours=DailyShape(None if role is None else role.hours_of_day, settings.start),
        kit_share=kit_share,
        longer=longer,
        team=np.array(
            [0 if one is None or one.role != name else one.team for one in events], dtype=np.int64
        ),
        patients_per_wearer=per_wearer,
        shift_ends_s=ends_of_shifts(
            () if role is None or per_wearer is None else role.shifts,
            settings.start,
            settings.horizon,
        ),
        rooms_per_round=1 if role is None or per_wearer is None else role.rooms_per_round or 1,
    )


def _summed(shares: Sequence[float]) -> FloatArray:
    """Return shares brought to 1 in sum, and summed."""
    whole = np.array(shares, dtype=np.float64)
    total = whole.sum()
    summed = np.cumsum(whole / total) if total > 0 else np.ones(len(whole))
    summed[-1:] = 1.0
    return summed
