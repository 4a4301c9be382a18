"""Files that a scenario names: counts, stays and logs are read, and faults have their line."""

from __future__ import annotations

import hashlib
import pickle

import pytest

from surge_sim.errors import ScenarioError
from surge_sim.report.scenario_words import demand_words
from surge_sim.scenario.load import scenario_from_text
from tests.scenario.base import changed

LOG = changed(("arrivals: {baseline: 1 per day, initial_census: 1}", "entries: {from: log.csv}"))
COUNTS = changed(("{baseline: 1 per day, initial_census: 1}", "{daily_counts: {file: c.csv}}"))
STAYS = changed(
    ("length_of_isolation: {shape: lognormal, median: 68 h, p75: 97.5 h}",
     "length_of_isolation: {file: s.csv, column: los, unit: d}")
)  # fmt: skip


def loaded(text, folder, **files):
    for name, content in files.items():
        (folder / f"{name}.csv").write_text(content, "utf-8")
    return scenario_from_text(text, folder=folder)


def faults_of(text, folder, **files):
    with pytest.raises(ScenarioError) as error:
        loaded(text, folder, **files)
    return error.value.faults


def test_a_log_in_minutes_is_read_and_sorted(tmp_path):
    log = "requested,room_minutes,role,urgent,wearer\n30,5,nurse,no,anna\n0.5,2.5,nurse,yes,\n"
    rows = loaded(LOG, tmp_path, log=log).settings.entries.rows
    assert rows.due_s.tolist() == [30, 1800]
    assert rows.room_s.tolist() == [150, 300]
    assert rows.urgent.tolist() == [True, False]
    assert rows.wearer.tolist() == [-1, 0]
    assert rows.role_names == ("nurse",)
    assert rows.wearer_names == ("anna",)
    assert not rows.due_s.flags.writeable


def test_a_log_in_dates_counts_from_the_start(tmp_path):
    log = "room_minutes,requested\n5,2031-01-06T07:10\n5,2031-01-06 08:00:30\n"
    rows = loaded(LOG, tmp_path, log=log).settings.entries.rows
    assert rows.due_s.tolist() == [600, 3630]
    assert rows.role_names == ("entry",)
    assert rows.wearer.tolist() == [-1, -1]


def test_rows_outside_the_horizon_are_left_out_and_told(tmp_path):
    log = "requested,room_minutes\n2031-01-01,5\n2031-01-07,5\n2031-01-20 07:00,5\n"
    scenario = loaded(LOG, tmp_path, log=log)
    assert len(scenario.settings.entries.rows) == 1
    assert scenario.warnings == (
        "log.csv: 2 of 3 rows lie outside the horizon and are left out, the first on line 2.",
    )


def test_rows_outside_the_horizon_are_told_beside_what_is_wrong_with_others(tmp_path):
    log = "requested,room_minutes\n2031-01-07,5\n2031-02-07,5\n2031-01-08,x\n2031-01-01,5\n"
    assert lines_and_words(LOG, tmp_path, log=log) == [
        (3, "2 of 4 rows lie outside the horizon, from here on."),
        (4, "room_minutes is 'x'."),
    ]


def test_a_log_of_another_year_is_a_fault(tmp_path):
    """The horizon of 14 d begins on 2031-01-06 at 07:00."""
    log = "requested,room_minutes\n2030-01-07,5\n2030-01-08,5\n"
    (fault,) = faults_of(LOG, tmp_path, log=log)
    assert (fault.file, fault.line) == ("log.csv", 2)
    assert fault.found == "has no row inside the horizon."
    assert "from 2031-01-06 07:00 to 2031-01-20 07:00" in fault.right


def test_faults_of_a_log_have_the_file_and_the_line(tmp_path):
    log = "requested,room_minutes,urgent\n1,5,no\n2,5x,no\n3,-1,maybe\n"
    found = [str(fault).splitlines()[0] for fault in faults_of(LOG, tmp_path, log=log)]
    assert found == [
        "log.csv:3: room_minutes is '5x'.",
        "log.csv:4: room_minutes is '-1'.",
        "log.csv:4: urgent is 'maybe'.",
    ]


