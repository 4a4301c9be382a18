"""Slips of the pen in a scenario are told in plain words at their line, and the rest is read."""

from __future__ import annotations

import pytest

from surge_sim.errors import Fault, ScenarioError, echo
from surge_sim.scenario.load import load_scenario, scenario_from_text
from surge_sim.scenario.text_file import text_of
from tests.scenario.base import BASE, changed

#: what is written in the place of what, the line of the fault, and what is told
SLIPS = [
    ("  nurse: {room", "\tnurse: {room", 12, "begins with a tab"),
    ("    share: 100 %", "\tshare: 100 %", 8, "begins with a tab"),
    ("horizon: 14 d", "horizon 14 d", 3, "has no colon with a space behind it"),
    ("classes:\n", "classes\n", 6, "has no colon with a space behind it"),
    ("  ward:\n", "  ward\n", 8, "lacks a colon above it"),
    ("    share: 100 %", "    share 100 %", 9, "lacks a colon above it"),
    ("entries: {nurse", "entries {nurse", 10, "entries {nurse is not known.\n  Did you mean `entr"),
    ("horizon: 14 d", "horizon = 14 d", 3, "has no colon"),
    ("horizon: 14 d", "horizon:14 d", 3, "has no colon with a space behind it"),
    ("{kits: 4,", "{kits:4,", 16, "stock.kits:4 has no value.\n  Write `name: value`, with"),
    ("{kits: 4,", "{kits 4,", 16, "stock.kits 4 has no value"),
    ("{kits: 4, b", "{kits: 4 b", 16, "opens '{', and on line 16 a comma or '}' is missing"),
    ("Two rooms", "Two: rooms", 1, "a second colon"),
    ("Two rooms (invented)", '"Two rooms', 1, "opens a quote and does not close it"),
    ("Two rooms (invented)", "'Two rooms", 1, "opens a quote and does not close it"),
    ("Two rooms (invented)\nstart: 2031-01-06 07:00", '"Two\nstart: "2031-01-06"', 2,
     "text behind a closing quote"),
    ("Two rooms (invented)", '"Two" rooms', 1, "text behind a closing quote"),
    ("Two rooms (invented)", "[a] rooms", 1, "text behind a closing quote or bracket"),
    ("Two rooms (invented)", '"C:\\q"', 1, "has a backslash between double quotes"),
    ("Two rooms", "@Two rooms", 1, "begins with a sign that means something else"),
    ("Two rooms (invented)", "*Two", 1, "refers to '*Two'"),
    ("bays: 2}", "bays: 2", 16, "opens '{', and on line 17 a comma or '}' is missing"),
    ("surges: 90 %}", "surges: 90 %", 17, "opens '{', and on line 18 a comma or '}' is missing"),
    ("8 h}]}", "8 h}}", 13, "opens '[', and on line 13 a comma or ']' is missing"),
    ("bays: 2}", "bays: 2}}", 16, "text behind a closing quote or bracket"),
    ("    length_of_isolation:", "      length_of_isolation:", 9, "begins deeper than its section"),
    ("    length_of_isolation:", "   length_of_isolation:", 9,
     "begins in another column than its section"),
    ("horizon: 14 d", " horizon: 14 d", 3, "begins deeper than its section"),
    ("title:", " title:", 2, "begins in another column than its section"),
    ("classes:\n", "classes: yes\n", 7, "begins deeper than its section"),
    ("horizon: 14 d", "- horizon: 14 d", 3, "begins in another column than its section"),
    ("horizon: 14 d", "? horizon: 14 d", 3, "a list or section stands where a name"),
    ("bays: 2}", "bays: 2,5}", 16, "stock.bays is '2', and '5' stands alone behind the comma"),
    ("Two rooms (invented)", '"a\\x1b[31m"', 1, "U+001B"),
    ("Two rooms", "Two\u202erooms", 1, "U+202E (right-to-left override)"),
    ("Two rooms", "Two\u200brooms", 1, "U+200B (zero width space)"),
    ("Two rooms", "Two\u2028rooms", 1, "U+2028 (line separator)"),
]  # fmt: skip

#: words of the program and its libraries
INTERNALS = ("YAML", "pydantic", "Input should", "mapping", "token", "scalar", "_", "<class", "\\d")


def faults_of(text: str) -> list[Fault]:
    with pytest.raises(ScenarioError) as error:
        scenario_from_text(text)
    return error.value.faults


@pytest.mark.parametrize(("old", "new", "line", "words"), SLIPS, ids=lambda one: str(one)[:24])
def test_a_slip_is_told_at_its_line_and_nothing_else_is(old, new, line, words):
    (fault,) = faults_of(changed((old, new)))
    assert fault.line == line
    assert words in str(fault)
    told = str(fault).replace("share_of", "").replace("length_of_", "").replace("new FILE", "")
    assert not any(word in told for word in INTERNALS)


def test_text_that_is_no_yaml_is_told_at_its_first_slip_alone():
    text = changed(("  ward:\n", "  ward\n"), ("bays: 2}", "bays: 2"), ("wait: 5 min", "wait: 5"))
    assert [fault.line for fault in faults_of(text)] == [8]


