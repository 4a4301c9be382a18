"""Logs of surges written by hand, so that every answer can be worked out on paper."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from surge_sim.demand.table import Demand
from surge_sim.engine.log import Alarm, Count, Outcome, RunLog, Use
from surge_sim.equipment.causes import CAUSES, Cause
from surge_sim.scenario.schema import Settings
from surge_sim.statistics.summary import Layout
from tests.engine.tiny import settings, tiny_trace

SERVED, RENEGED, LEFT = Outcome.SERVED, Outcome.RENEGED, Outcome.WAITING_AT_END
CHECK_S = 60


@dataclass(frozen=True)
class Need:
    """One row of a log, times in minutes."""

    need: float
    wait: float = 0.0
    outcome: int = SERVED
    entry: int | None = None
    part: int = 0
    failed_checks: int = 0
    alarm: int = Alarm.NONE
    #: minutes waited in line, by cause; none given: the whole wait, for a battery that charges
    waited: Mapping[Cause, float] | None = None

    @property
    def by_cause_s(self) -> list[int]:
        """Seconds waited in line by each cause."""
        causes = {Cause.BATTERY_CHARGING: self.wait} if self.waited is None else self.waited
        return [round(60 * causes.get(cause, 0)) for cause in Cause]


def log_of(
    needs: Sequence[Need],
    counts: Mapping[Count, int] | None = None,
    use: Mapping[Use, Sequence[int]] | None = None,
    peaks: Mapping[Use, int] | None = None,
    hours: int = 24,
) -> RunLog:
    """Write a log; entries are numbered in order unless a need says otherwise.

    ``use`` holds item-minutes by hour.
    """

    def column(values: Sequence[float]) -> np.ndarray:
        return np.array([round(value) for value in values], dtype=np.int64)

    size = len(needs)
    counted = np.zeros(len(Count), dtype=np.int64)
    for count, number in (counts or {}).items():
        counted[count] = number
    area = np.zeros((len(Use), hours), dtype=np.int64)
    for state, minutes in (use or {}).items():
        area[state, : len(minutes)] = 60 * np.array(minutes)
    peak = np.zeros(len(Use), dtype=np.int64)
    for state, most in (peaks or {}).items():
        peak[state] = most
    in_hand = [
        60 * (one.need + one.wait) + CHECK_S if one.outcome == SERVED else -1 for one in needs
    ]
    return RunLog(
        entry=column([row if one.entry is None else one.entry for row, one in enumerate(needs)]),
        part=column([one.part for one in needs]),
        need_s=column([60 * one.need for one in needs]),
        wait_s=column([60 * one.wait for one in needs]),
        in_hand_s=column(in_hand),
        end_s=column([at if at < 0 else at + 600 for at in in_hand]),
        outcome=column([one.outcome for one in needs]),
        alarm=column([one.alarm for one in needs]),
        blower=np.zeros(size, dtype=np.int64),
        battery=np.zeros(size, dtype=np.int64),
        level=np.zeros(size, dtype=np.int64),
        failed_checks=column([one.failed_checks for one in needs]),
        worn_s=np.zeros(size, dtype=np.int64),
        waited_s=np.array([one.by_cause_s for one in needs], dtype=np.int32).reshape(size, CAUSES),
        missing_at_s=column([]),
        missing_mask=column([]),
        use_area=area,
        use_peak=peak,
        counts=counted,
    )


def trace_of(
    due: Sequence[float],
    surge: int = 0,
    urgent: Sequence[bool] | None = None,
    role: Sequence[int] | None = None,
    roles: tuple[str, ...] = ("nurse",),
    patient_class: Sequence[int] | None = None,
    classes: tuple[str, ...] = (),
    changed: Settings | None = None,
) -> Demand:
    """Demand whose entries are due at these minutes."""
    trace = tiny_trace(changed or settings(), list(due), room=10, urgent=urgent)
    none = [-1] * len(due)
    return replace(
        trace,
        surge=surge,
        role=np.array([0] * len(due) if role is None else role, dtype=np.int64),
        role_names=roles,
        patient_class=np.array(none if patient_class is None else patient_class, dtype=np.int64),
        class_names=classes,
    )


def layout_of(trace: Demand, changed: Settings | None = None) -> Layout:
    """What is kept of surges with the roles and classes of this one."""
    layout = Layout.of(changed or settings())
    return replace(layout, role_names=trace.role_names, class_names=trace.class_names)
