"""Drawn patients, visits and wearers of random wards, as the words of their files let expect.

Given the patients, visits are Poisson counts with known means, so each table of counts is held
against its own expectation: what one class, role, hour or weekday gets of another's shows.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from surge_sim.demand.draw import draw_demand
from surge_sim.scenario.load import scenario_from_text
from tests.demand_words import rates
from tests.demand_words.chance import Checks
from tests.demand_words.drawn import Drawn
from tests.demand_words.reading import (
    Residual,
    clock_s,
    per_second,
    read,
    seconds,
    share,
    start_of,
    times,
)
from tests.demand_words.wards import counts_file, ward

WARDS, SURGES, SEED = 8, 50, 7
#: chance that one ward of a right program fails
EACH = 2e-6
FALSE_ALARM = WARDS * EACH


@pytest.fixture(scope="module", params=range(WARDS), ids=lambda number: f"ward {number}")
def drawn(request, tmp_path_factory) -> Drawn:
    folder = tmp_path_factory.mktemp("ward")
    number = request.param
    (folder / f"counts_{number}.csv").write_text(counts_file(number), encoding="utf-8")
    return drawn_from(ward(number), folder, SURGES)


def drawn_from(text: str, folder: Path, surges: int) -> Drawn:
    scenario = scenario_from_text(text, folder=folder)
    return Drawn(
        read(text), folder, [draw_demand(scenario, seed=SEED, surge=n) for n in range(surges)]
    )


def test_drawn_demand_is_what_the_words_of_the_file_say(drawn: Drawn) -> None:
    checks = Checks(EACH)
    arrivals(drawn, checks)
    classes_and_stays(drawn, checks)
    visits(drawn, checks)
    urgent_events(drawn, checks)
    times_of_visits(drawn, checks)
    assert checks.too_far() == []
    assert len(checks.found) > 300


def arrivals(drawn: Drawn, checks: Checks) -> None:
    """Patients by hour of the clock, weekday and day, and by class and hour."""
    file, calendar = drawn.file, rates.Calendar(drawn.file)
    by_chance = rates.patients_by_minute(file, calendar, drawn.folder)
    in_clusters = {name: np.zeros(calendar.minutes) for name in drawn.classes}
    for cluster in file["arrivals"].get("clusters", []):
        expected = rates.cluster_by_minute(cluster, calendar)
        for name in drawn.classes:
            in_clusters[name] += expected * drawn.share_of(name, cluster.get("patient_class"))
    minute = drawn.patients.arrive_s // 60
    came = ~drawn.patients.present
    everybody = by_chance + sum(in_clusters.values())
    for name, parts, size in (
        ("arrivals by hour", calendar.hour, 24),
        ("arrivals by weekday", calendar.weekday, 7),
        ("arrivals by day", calendar.day, int(calendar.day[-1]) + 1),
    ):
        seen = np.bincount(parts[minute[came]], minlength=size)
        expected = np.bincount(parts, weights=everybody, minlength=size)
        checks.counts(name, seen, drawn.surges * expected)
    for number, name in enumerate(drawn.classes):
        theirs = came & (drawn.patients.patient_class == number)
        seen = np.bincount(calendar.hour[minute[theirs]], minlength=24)
        rate = by_chance * drawn.share_of(name) + in_clusters[name]
        expected = np.bincount(calendar.hour, weights=rate, minlength=24)
        checks.counts(f"arrivals of {name} by hour", seen, drawn.surges * expected)


def classes_and_stays(drawn: Drawn, checks: Checks) -> None:
    """Classes of those present and of those who came; stays of each class."""
    patients, file = drawn.patients, drawn.file
    present = int(file["arrivals"].get("initial_census", 0))
    assert patients.present.sum() == present * drawn.surges
    named = {name: 0 for name in drawn.classes}
    for cluster in file["arrivals"].get("clusters", []):
        if cluster.get("patient_class"):
            named[cluster["patient_class"]] += cluster["patients"] * drawn.surges
    others = int((~patients.present).sum()) - sum(named.values())
    stay_s = patients.leave_s - patients.arrive_s
    residual = file["arrivals"].get("initial_stay", "residual") == "residual"
    laws = {name: times(file["classes"][name]["length_of_isolation"]) for name in drawn.classes}
    left = {name: Residual(law) for name, law in laws.items()}
    found = {name: drawn.share_of(name) * left[name].mean_s for name in drawn.classes}
    for number, name in enumerate(drawn.classes):
        own = patients.patient_class == number
        chance = drawn.share_of(name)
        came = own & ~patients.present
        checks.share(f"class {name} of those who came", int(came.sum()) - named[name], others,
                     chance)  # fmt: skip
        here = own & patients.present
        checks.share(f"class {name} of those present", int(here.sum()),
                     present * drawn.surges,
                     found[name] / sum(found.values()) if residual else chance)  # fmt: skip
        law = laws[name]
        for words, those in (("came", came), ("were present", here)):
            if words == "were present" and residual:
                checks.spread(f"stay left of {name}s who {words}", stay_s[those], left[name].cdf)
                continue
            checks.spread(f"stay of {name}s who {words}", stay_s[those],
                          lambda s, law=law: law.cdf(np.maximum(s, 1) + 0.5))  # fmt: skip


def visits(drawn: Drawn, checks: Checks) -> None:
    """Routine visits by class, role, hour of the clock and weekday, given who lay there when."""
    file, patients, rows = drawn.file, drawn.patients, drawn.rows
    there_s, hour, weekday = rates.time_by_hour(patients.from_s, patients.to_s, file)
    routine = ~rows.urgent & ~rows.clean
    seen = np.zeros((len(drawn.classes), len(drawn.roles), len(hour)))
    at = (rows.due_s + start_of(file).minute * 60 + start_of(file).second) // 3_600
    np.add.at(seen, (rows.patient_class[routine], rows.role[routine], at[routine]), 1)
    expected = np.zeros_like(seen)
    for number, name in enumerate(drawn.classes):
        time_s = there_s[patients.patient_class == number].sum(axis=0)
        for place, role in enumerate(drawn.roles):
            shape = rates.shape_of(file["roles"][role].get("hours_of_day"), 24)
            rate = rates.visits_per_second(file, name, role)
            expected[number, place] = rate * time_s * shape[hour]
    boarded = patients.room[rows.patient[routine]] < 0
    checks.counts("visits by class and role", seen.sum(axis=2), expected.sum(axis=2))
    for part, size, words in ((hour, 24, "hour"), (weekday, 7, "weekday")):
        into = np.eye(size)[part]
        checks.counts(f"visits by role and {words}", seen.sum(axis=0) @ into,
                      expected.sum(axis=0) @ into)  # fmt: skip
        checks.counts(f"visits by class and {words}", seen.sum(axis=1) @ into,
                      expected.sum(axis=1) @ into)  # fmt: skip
    of_boarded = 0.0
    for number, name in enumerate(drawn.classes):
        those = (patients.patient_class == number) & (patients.room < 0)
        for role in drawn.roles:
            shape = rates.shape_of(file["roles"][role].get("hours_of_day"), 24)
            rate = rates.visits_per_second(file, name, role)
            of_boarded += float((rate * there_s[those] * shape[hour]).sum())
    checks.counts("visits of patients without a room", [boarded.sum()], [of_boarded])


def urgent_events(drawn: Drawn, checks: Checks) -> None:
    """Events of each class at its own rate, at all hours alike; each brings the whole team."""
    file, patients, rows = drawn.file, drawn.patients, drawn.rows
    there_s, hour, _ = rates.time_by_hour(patients.from_s, patients.to_s, file)
    by_hour = np.zeros(24)
    seen_by_hour = np.zeros(24)
    past_s = start_of(file).minute * 60
    for number, name in enumerate(drawn.classes):
        urgent = file["classes"][name].get("urgent")
        those = rows.urgent & (rows.patient_class == number)
        if urgent is None:
            assert not those.any()
            continue
        keys = np.stack((rows.surge[those], rows.patient[those], rows.due_s[those]))
        events, people = np.unique(keys, axis=1, return_counts=True)
        assert (people % urgent["team"] == 0).all()
        assert set(rows.role[those].tolist()) <= {drawn.roles.index(urgent["role"])}
        time_s = there_s[patients.patient_class == number].sum(axis=0)
        expected = per_second(urgent["per_patient"]) * time_s
        count = int(people.sum()) // urgent["team"]
        checks.counts(f"urgent events of {name}", [count], [expected.sum()])
        by_hour += np.bincount(hour, weights=expected, minlength=24)
        seen_by_hour += np.bincount((hour[(events[2] + past_s) // 3_600]), minlength=24)
    checks.counts("urgent events by hour", seen_by_hour, by_hour)


def times_of_visits(drawn: Drawn, checks: Checks) -> None:
    """Times in the room, to put on and to take off, by role; hoods and tubes that tear."""
    file, rows = drawn.file, drawn.rows
    clean = file.get("rooms", {}).get("terminal_clean")
    for number, role in enumerate(drawn.roles):
        own = rows.role == number
        words = file["roles"][role]
        law, longer = times(words["room_time"]), rates.longer_by(file, role)
        checks.spread(f"urgent room time of {role}", rows.room_s[own & rows.urgent],
                      lambda s, law=law: law.cdf(s + 0.5))  # fmt: skip
        checks.spread(
            f"room time of {role}",
            rows.room_s[own & ~rows.urgent & ~rows.clean],
            lambda s, law=law, f=longer: law.cdf(np.ceil((s + 0.5) / f) - 0.5),
        )
        for name, column in (("don", rows.don_s), ("doff", rows.doff_s)):
            law = times(words.get(name, file["kit"][name]))
            checks.spread(f"{name} of {role}", column[own], lambda s, law=law: law.cdf(s + 0.5))
    if rows.clean.any():
        law = times(clean["room_time"])
        checks.spread("room time of cleans", rows.room_s[rows.clean], lambda s: law.cdf(s + 0.5))
    for name, column in (("hood", rows.hood_torn), ("tube", rows.tube_torn)):
        chance = share(file["failures"][f"{name}_damage"])
        for urgent in (False, True):
            torn = column[rows.urgent == urgent]
            checks.share(f"torn {name}s, urgent: {urgent}", int(torn.sum()), len(torn), chance)
    assert not rows.clean[rows.urgent].any()


def test_nobody_waits_longer_than_the_maximum_wait_of_the_role_or_of_the_policy(
    drawn: Drawn,
) -> None:
    policy, rows = drawn.file["policy"], drawn.rows
    for number, role in enumerate(drawn.roles):
        own = drawn.file["roles"][role].get("maximum_wait", policy["maximum_wait"])
        for urgent, words in ((False, own), (True, policy["urgent_maximum_wait"])):
            those = rows.maximum_wait_s[(rows.role == number) & (rows.urgent == urgent)]
            assert set(those.tolist()) <= {seconds(words)}


def test_rooms_go_to_whoever_comes_first_and_open_when_air_and_clean_allow(drawn: Drawn) -> None:
    """A patient has no room only if each was taken or shut; each clean in a kit is an entry."""
    rooms = drawn.file.get("rooms")
    if rooms is None:
        assert (drawn.patients.room >= 0).all() and not drawn.rows.clean.any()
        return
    clean = rooms["terminal_clean"]
    cleared = math.log(1 / (1 - share(rooms["clearance"]))) / (per_second(rooms["air_changes"]))
    cleared = round(cleared * float(rooms["mixing_factor"]))
    delay = seconds(clean["delay"])
    in_kit = clean["when"] == "with a kit" and delay < cleared
    cleans = {
        int(patient): (int(due), int(lasts))
        for patient, due, lasts in zip(
            drawn.rows.patient[drawn.rows.clean],
            drawn.rows.due_s[drawn.rows.clean],
            drawn.rows.room_s[drawn.rows.clean],
            strict=True,
        )
    }
    without = {"board": -1, "divert": -2}[rooms["when_full"]]
    horizon_s = seconds(drawn.file["horizon"])
    patients, opens, full, surge = drawn.patients, {}, 0, -1
    for number in range(len(patients.arrive_s)):
        if patients.surge[number] != surge:
            surge, opens = patients.surge[number], dict.fromkeys(range(rooms["count"]), 0)
        here, gone = int(patients.arrive_s[number]), int(patients.leave_s[number])
        free = [room for room, at in opens.items() if at <= here]
        if not free:
            full += 1
            assert patients.room[number] == without and number not in cleans
            continue
        room = int(patients.room[number])
        assert room in free
        if in_kit:
            wanted = gone + delay < horizon_s
            assert (number in cleans) == wanted
            due, lasts = cleans.get(number, (gone, 0))
            assert not wanted or due == gone + delay
            opens[room] = max(gone + cleared, due + lasts)
        else:
            assert number not in cleans
            opens[room] = gone + max(cleared, delay) + seconds(clean["room_time"])
    assert full > 0


def beds_of(patients: Any) -> list[tuple[str, int]]:
    """The room of each patient; of one without a room, the lowest place of boarded that is free."""
    beds = [("room", int(room)) for room in patients.room]
    for surge in np.unique(patients.surge):
        free_s: list[int] = []
        for patient in np.flatnonzero((patients.surge == surge) & (patients.room == -1)).tolist():
            come_s, go_s = int(patients.arrive_s[patient]), int(patients.leave_s[patient])
            place = next((n for n, end_s in enumerate(free_s) if end_s <= come_s), len(free_s))
            free_s[place : place + 1] = [go_s]
            beds[patient] = ("boarded", place)
    return beds


def test_named_wearers_have_their_rooms_in_their_shift_and_no_more_patients(drawn: Drawn) -> None:
    """Who visits a room is one person a shift and role; so many rooms at most to each."""
    file, rows, start = drawn.file, drawn.rows, start_of(drawn.file)
    past_s = start.hour * 3_600 + start.minute * 60
    named = [role for role in drawn.roles if "patients_per_wearer" in file["roles"][role]]
    assert named
    beds = beds_of(drawn.patients)
    for number, role in enumerate(drawn.roles):
        routine = (rows.role == number) & ~rows.urgent
        if role not in named:
            assert set(rows.wearer[routine].tolist()) <= {-1}
            continue
        words = file["roles"][role]
        starts = [day * 86_400 + clock_s(one) - past_s for day in range(15)
                  for one in words["shifts"]]  # fmt: skip
        ends = np.array(sorted(starts))
        end_s = ends[np.searchsorted(ends, rows.due_s[routine], side="right")]
        assert (rows.wearer[routine] >= 0).all()
        np.testing.assert_array_equal(rows.shift_end_s[routine], end_s)
        visited: dict[Any, set[tuple[str, int]]] = {}
        whose: dict[Any, set[int]] = {}
        columns = rows.surge, rows.wearer, rows.patient
        for surge, wearer, patient, end in zip(
            *(column[routine].tolist() for column in columns), end_s.tolist(), strict=True
        ):
            bed = beds[patient]
            visited.setdefault((surge, wearer), set()).add(bed)
            whose.setdefault((surge, end, bed), set()).add(wearer)
        assert all(len(wearers) == 1 for wearers in whose.values())
        most = words["patients_per_wearer"]
        assert max(map(len, visited.values())) == most
        assert all(len({kind for kind, _ in beds}) == 1 for beds in visited.values())
    assert set(rows.wearer[rows.urgent].tolist()) == {-1}


def test_a_wearer_has_one_role_and_one_shift(drawn: Drawn) -> None:
    rows = drawn.rows
    found: dict[Any, set[Any]] = {}
    named = rows.wearer >= 0
    for surge, wearer, role, end in zip(
        rows.surge[named], rows.wearer[named], rows.role[named], rows.shift_end_s[named],
        strict=True,
    ):  # fmt: skip
        found.setdefault((surge, wearer), set()).add((role, end))
    assert found and all(len(both) == 1 for both in found.values())


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("per_patient: ", "per_patient: 3"),
        ("admitted: ", "admitted: 1"),
        ("width: ", "width: 9"),
    ],
)
def test_the_comparison_notices_another_file(before: str, after: str, tmp_path: Path) -> None:
    """Drawn from one file and held against another, with one number changed."""
    number = next(n for n in range(WARDS) if before in ward(n))
    text = ward(number)
    (tmp_path / f"counts_{number}.csv").write_text(counts_file(number), encoding="utf-8")
    drawn = drawn_from(text, tmp_path, SURGES)
    other = Drawn(read(text.replace(before, after, 1)), tmp_path, drawn.traces)
    checks = Checks(EACH)
    arrivals(other, checks)
    urgent_events(other, checks)
    assert checks.too_far()
