"""An exercise file is checked like a scenario: every fault at once, with its line."""

from __future__ import annotations

import pickle

import pytest

from surge_sim.errors import ScenarioError
from surge_sim.scenario.exercise import load_exercise
from surge_sim.scenario.timeline import KitsOnLoan
from tests.drill.small import EXERCISE, SCENARIO, SHIPPED, loaded, small


def faults(folder, *changes, scenario=SCENARIO):
    with pytest.raises(ScenarioError) as error:
        load_exercise(small(folder, *changes, scenario=scenario))
    return error.value.faults


def line_of(text):
    """Line on which a text stands in the exercise."""
    (number,) = [n for n, line in enumerate(EXERCISE.splitlines(), 1) if text in line]
    return number


def test_a_choice_holds_from_its_moment_on_after_its_delay(tmp_path):
    exercise = loaded(tmp_path)
    choice = exercise.moments[0].choices[1].does
    assert isinstance(choice, KitsOnLoan)
    assert (choice.at, choice.lasts) == (2 * 3_600 + 30 * 60, 6 * 3_600)
    assert exercise.moments[1].inject.at == 4 * 3_600 + 30 * 60


def test_every_way_is_one_choice_a_moment(tmp_path):
    exercise = loaded(tmp_path)
    assert len(exercise.paths) == 9
    assert set(exercise.paths) == {(one, two) for one in range(3) for two in range(3)}


def test_an_exercise_survives_the_way_to_another_process(tmp_path):
    exercise = loaded(tmp_path)
    assert pickle.loads(pickle.dumps(exercise)).file == exercise.file


@pytest.mark.parametrize(
    ("old", "new", "where", "found"),
    [
        ("at: day 1, 11:30", "at: day 1, 08:30", "at: day 1, 11:30", "not after the moment before"),
        ("at: day 1, 11:30", "at: day 1, 18:30", "at: day 1, 11:30", "is after the end"),
        ("delay: 20 min", "delay: 6 h", "delay: 20 min", "leads to after the end"),
        ("delay: 20 min", "delay: -20 min", "delay: 20 min", "'-20 min'"),
        (
            "{what: kits on loan, kits: 2, lasts: 6 h}",
            "{what: kits on loan, kits: 2, at: day 1 08:00}",
            "kits on loan",
            "does.at is not needed",
        ),
        ("name: Reserve one", "name: Wait", "Reserve one", "is 'Wait' again"),
        ("kits: 1}", "kit: 1}", "Reserve one", "does.kit is not known"),
        (
            "{what: reserve for urgent entries, kits: 1}",
            "{what: power outage, lasts: 1 h}",
            "Reserve one",
            "is 'power outage', which happens and is not decided",
        ),
        (
            "{what: power outage, lasts: 90 min}",
            "{what: power outage, lasts: 90 min, bays: 1, chargers: 1}",
            "power outage",
            "stands beside `bays`",
        ),
        (
            "{what: cleaning crew absent, lasts: 2 h}",
            "{what: cleaning crew absent, lasts: 2 h, shift: 06:00}",
            "cleaning crew absent",
            "no shift of the crew begins then",
        ),
        ("length: 10 h", "length: 11 h", "length: 10 h", "length is '11 h'"),
        ("surge: 3", "surge: easy", "surge: 3", "surge is 'easy'"),
        ("other_surges: 20", "other_surges: 5", "other_surges: 20", "other_surges is '5'"),
        ("does: nothing}\n      - {name: Res", "does: noting}\n      - {name: Res", "", "'noting'"),
        ("objectives: [See what is short.]", "objectives: []", "objectives", "has 0 values"),
        ("    read_aloud: The power fails.\n", "", "", "moments[2].read_aloud is missing"),
        ("    discuss: 5 min\n", "    discuss: 0 min\n", "", "moments[1].discuss is '0 min'"),
        ("The power fails.", "It fails: the power.", "", "has a second colon"),
        ("[See what is short.]", "[See: what is short.]", "objectives", "[1] is a section"),
    ],
)
def test_a_fault_is_told_with_its_line(tmp_path, old, new, where, found):
    told = faults(tmp_path, (old, new))
    assert len({fault.found.split()[0] for fault in told}) <= 2, told
    fault = next(one for one in told if found in one.found.replace("is 11 h", "is '11 h'"))
    assert fault.file.endswith("exercise.yaml")
    assert fault.right.endswith((".", "?"))
    if where:
        assert fault.line == line_of(where)


