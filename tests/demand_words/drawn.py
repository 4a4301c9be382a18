"""Some drawn surges of one file, side by side in plain columns."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np

from tests.demand_words.reading import seconds, share


class Drawn:
    """Patients and entries of some surges; patients are numbered through all of them."""

    def __init__(self, file: dict[str, Any], folder: Path, traces: list[Any]) -> None:
        self.file, self.folder, self.traces = file, folder, traces
        self.surges = len(traces)
        self.classes, self.roles = list(file["classes"]), list(file["roles"])
        assert all(list(one.class_names) == self.classes for one in traces)
        assert all(list(one.role_names) == self.roles for one in traces)
        horizon_s = int(seconds(file["horizon"]))
        present = int(file["arrivals"].get("initial_census", 0))
        patients: dict[str, list[Any]] = {}
        rows: dict[str, list[Any]] = {}
        before = 0
        for surge, trace in enumerate(traces):
            who = trace.patients
            count = len(who.arrive_s)
            here = np.arange(count) < present
            assert (who.arrive_s[here] == 0).all() and (np.diff(who.arrive_s) >= 0).all()
            from_s, to_s = who.arrive_s, np.minimum(who.leave_s, horizon_s)
            for name, column in (
                ("surge", np.full(count, surge)), ("present", here), ("arrive_s", who.arrive_s),
                ("leave_s", who.leave_s), ("patient_class", who.patient_class),
                ("room", who.room), ("from_s", from_s),
                # whoever was sent elsewhere is not visited
                ("to_s", np.where(who.room == -2, from_s, to_s)),
            ):  # fmt: skip
                patients.setdefault(name, []).append(column)
            wearer = trace.wearer
            ends = np.append(trace.shift_end_s, -1)[wearer]
            for name, column in (
                ("surge", np.full(trace.entries, surge)), ("patient", trace.patient + before),
                ("due_s", trace.due_s), ("room_s", trace.room_s), ("don_s", trace.don_s),
                ("doff_s", trace.doff_s), ("maximum_wait_s", trace.maximum_wait_s),
                ("role", trace.role), ("patient_class", trace.patient_class),
                ("urgent", trace.urgent), ("wearer", wearer), ("shift_end_s", ends),
                ("hood_torn", trace.hood_torn), ("tube_torn", trace.tube_torn),
            ):  # fmt: skip
                rows.setdefault(name, []).append(column)
            before += count
        self.patients = SimpleNamespace(**{k: np.concatenate(v) for k, v in patients.items()})
        self.rows = SimpleNamespace(**{k: np.concatenate(v) for k, v in rows.items()})
        own = self.rows
        of_patient = self.patients.patient_class[own.patient]
        np.testing.assert_array_equal(own.patient_class, of_patient)
        # a clean comes when the patient has gone; everybody else comes to the patient
        own.clean = own.due_s >= self.patients.leave_s[own.patient]
        assert (own.due_s >= self.patients.arrive_s[own.patient]).all()
        assert (own.due_s < horizon_s).all()

    def share_of(self, name: str, patient_class: str | None = None) -> float:
        """Share of the class among patients who are not said to be of one."""
        if patient_class is not None:
            return float(name == patient_class)
        return share(self.file["classes"][name]["share"])