def test_many_wrong_rows_are_summed_up(tmp_path):
    log = "requested,room_minutes\n" + "1,x\n" * 100
    (fault,) = faults_of(LOG, tmp_path, log=log)
    assert fault.line == 2
    assert fault.right.endswith("99 more like this, on lines 3, 4, 5, 6, 7 and others.")


@pytest.mark.parametrize(
    ("log", "words"),
    [
        ("requested,minutes\n1,5\n", "has no column 'room_minutes'"),
        ("requested;room_minutes\n1;5\n", "has semicolons between columns"),
        ("", "log.csv:1: has no header line"),
        ("requested,room_minutes\n", "has no rows"),
        ("requested,room_minutes\n1,5,6,7\n", "log.csv:2: has 4 values for 2 columns"),
        ("requested,room_minutes\n2031-01-06T07:10Z,5\n", "without a zone"),
        ("requested,room_minutes\nnan,5\n", "requested is 'nan'"),
        ("requested,room_minutes\n1,inf\n", "room_minutes is 'inf'"),
        ("requested,room_minutes,requested\n1,5,3\n", "2 columns named 'requested'"),
        ("requested,room_minutes\n1,5\n2,5,6\n", "log.csv:3: has 3 values for 2 columns"),
        ("requested,room_minutes\n1,5\n\n2,5\n", "log.csv:3: is an empty row"),
        ("requested,room_minutes\n1\n", "log.csv:2: has 1 values for 2 columns"),
        ("requested,room_minutes\n1,\n", "room_minutes is ''"),
        ("requested,room_minutes,wait\n1,5,3\n", "has a column 'wait', which does not say minutes"),
        ("requested,room_minutes,wait_s\n1,5,3\n", "Name recorded waits `wait_minutes`"),
        ("requested,room_minutes,wait_minutes\n1,5,-3\n", "log.csv:2: wait_minutes is '-3'"),
        ("requested,room_minutes,wait_minutes\n1,5,3 min\n", "log.csv:2: wait_minutes is '3 min'"),
    ],
)
def test_a_log_that_is_none_is_told(tmp_path, log, words):
    assert words in str(ScenarioError(faults_of(LOG, tmp_path, log=log)))


def test_an_unknown_role_of_a_log_is_a_warning(tmp_path):
    scenario = loaded(LOG, tmp_path, log="requested,room_minutes,role\n1,5,nurze\n")
    assert any("nurze" in warning for warning in scenario.warnings)


def test_daily_counts_by_date_begin_with_the_first_day(tmp_path):
    counts = "date,patients\n2031-01-08,5\n2031-01-06,3\n2031-01-05,9\n"
    scenario = loaded(COUNTS, tmp_path, c=counts)
    assert scenario.settings.arrivals.daily_counts.counts == (3.0, 0.0, 5.0)
    said = "days before the start are left out: 1."
    assert any(said in warning for warning in scenario.warnings)


def test_daily_counts_end_with_the_horizon(tmp_path):
    """What comes later is no patient of the surge, and is not said to be one."""
    text = COUNTS.replace("horizon: 14 d", "horizon: 36 h")
    halved = [
        text.replace("c.csv", f"c.csv, share: 50 %, exact: {exact}") for exact in ("no", "yes")
    ]
    for exact, said in zip(halved, ("on average 3 over 2 days", "exactly 3 over 2"), strict=True):
        scenario = loaded(exact, tmp_path, c="day,patients\n1,5\n2,1\n3,40\n")
        assert scenario.settings.arrivals.daily_counts.counts == (5.0, 1.0)
        assert said in " ".join(demand_words(scenario.settings))
    odd = loaded(halved[1], tmp_path, c="day,patients\n1,5\n")
    assert "exactly 2 over 1 day from" in " ".join(demand_words(odd.settings))
    later = loaded(text, tmp_path, c="day,patients\n3,40\n")
    assert later.settings.arrivals.daily_counts.counts == ()
    assert any(
        "no day lies inside the horizon, so it brings no patients" in one for one in later.warnings
    )


def test_daily_counts_by_number_begin_with_day_1(tmp_path):
    scenario = loaded(COUNTS, tmp_path, c="day,patients\n1,3\n3,5.5\n")
    assert scenario.settings.arrivals.daily_counts.counts == (3.0, 0.0, 5.5)


