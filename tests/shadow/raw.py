"""What really happened in some surges: rows of needs and entries, hours, counts, patients."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from surge_sim.engine.log import Count, Outcome, RunLog, Use
from surge_sim.engine.play import play
from surge_sim.equipment.situation import Situation, situation_of
from surge_sim.equipment.stock import Stock
from surge_sim.scenario.load import Scenario

DAY_S, HOUR_S = 86_400, 3_600
OUTCOMES = {
    int(Outcome.SERVED): "served",
    int(Outcome.RENEGED): "maximum wait reached",
    int(Outcome.WAITING_AT_END): "still waiting at the end",
}


@dataclass(frozen=True)
class Raw:
    """Surges as they were played, each beside the other; times in seconds."""

    surges: int
    #: one row for each need, and for each entry
    needs: pd.DataFrame
    entries: pd.DataFrame
    #: one row for each surge: patients, boarded, diverted
    patients: pd.DataFrame
    #: one row for each surge, a column for each thing counted
    counts: pd.DataFrame
    #: seconds in line by cause, shape (needs, causes)
    waited_s: np.ndarray
    #: shape (surges, states, hours), and shape (surges, states)
    use_area: np.ndarray
    use_peak: np.ndarray
    horizon_s: int
    closing_s: int
    roles: list[str]
    classes: list[str]
    #: whether some wearers need a large hood: else nothing is told of these
    large_hoods: bool

    def told(self, names: dict[str, str]) -> dict[str, str]:
        """Return those of some names of counts that a table has."""
        return {
            name: column
            for name, column in names.items()
            if self.large_hoods or "large hoods" not in name
        }


def play_raw(scenario: Scenario, stock: Stock, surges: int, seed: int, sample: int = 0) -> Raw:
    """Play surges one after the other and keep everything."""
    needs, entries, patients, counts, waited, area, peak = [], [], [], [], [], [], []
    for surge in range(surges):
        case = situation_of(scenario, stock, seed=seed, surge=surge, sample=sample)
        trace, log = case.demand, play(*case)
        roles, classes = list(trace.role_names), list(trace.class_names)
        start = trace.start
        past_s = start.hour * HOUR_S + start.minute * 60 + start.second
        entries.append(
            pd.DataFrame(
                {
                    "surge": surge,
                    "entry": np.arange(trace.entries),
                    "role": np.array([*roles, ""], dtype=object)[trace.role],
                    "class": np.array([*classes, ""], dtype=object)[trace.patient_class],
                    "urgent": trace.urgent,
                    "day": trace.due_s // DAY_S + 1,
                    "hour": (trace.due_s + past_s) // HOUR_S % 24,
                }
            )
        )
        needs.append(
            pd.DataFrame(
                {"surge": surge}
                | {name: getattr(log, name) for name in log.NEED_COLUMNS}
                | {"delay_s": delay_of(case, log)}
                | {"clock": np.datetime64(start, "s") + log.need_s.astype("timedelta64[s]")}
            )
        )
        room = trace.patients.room
        patients.append((len(room), int((room == -1).sum()), int((room == -2).sum())))
        counts.append(log.counts)
        waited.append(log.waited_s)
        area.append(log.use_area)
        peak.append(log.use_peak)
    rows = pd.concat(needs, ignore_index=True)
    rows["ended"] = rows["outcome"].map(OUTCOMES)
    both = pd.concat(entries, ignore_index=True)
    return Raw(
        surges,
        rows.merge(both, on=["surge", "entry"], how="left", validate="many_to_one"),
        both,
        pd.DataFrame(patients, columns=["patients", "boarded", "diverted"]),
        pd.DataFrame(counts, columns=[one.name for one in Count]),
        np.concatenate(waited),
        np.array(area),
        np.array(peak),
        trace.horizon_s,
        trace.closing_s,
        roles,
        classes,
        scenario.settings.kit.large_hood_share > 0,
    )


def delay_of(case: Situation, log: RunLog) -> np.ndarray:
    """How much later than with ample stock each entry had its first kit, row by row."""
    many, before, waits = 64, None, 1
    while True:
        rich = Stock(many, 2 * many, many, 0, many, many, many, many, many)
        best = play(*case._replace(stock=rich))
        waits = best.waited_s.sum()
        if not waits or many >= case.demand.entries or (before is not None and waits >= before):
            break
        many, before = 4 * many, waits
    named = bool(len(case.demand.shift_end_s))
    delay = []
    for row, wait in enumerate(log.wait_s.tolist()):
        first = row < case.demand.entries and named
        if first and log.in_hand_s[row] >= 0 and best.in_hand_s[row] >= 0:
            wait = max(wait, int(log.in_hand_s[row] - best.in_hand_s[row]))
        delay.append(wait)
    return np.array(delay, dtype=np.int64)


#: states as the tables name them
STATES = {
    one.name.lower().replace("_", " ").replace(" out", " out of service"): int(one) for one in Use
}
STATES["kits waiting for wipe-down"] = STATES.pop("kits waiting for wipe")
STATES["kits in wipe-down"] = STATES.pop("kits in wipe down")