def test_a_sign_that_does_not_print_is_told_at_its_line_below_an_empty_first_line():
    _, faults = text_of(b"\na\nb\x1bc\n", "x.csv")
    assert [fault.line for fault in faults] == [3]


def test_forty_values_without_a_unit_are_one_fault():
    roles = "".join(f"  role {number}: {{room_time: 5}}\n" for number in range(40))
    (fault,) = faults_of(changed(("  nurse:", roles + "  nurse:")))
    assert fault.found == "roles.role 0.room_time is '5'."
    assert fault.right.endswith("39 more like this, on lines 13, 14, 15, 16, 17 and others.")


def test_five_faults_of_a_kind_are_told_one_by_one_and_six_as_one():
    five = [Fault("a.yaml", line, f"x is '{line}'.", "Write y.") for line in range(1, 6)]
    assert ScenarioError(five).faults == five
    (one,) = ScenarioError([*five, Fault("a.yaml", 9, "x is '9'.", "Write y.")]).faults
    assert one.right == "Write y.\n  5 more like this, on lines 2, 3, 4, 5, 9."


@pytest.mark.parametrize(
    ("old", "new", "hint"),
    [
        ("charge_time: 3 h", "charge_time: 4-5 h", "`{low: 4 h, high: 5 h}`"),
        ("pre_use_check: 1 min", "pre_use_check: 1 to 2 min", "`{low: 1 min, high: 2 min}`"),
        ("room_time: 5 min", "room_time: 4–5 min", "`{low: 4 min, high: 5 min}`"),
        ("1 per day", "1-2 per day", "`{low: 1 per day, high: 2 per day}`"),
        ("wait: 5 min", "wait: 4-5 min", "decided, not uncertain: write one value"),
        ("bays: 2}", "bays: 2-3}", "decided, not uncertain: write one value"),
        ("charge_time: 3 h", 'charge_time: "2,5 h"', "The decimal sign is a point"),
    ],
)
def test_a_value_that_was_meant_otherwise_has_a_hint(old, new, hint):
    assert hint in str(ScenarioError(faults_of(changed((old, new)))))


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("x" * 100_000, "x" * 57 + "..."),
        ("a\x1b[31mb\nc\u202e", "a\\x1b[31mb\\nc\\u202e"),
        ("Zürich 5 %", "Zürich 5 %"),
    ],
)
def test_text_of_a_file_is_shown_short_on_one_line_and_with_escapes(text, shown):
    assert echo(text) == shown


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("kits: 4", "kits: " + "9" * 310),
        ("wait: 5 min", "wait: " + "9" * 900_000 + " min"),
        ("100 %", "9" * 900_000 + " %"),
        ("kits: 4", '"' + "k" * 900 + '": 4'),
        ("pre_use_check: 1 min", "pre_use_check: {low: 1 min, high: " + "9" * 900_000 + " min}"),
        ("roles:\n", "roles:\n" + "  x: {}\n" * 40_000),
        ("Two rooms", "{a: " * 100_000),
        ("Two rooms", "- " * 400_000),
        # a comma that lacks is looked for with a pattern, for half a minute in so long a line
        ("pre_use_check: 1 min", "pre_use_check: [" + "1 min, " * 20_000 + "a: b c: d"),
    ],
    ids=range(9),
)
def test_what_is_far_too_long_is_a_short_fault(old, new):
    assert len(str(ScenarioError(faults_of(changed((old, new)))))) < 2_000


@pytest.mark.parametrize("name", ["/dev/zero", "pipe", ".", "none.yaml", "x" * 5_000, "a\0b"])
def test_what_is_no_ordinary_file_is_a_fault_at_once(tmp_path, name):
    """A pipe that nobody writes to would be waited for; the device would be read for ever."""
    import os

    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(ScenarioError, match="cannot be read"):
        load_scenario(tmp_path / name)
    log = changed(
        ("arrivals: {baseline: 1 per day, initial_census: 1}", f"entries: {{from: '{name}'}}")
    )
    with pytest.raises(ScenarioError):
        scenario_from_text(log, folder=tmp_path)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (BASE.encode("utf-16"), "is not plain text in UTF-8"),
        (BASE.encode("utf-16-le"), "is not plain text"),
        (BASE.replace("Two", "Zwölf").encode("latin-1"), "yaml:1: is not plain text in UTF-8"),
        (b"PK\x03\x04" + bytes(range(256)), "in a spreadsheet, choose CSV in UTF-8"),
        (bytes(range(1, 32)) * 50, "is not plain text"),
    ],
    ids=range(5),
)
def test_another_encoding_is_named_and_the_only_fault(tmp_path, data, words):
    path = tmp_path / "ward.yaml"
    path.write_bytes(data)
    with pytest.raises(ScenarioError) as error:
        load_scenario(path)
    (fault,) = error.value.faults
    assert words in str(fault)


@pytest.mark.parametrize("end", ["\r\n", "\r"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_line_ends_and_a_byte_order_mark_change_nothing(tmp_path, end, mark):
    path = tmp_path / "ward.yaml"
    path.write_bytes(mark + BASE.replace("\n", end).encode())
    assert load_scenario(path).settings == scenario_from_text(BASE).settings