@pytest.mark.parametrize(
    ("counts", "words"),
    [
        ("date,patients\n2031-01-06,3\n2031-01-06,4\n", "c.csv:3: a second row for the day"),
        ("date,patients\n06.01.2031,3\n", "c.csv:2: date is '06.01.2031'"),
        ("day,patients\n0,3\n", "c.csv:2: day is '0'"),
        ("day,patients\n1,-3\n", "c.csv:2: patients is '-3'"),
        ("when,patients\n1,3\n", "has no column 'day'"),
        ("date,patients\n2030-01-06,3\n", "no day after the start"),
    ],
)
def test_wrong_daily_counts_are_told(tmp_path, counts, words):
    assert words in str(ScenarioError(faults_of(COUNTS, tmp_path, c=counts)))


def test_counts_that_are_read_in_two_ways_are_asked_about(tmp_path):
    """As in the scenario file itself: 1.400 is 1400 in some countries."""
    faults = faults_of(COUNTS, tmp_path, c="day,patients\n1,1.400\n2,1.4\n3,2.125\n")
    assert [(one.line, one.found) for one in faults] == [
        (2, "patients is '1.400'."),
        (4, "patients is '2.125'."),
    ]
    assert "Is it 1400 or 1.4?" in faults[0].right
    assert "Write `2125` or `2.1250`." in faults[1].right
    many = "".join(f"{day},1.{day}00\n" for day in range(1, 8))
    (fault,) = faults_of(COUNTS, tmp_path, c=f"day,patients\n{many}")
    assert fault.line == 2 and "Is it 1100 or 1.1?" in fault.right


def test_stays_become_an_empirical_spread(tmp_path):
    spread = (
        loaded(STAYS, tmp_path, s="id,los\n1,2\n2,0.5\n")
        .settings.classes["ward"]
        .length_of_isolation
    )
    assert spread.shape == "empirical"
    assert spread.values == (172_800, 43_200)


def test_the_files_of_a_scenario_are_known_by_their_bytes(tmp_path):
    content = "id,los\n1,2\n"
    scenario = loaded(STAYS, tmp_path, s=content)
    assert scenario.inputs == {"s.csv": hashlib.sha256(content.encode()).hexdigest()}
    assert scenario.input_bytes == {"s.csv": content.encode()}
    assert pickle.loads(pickle.dumps(scenario)).settings == scenario.settings


def test_the_full_form_names_the_files_and_reads_back_the_same(tmp_path):
    scenario = loaded(STAYS, tmp_path, s="id,los\n1,2\n2,3\n")
    assert "file: s.csv" in scenario.full_form()
    again = scenario_from_text(scenario.full_form(), folder=tmp_path)
    assert again.settings == scenario.settings


def test_a_file_that_is_not_there_and_a_word_too_much_are_told_with_their_line(tmp_path):
    (fault,) = faults_of(STAYS, tmp_path)
    assert fault.line == 9
    text = STAYS.replace("unit: d", "unit: d, shape: gamma")
    (fault,) = faults_of(text, tmp_path, s="id,los\n1,2\n")
    assert "does not go with `file`" in fault.found


def lines_and_words(text, folder, **files):
    return [(fault.line, fault.found) for fault in faults_of(text, folder, **files)]


def test_decimal_commas_between_commas_are_told_by_row(tmp_path):
    (first, second) = faults_of(LOG, tmp_path, log="requested,room_minutes\n1,5,5\n2,6,5\n")
    assert (first.line, second.line) == (2, 3)
    assert "a decimal comma parts a number in two" in first.right


def test_rows_behind_a_quoted_line_break_have_the_right_line(tmp_path):
    """The break within line 2 is no row, so 'x' stands on line 4 and 'y' on line 6."""
    log = 'requested,room_minutes,role\n1,5,"nur\nse"\n2,x,a\n\n3,y,a\n'
    assert lines_and_words(LOG, tmp_path, log=log) == [
        (4, "room_minutes is 'x'."),
        (5, "is an empty row."),
        (6, "room_minutes is 'y'."),
    ]