def test_all_faults_of_both_files_come_at_once(tmp_path):
    told = faults(
        tmp_path,
        ("discuss: 5 min", "discuss: 5"),
        ("at: day 1, 11:30", "at: soon"),
        ("kits: 2", "kits: two"),
        scenario=SCENARIO.replace("kits: 4", "kits: -4").replace(
            "pre_use_check: 1 min", "pre_use_check: 1"
        ),
    )
    text = " ".join(str(fault) for fault in told)
    for expected in (
        "moments[1].discuss", "moments[2].discuss", "moments[2].at", "does.kits", "stock.kits",
        "kit.pre_use_check",
    ):  # fmt: skip
        assert expected in text
    assert {fault.file.rpartition("/")[2] for fault in told} == {"exercise.yaml", "ward.yaml"}


def test_what_a_scenario_refuses_an_exercise_refuses_at_its_own_place(tmp_path):
    """Kits held for a shift need named wearers, which this scenario does not have."""
    change = "{what: kit policy, kit: held for a shift}"
    scenario = SCENARIO.replace("    patients_per_wearer: 2\n", "")
    (fault,) = faults(
        tmp_path, ("{what: reserve for urgent entries, kits: 1}", change), scenario=scenario
    )
    assert fault.found.startswith("moments[2].choices[2].does.kit is 'held for a shift'")
    assert fault.line == line_of("Reserve one")


def test_a_scenario_that_replays_a_log_is_refused(tmp_path):
    (tmp_path / "log.csv").write_text("requested,room_minutes\n2031-01-06 08:00,5\n")
    scenario = SCENARIO.replace(
        "arrivals: {initial_census: 4, baseline: 2 per day}", "entries: {from: log.csv}"
    )
    told = faults(tmp_path, scenario=scenario)
    assert any("replays a log of entries" in fault.found for fault in told)


def test_a_missing_scenario_is_told(tmp_path):
    told = faults(tmp_path, ("scenario: ward.yaml", "scenario: wards.yaml"))
    assert [fault.found for fault in told] == ["cannot be read: there is no such file."]


def test_a_shorter_exercise_is_a_shorter_surge(tmp_path):
    exercise = loaded(tmp_path, ("length: 10 h", "length: 7 h"))
    assert exercise.scenario.settings.horizon == 7 * 3_600


def test_more_ways_than_can_be_played_are_refused(tmp_path):
    moment = EXERCISE[EXERCISE.index("  - at: day 1, 11:30") :]
    more = "".join(moment.replace("11:30", f"1{hour}:40") for hour in (2, 3, 4))
    path = small(tmp_path)
    path.write_text(EXERCISE + more)
    with pytest.raises(ScenarioError, match="have 243 paths through them"):
        load_exercise(path)


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_shipped_exercises_can_be_used_and_say_that_they_are_invented(path):
    exercise = load_exercise(path)
    assert "invented" in exercise.file.title
    assert "invented" in exercise.scenario.settings.title
    assert exercise.file.other_surges == 200
    assert 2 <= len(exercise.moments) <= 3
    for moment in exercise.moments:
        assert moment.questions and moment.expect and moment.if_stuck


def test_two_exercises_are_shipped():
    assert [path.stem for path in SHIPPED] == ["evening", "fortnight"]


@pytest.mark.parametrize(
    "data",
    [b"", b"\xff\xfe\x00", b"[" * 3_000, b"moments: 3", b"moments: [3, {at: x}]", b"- a\n- b\n"],
    ids=range(6),
)
def test_a_hostile_file_is_a_fault_and_never_a_traceback(tmp_path, data):
    path = tmp_path / "hostile.yaml"
    path.write_bytes(data)
    with pytest.raises(ScenarioError):
        load_exercise(path)


#: what may stand by mistake in the place of a value
MISTAKES = (
    "", "none", "[]", "{}", "-1", "soon", "day 0, 08:00", "{what: kits on loan}", "[1, two]",
    "{low: 1 h, high: 2 h}", "1.400", "*other", "99999 d",
)  # fmt: skip


@pytest.mark.parametrize("mistake", MISTAKES)
def test_any_value_that_is_wrong_is_a_fault_and_never_a_traceback(tmp_path, mistake):
    """Each value of the exercise in turn; where the mistake fits by chance the file is good."""
    path = small(tmp_path)
    lines = EXERCISE.splitlines()
    refused = 0
    for number, line in enumerate(lines):
        name, colon, _ = line.partition(": ")
        if not colon:
            continue
        changed = [*lines[:number], f"{name}: {mistake}", *lines[number + 1 :]]
        path.write_text("\n".join(changed), encoding="utf-8")
        try:
            load_exercise(path)
        except ScenarioError as error:
            refused += 1
            assert all(fault.found and fault.right for fault in error.faults)
    assert refused > 15