def test_up_to_a_quote_that_is_left_open_the_rows_are_told(tmp_path):
    log = 'requested,room_minutes\n2,6,7\n1,"5\n3,x\n'
    assert lines_and_words(LOG, tmp_path, log=log) == [
        (2, "has 3 values for 2 columns."),
        (3, "has a quote that is not closed, or closed too early."),
    ]


def test_a_sign_that_does_not_print_is_told_with_its_line(tmp_path):
    log = "requested,room_minutes,role\n1,5,a\n2,5,nur\x1b[31mse\n3,5,a\u202eb\n"
    assert [line for line, _ in lines_and_words(LOG, tmp_path, log=log)] == [3, 4]


@pytest.mark.parametrize("end", ["\r", "\r\n"])
def test_other_line_ends_are_read(tmp_path, end):
    (tmp_path / "log.csv").write_bytes(
        end.join(["requested,room_minutes", "1,5", "2,6", ""]).encode()
    )
    assert len(scenario_from_text(LOG, folder=tmp_path).settings.entries.rows) == 2
    (tmp_path / "log.csv").write_bytes(
        end.join(["requested,room_minutes", "1,5", "2,x", ""]).encode()
    )
    with pytest.raises(ScenarioError, match=r"log.csv:3: room_minutes is 'x'"):
        scenario_from_text(LOG, folder=tmp_path)


@pytest.mark.parametrize(
    "word",
    ["today", "now", "2031", "2031-01", "20310106", "2031-W02-1", "07:35+1", "07:35", "noon", "NaT",
     "2031-01-06T07:35Z", "2031-01-06T07:35+01:00", "2031-02-30", "1850-01-06"],
)  # fmt: skip
def test_only_a_full_date_is_a_time_of_need(tmp_path, word):
    log = f"requested,room_minutes\n2031-01-06T07:35,5\n2031-01-06,5\n{word},5\n"
    assert lines_and_words(LOG, tmp_path, log=log) == [(4, f"requested is '{word}'.")]


@pytest.mark.parametrize(
    ("cell", "found"),
    [
        ("9" * 310, f"room_minutes is '{'9' * 57}...'."),
        ("5" * 10_000_000, "has a value of more than 131,072 characters."),
        (",5" * 1_000_000, "has 1,000,002 values for 2 columns."),
        ("1_0", "room_minutes is '1_0'."),
    ],
    ids=["310 digits", "10 MB", "a million cells", "underscore"],
)
def test_a_cell_that_is_no_number_is_not_shown_whole(tmp_path, cell, found):
    log = f"requested,room_minutes\n1,{cell}\n2,5\n"
    assert lines_and_words(LOG, tmp_path, log=log) == [(2, found)]


def test_a_file_stands_only_where_times_vary(tmp_path):
    (fault,) = faults_of(changed(("bays: 2}", "bays: 2, file: s.csv}")), tmp_path)
    assert fault.found == "stock.file is not known."
    assert "A file may stand where times vary" in fault.right


def test_a_range_is_no_name_of_a_file(tmp_path):
    text = STAYS.replace("s.csv", "{low: 1 h, high: 2 h}")
    assert lines_and_words(text, tmp_path) == [
        (9, "classes.ward.length_of_isolation.file names no file.")
    ]
    text = LOG.replace("log.csv", "{low: 1 h, high: 2 h}")
    assert lines_and_words(text, tmp_path) == [(4, "entries.from is a range.")]
    text = COUNTS.replace("c.csv", "{low: 1 h, high: 2 h}")
    assert lines_and_words(text, tmp_path) == [(4, "arrivals.daily_counts.file names no file.")]


@pytest.mark.parametrize("unit", ["h 30 min", "2 h", "1 h", "hs", "{low: 1 h, high: 2 h}", "h h"])
def test_the_unit_of_a_column_is_a_bare_unit(tmp_path, unit):
    text = STAYS.replace("unit: d", f"unit: {unit}")
    (fault,) = faults_of(text, tmp_path, s="id,los\n1,2\n")
    assert fault.found.startswith("classes.ward.length_of_isolation.unit is ")


def test_a_row_with_too_few_values_is_not_filled_up(tmp_path):
    log = "requested,room_minutes,role,urgent\n1,5,nurse,no\n2,5,nurse\n"
    assert lines_and_words(LOG, tmp_path, log=log) == [(3, "has 3 values for 4 columns.")]
