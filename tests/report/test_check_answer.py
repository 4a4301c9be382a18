"""A check: doubts first, the average workload against the stock, and what the file says."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from surge_sim.cautions import CAUTION, CAUTION_IN_SHORT
from surge_sim.equipment.average_load import expected_load
from surge_sim.report.check_answer import check_answer, check_json
from surge_sim.report.document import Answer, Heading, Remark, Table
from surge_sim.report.rounding import about
from surge_sim.report.scenario_words import spread_words
from surge_sim.report.terminal import render
from surge_sim.scenario.advice import nobody_wipes
from surge_sim.scenario.load import Scenario, load_scenario, scenario_from_text
from tests.conftest import ROOT
from tests.scenario.base import BASE, changed

SHIPPED = sorted((Path(__file__).parents[2] / "scenarios").glob("*.yaml"))

#: a scenario that uses every feature at once; its numbers are invented
EVERYTHING = changed(
    (
        "arrivals: {baseline: 1 per day, initial_census: 1}",
        """\
arrivals:
  baseline: {low: 1 per day, high: 2 per day}
  initial_census: 1
  wave: {extra_at_peak: 3 per day, peak: 5 d, width: 2 d}
  epidemic:
    {population: 9000, reproduction_number: 2, latent: 3 d, infectious: 5 d, admitted: 1 %}
  clusters: [{patients: 3, at: 2 d, within: 6 h, patient_class: ward}]
  days_of_week: {sunday: 0.5}""",
    ),
    (
        "{count: 2, air_changes: 12 per h}",
        "{count: 2, air_changes: 12 per h, when_full: divert, terminal_clean: "
        "{role: cleaner, when: with a kit, room_time: 20 min}}",
    ),
    (
        "    entries: {nurse: 20 per day}",
        "    entries: {nurse: 20 per day}\n"
        "    urgent: {per_patient: 0.1 per day, team: 3, role: nurse}",
    ),
    (
        "  nurse: {room_time: 5 min}",
        "  nurse: {room_time: {shape: lognormal, median: 3 min, p90: 11 min}, kit_share: 90 %, "
        "patients_per_wearer: 2}\n  cleaner: {room_time: {values: [3 min, 5 min]}}",
    ),
    (
        "kit: {pre_use_check: 1 min, don: 2 min, doff: 2 min, levels: [{run_time: 8 h}]}",
        """\
policy:
  bundled_care: {entries: 60 %, room_time: 150 %, roles: [nurse]}
  maximum_wait: 30 min
  urgent_maximum_wait: 5 min
  after_maximum_wait: postponed
  kit: held for a shift
  reserved_for_urgent: 1
kit:
  pre_use_check: 1 min
  don: 2 min
  doff: 2 min
  recheck: {}
  single_use_hoods: yes
  levels:
    - {flow: 180 L/min, run_time: 8 h}
    - {flow: 200 L/min, run_time: 6 h, further_life: 20 %}
filters:
  prefilter_life: {shape: weibull, mean: 80 h, cv: 30 %}
  he_filter_life: 600 h
  prefilter_change: 4 min
  he_filter_turnaround: 2 h
failures:
  {blower_run_between_failures: 30 d, repair_time: 2 d, hood_damage: 1 %, tube_damage: 1 %}""",
    ),
    (
        "low_battery_alarm: 10 min}",
        "low_battery_alarm: 10 min, age: {ages: [1 d, 700 d], fade_per_year: 5 %}}\n"
        "charging: {partial_charge_at_reissue: no, rounds_every: 2 h, charge_below: 80 %}",
    ),
    (
        "cleaning: {by: wearer, wipe_down: 4 min, contact_time: 2 min, drying_time: 10 min}",
        """\
cleaning:
  by: central
  rounds: [06:00, 18:00]
  turnaround: 4 h
supplies:
  hoods: {spare: 20, reorder_point: 9, order_quantity: 20, lead_time: 2 d}
  tubes: {spare: 1}
timeline:
  - {what: power outage, at: 1 d, lasts: 4 h}
  - {what: cleaning crew absent, at: 1 d, lasts: 4 h}
  - {what: kits recalled, kits: 1, at: 1 d, lasts: 4 h}
  - {what: kits on loan, kits: 1, at: 1 d, lasts: 4 h}
  - {what: late delivery, supply: hoods, at: 1 d, lasts: 4 h}
  - {what: extra patients, arrivals: 150 %, at: 1 d, lasts: 4 h}
  - {what: defective filter lot, life: 50 %, at: 1 d, lasts: 4 h}""",
    ),
    (
        "share_of_surges: 90 %}",
        "share_of_surges: 90 %, urgent: {wait: 2 min, service_level: 99 %}, "
        "most_alarms_per_1000: 5, most_stock_outs: 2}",
    ),
)


def check(scenario: Scenario) -> str:
    """All that a check can say, on one line."""
    return " ".join(render(check_answer(scenario, full=True, sources=True)).split())


def first_words(scenario: Scenario) -> str:
    """The answer to be read aloud."""
    blocks = check_answer(scenario).blocks
    return next(one.text for one in blocks if isinstance(one, Answer))


def workload(scenario: Scenario) -> dict[str, tuple[str, ...]]:
    blocks = check_answer(scenario).blocks
    rows = next(one.rows for one in blocks if isinstance(one, Table))
    return {name: tuple(cells) for name, *cells in rows}


def test_doubts_come_before_the_workload_and_the_caution_last():
    blocks = check_answer(scenario_from_text(BASE)).blocks
    kinds = [type(one) for one in blocks]
    assert kinds[:2] == [Heading, Answer]
    table = kinds.index(Table)
    before = [one.kind for one in blocks[:table] if isinstance(one, Remark)]
    assert set(before) == {"warning"}
    assert "warning" not in [one.kind for one in blocks[table:] if isinstance(one, Remark)]
    assert blocks[-1] == Remark("caution", CAUTION_IN_SHORT)


def test_the_whole_file_and_its_sources_are_read_back_on_request_only():
    scenario = load_scenario(SHIPPED[0])
    short, full, sources = (
        render(check_answer(scenario, **options))
        for options in ({}, {"full": True}, {"sources": True})
    )
    assert ("Equipment" in short, "Equipment" in full, "Equipment" in sources) == (0, 1, 0)
    assert ("invented" in short.partition("\n")[2], "\nSources\n" in sources) == (0, 1)


@pytest.mark.parametrize(
    ("clean", "words"),
    [
        ("when: with a kit, delay: 5 min",
         "Within that time, 5 min after the patient left, nurse in a kit cleans the room "
         "(20 min); it stays closed until both are over."),
        # cleared after 23 min, so there is nothing left to wear a kit for
        ("when: with a kit, delay: 40 min",
         "40 min after the patient left, nurse cleans the room (20 min), which stays closed until "
         "then; no kit is counted for it"),
        ("when: after clearance, delay: 5 min",
         "After that, nurse cleans the room (20 min), which stays closed until then; no kit is "
         "counted"),
    ],
)  # fmt: skip
def test_the_clean_of_a_room_is_said_as_it_is_played(clean, words):
    old = "{count: 2, air_changes: 12 per h}"
    rooms = old[:-1] + ", terminal_clean: {role: nurse, room_time: 20 min, " + clean + "}}"
    text = check(scenario_from_text(changed((old, rooms))))
    assert words in text


def test_a_scenario_with_every_feature_is_read_back_with_every_feature():
    scenario = scenario_from_text(EVERYTHING)
    text = check(scenario)
    for words in (
        "a wave that adds 3 per day",
        "an epidemic (SEIR) in 9,000 people",
        "3 together of class ward",
        "patients who find none free are diverted",
        "Within that time, as soon as the patient left, cleaner in a kit cleans the room (20 min)",
        "a team of 3 (nurse) at once",
        "90 % of the entries need a kit",
        "one named wearer for 2 patients",
        "one of 2 values",
        "A named wearer keeps one kit for the shift",
        "Bundled care (nurse): 60 % of the entries, each 150 % of its room time",
        "Maximum wait: routine entries 30 min, urgent entries 5 min",
        "After that the visit counts as late and is postponed by 1 h",
        "Complete kits reserved for urgent entries: 1",
        "8 h at 180 L/min, 6 h at 200 L/min",
        "full ones leave at rounds every 2 h",
        "a battery is charged when its state of charge is below 80 %",
        "checked again after 4 h of wear",
        "Hoods are discarded after each use",
        "Kits are collected at 06:00, 18:00",
        "HE filter 600 h",
        "A blower fails once per 720 h of running",
        "20 hoods (reorder point 9, quantity 20, lead time 2 d); 1 tube (never ordered)",
        "cleaning crew absent (all)",
        "late delivery (hoods)",
        "defective filter lot (prefilters, 50 % of their life)",
        "99 % of urgent ones 2 min or less",
        "at most 5 alarms per 1,000 entries",
        "arrivals.baseline: 1 per day to 2 per day",
        "No source is given for: arrivals",
    ):
        assert words in text, words
    assert scenario_from_text(scenario.full_form()).settings == scenario.settings


def test_the_arithmetic_is_that_of_the_demand_stage():
    scenario = scenario_from_text(BASE)
    load = expected_load(scenario.settings)
    answer = check_json(scenario)
    assert answer["average_workload"]["patients_total"] == round(load.patients_total, 4)
    most = f"{load.census_peak:.2f} at a time at the peak; 2 rooms"
    assert f"Patients {load.patients_total:.1f} in all, {most}" in check(scenario)
    per_day = f"{load.entries_per_day_mean:.1f} on an average day"
    assert f"Entries {per_day}, {load.entries_per_day_peak:.1f} on the busiest" in check(scenario)
    assert answer["stock"] == {"kits": 4, "batteries": 6, "bays": 2}


LACK = "In the busiest hour average demand exceeds the stock"
#: with so many entries several bays are busy
OFTEN = ("nurse: 20 per day", "nurse: 200 per day")


def test_too_few_kits_for_the_busiest_hour_are_said():
    """One kit less than the busiest hour keeps busy on average."""
    busy = expected_load(scenario_from_text(BASE).settings).kits_busy_in_busiest_hour
    for kits, said in ((int(busy), True), (int(busy) + 1, False)):
        scenario = scenario_from_text(changed(("kits: 4", f"kits: {kits}")))
        text = first_words(scenario)
        assert (f"{busy:.2f} kits ({kits} in stock)" in text) is said
        assert (LACK in text) is said
        name = "Kits: check, wear, clean"
        assert workload(scenario)[name][1:] == (f"{busy:.2f}", f"{kits}")


@pytest.mark.parametrize(
    ("early", "reason"),
    [("yes", "waits for a bay or is reissued partly charged"), ("no", "waits for a bay")],
)
def test_bays_that_cannot_charge_all_at_once_are_no_lack_by_themselves(early, reason):
    """Charging can wait as long as there are batteries to hand out."""
    rule = ("cleaning:", f"charging: {{partial_charge_at_reissue: {early}}}\ncleaning:")
    busy = expected_load(scenario_from_text(changed(OFTEN)).settings).bays_busy_in_busiest_hour
    assert busy > 1
    for bays, said in ((int(busy), True), (int(busy) + 1, False)):
        plenty = ("kits: 4, batteries: 6, bays: 2", f"kits: 20, batteries: 20, bays: {bays}")
        text = first_words(scenario_from_text(changed(OFTEN, rule, plenty)))
        needed = f"{busy:.3g} bays ({bays} in stock) are needed in the busiest hour"
        assert (f"So that no battery {reason}, {needed}." in text) is said
        assert ("Averages alone do not show that the stock is enough" in text) is not said
        assert ("Averages alone do not show whether the target is met" in text) is said
        assert LACK not in text


def test_kits_and_bays_that_lack_in_the_same_hour_are_one_sentence():
    """Where batteries are charged full anyway; else a bay too few is told apart."""
    few = ("kits: 4, batteries: 6, bays: 2", "kits: 2, batteries: 40, bays: 1")
    for early, told in (("no", True), ("yes", False)):
        rule = ("cleaning:", f"charging: {{partial_charge_at_reissue: {early}}}\ncleaning:")
        scenario = scenario_from_text(changed(OFTEN, rule, few))
        load = expected_load(scenario.settings)
        kits, bays = load.kits_busy_in_busiest_hour, load.bays_busy_in_busiest_hour
        together = f"{LACK}: {kits:.3g} kits (2 in stock), {bays:.3g} bays (1)."
        text = first_words(scenario)
        assert (together in text) is told
        assert ("So that no battery" in text) is not told


@pytest.mark.parametrize(("early", "said"), [("yes", False), ("no", True)])
def test_batteries_in_a_bay_are_there_to_be_taken_where_the_rule_says_so(early, said):
    """More are in use or charging than there are; more than are in use there are."""
    rule = ("cleaning:", f"charging: {{partial_charge_at_reissue: {early}}}\ncleaning:")
    load = expected_load(scenario_from_text(changed(OFTEN)).settings)
    busy, charging = load.batteries_busy_in_busiest_hour, load.bays_busy_in_busiest_hour
    assert busy - charging < int(busy) < busy
    stock = ("batteries: 6", f"batteries: {int(busy)}")
    text = first_words(scenario_from_text(changed(OFTEN, rule, stock)))
    lack, _, at_once = text.partition("So that no battery")
    amount = f"{busy:.3g} batteries ({int(busy)}"
    assert (LACK in lack and amount in lack) is said
    assert (amount in at_once) is not said


CREW = (
    "cleaning: {by: wearer,", "cleaning: {by: crew, crew: [{start: 05:00, end: 14:30, cleaners: 1},"
    " {start: 14:30, end: 23:30, cleaners: 1}],",
)  # fmt: skip
WARNED = "Nobody wipes kits from 00:00 to 05:00, when there are entries"


def weights(*, night: int) -> tuple[str, str]:
    return "room_time: 5 min}", f"room_time: 5 min, hours_of_day: {[night] * 5 + [1] * 19}}}"


def test_hours_of_the_day_with_entries_and_nobody_who_wipes_are_warned_of():
    """From 23:30 to 05:00 nobody is there; from midnight on for whole hours."""
    for changes, warned in (
        ([CREW], True),
        ([CREW, weights(night=0)], False),
        ([CREW, weights(night=1)], True),
        ([], False),
    ):
        scenario = scenario_from_text(changed(*changes))
        assert (WARNED in check(scenario)) is warned
        assert any(WARNED in one for one in check_json(scenario)["warnings"]) is warned


@pytest.mark.parametrize(
    ("shifts", "hours"),
    [
        ("{start: 19:00, end: 07:00, cleaners: 1}", "from 07:00 to 19:00"),
        ("{start: 06:00, end: 22:00, cleaners: 1}", "from 22:00 to 06:00"),
        ("{start: 06:30, end: 08:30, cleaners: 2}, {start: 12:00, end: 20:00, cleaners: 1}",
         "from 09:00 to 12:00 and from 20:00 to 06:00"),
        ("{start: 00:00, end: 24:00, cleaners: 1}", ""),
        ("{start: 06:00, end: 06:00, cleaners: 1}", ""),
        ("{start: 06:00, end: 18:00, cleaners: 1}, {start: 18:00, end: 06:00, cleaners: 0}",
         "from 18:00 to 06:00"),
    ],
)  # fmt: skip
def test_the_hours_without_cleaners_are_those_between_the_shifts(shifts, hours):
    crew = ("cleaning: {by: wearer,", f"cleaning: {{by: crew, crew: [{shifts}],")
    said = nobody_wipes(scenario_from_text(changed(crew)).settings)
    assert said.startswith(f"Nobody wipes kits {hours}, when") if hours else said == ""


OWN_KIT = "Each entry takes a clean kit and returns it afterwards."


@pytest.mark.parametrize(
    ("policy", "role", "words"),
    [
        ("", "", "Routine entries have no maximum wait: they stay until they are served."),
        (
            "{maximum_wait: 20 min}",
            "",
            "Maximum wait: routine entries 20 min. After that the visit leaves this queue and "
            "counts as late; whether and how it is then made is outside this model.",
        ),
        (
            "{urgent_maximum_wait: 5 min}",
            "",
            "Routine entries have no maximum wait: they stay until",
        ),
        (
            "",
            ", maximum_wait: 9 min",
            "Maximum wait: routine entries of nurse a time of their own.",
        ),
    ],
)
def test_what_is_arranged_where_the_file_says_nothing_is_said_too(policy, role, words):
    changes = [("room_time: 5 min}", f"room_time: 5 min{role}}}")]
    if policy:
        changes.append(("kit: {pre_use_check", f"policy: {policy}\nkit: {{pre_use_check"))
    text = check(scenario_from_text(changed(*changes)))
    rules = text.partition("Operating rules - ")[2].partition(" Service target")[0]
    assert rules.startswith(OWN_KIT)
    assert words in rules
    assert ("no maximum wait" in rules) is ("no maximum wait" in words)
    assert OWN_KIT not in check(scenario_from_text(EVERYTHING))


def test_three_kinds_of_maximum_wait_are_one_list() -> None:
    text = scenario_from_text(
        changed(
            ("room_time: 5 min}", "room_time: 5 min, maximum_wait: 9 min}"),
            (
                "kit: {pre_use_check",
                "policy: {maximum_wait: 20 min, urgent_maximum_wait: 5 min}\nkit: {pre_use_check",
            ),
        )
    )
    assert (
        "Maximum wait: routine entries 20 min, urgent entries 5 min, routine entries of nurse a "
        "time of their own. After that the visit"
    ) in check(text)


def test_urgent_entries_that_never_give_up_are_said():
    urgent = (
        "    entries: {nurse: 20 per day}",
        "    entries: {nurse: 20 per day}\n"
        "    urgent: {per_patient: 0.1 per day, team: 3, role: nurse}",
    )
    said = check(scenario_from_text(changed(urgent)))
    assert "Routine entries and urgent entries have no maximum wait" in said


@pytest.mark.parametrize(
    ("early", "rule"),
    [
        ("yes", "A battery may be reissued with a partial charge, from its bay or while it waits"),
        ("no", "A battery that is due to charge must be fully charged before reissue"),
    ],
)
def test_the_rule_for_batteries_that_are_not_full_is_named(early, rule):
    text = changed(("cleaning:", f"charging: {{partial_charge_at_reissue: {early}}}\ncleaning:"))
    said = check(scenario_from_text(text))
    assert rule in said
    assert (
        f"(charging.partial_charge_at_reissue: {early}). The other rule can change the result much."
        in said
    )


def test_a_missing_price_is_said_with_the_one_that_stands_in_for_it():
    said = check(scenario_from_text(BASE))
    assert (
        "No price is given for some items; invented ones decide what is cheapest: kit 1, battery "
        "0.2, charger 0.3. Write yours under `prices`." in said
    )
    some = BASE + "prices: {kit: 1400, charger: 0}\n"
    assert "cheapest: battery 0.2. Write" in check(scenario_from_text(some))


def test_the_json_is_json_with_the_same_sentences():
    answer = json.loads(json.dumps(check_json(scenario_from_text(EVERYTHING)), allow_nan=False))
    assert answer["caution"] == CAUTION
    assert any("SEIR" in sentence for sentence in answer["sentences"]["arrivals"])
    assert answer["ranges"][0]["words"] == "arrivals.baseline: 1 per day to 2 per day."


def test_a_log_is_read_back_as_a_log(tmp_path):
    (tmp_path / "log.csv").write_text("requested,room_minutes,urgent\n0,5,no\n60,5,yes\n")
    text = changed(
        ("arrivals: {baseline: 1 per day, initial_census: 1}", "entries: {from: log.csv}")
    )
    said = check(scenario_from_text(text, folder=tmp_path))
    assert "the 2 entries recorded in log.csv, 1 of them urgent, are replayed" in said
    assert "Patients" not in said


def test_what_a_log_leaves_unused_is_not_read_back_as_a_rule(tmp_path):
    (tmp_path / "log.csv").write_text("requested,room_minutes,role\n0,5,nurse\n60,5,nurse\n")
    text = changed(
        ("arrivals: {baseline: 1 per day, initial_census: 1}", "entries: {from: log.csv}"),
        (
            "nurse: {room_time: 5 min}",
            "nurse: {room_time: 5 min, patients_per_wearer: 2, don: 3 min, maximum_wait: 7 min}",
        ),
        (
            "kit: {pre_use_check",
            "policy: {bundled_care: {entries: 60 %, room_time: 150 %}}\nkit: {pre_use_check",
        ),
    )
    text += "sources: {arrivals: invented, kit: invented}\n"
    said = check(scenario_from_text(text, folder=tmp_path))
    for unused in ("in the room 5 min", "named wearer", "isolation rooms (AIIR)", "per patient-day",
                   "Bundled care", "arrivals invented"):  # fmt: skip
        assert unused not in said, unused
    for used in (
        "nurse: donning 3 min; maximum wait 7 min.",
        "Not used beside a log: rooms, classes, of roles all but donning, doffing and maximum "
        "wait, policy.bundled_care.",
        "kit invented",
        "Sources are given for what the file does not have: arrivals.",
    ):
        assert used in said, used


def test_warnings_are_shown_where_a_planner_looks():
    text = check(scenario_from_text(changed(("run_time: 8 h", "run_time: 2 h"))))
    assert "NIOSH" in text.partition("Average number in use")[0]


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(30, "30 s"), (59.4, "59 s"), (60, "1 min"), (90, "1.5 min"), (366, "6.1 min"),
     (1_194, "19.9 min"), (1_224, "20 min"), (7_194, "120 min"), (7_200, "2 h"),
     (71_640, "19.9 h"), (73_440, "20 h"), (280_800, "78 h"), (431_999, "120 h"),
     (432_000, "5 d"), (604_800, "7 d"), (1_728_000, "20 d"), (1_768_000, "20 d")],
)  # fmt: skip
def test_lengths_of_time_are_said_with_few_digits(seconds, words):
    assert about(seconds) == words


def test_a_spread_is_said_by_what_was_given():
    scenario = scenario_from_text(
        changed(("room_time: 5 min", "room_time: {shape: gamma, mean: 5 min, cv: 40 %}"))
    )
    assert spread_words(scenario.settings.roles["nurse"].room_time) == (
        "mean 5 min (standard deviation 40 % of it)"
    )


def told(scenario: Scenario) -> str:
    """Return the words of a check, without its lines."""
    return " ".join(render(check_answer(scenario)).split())


def test_a_check_says_how_the_surge_begins_and_which_rules_are_played(tmp_path):
    """Every rule whose other choice may change a stock by a twentieth or more has its words."""
    scenario = load_scenario(ROOT / "scenarios" / "rule_out_unit.yaml")
    start = "Surge 14 d from Monday 2031-03-03 07:00. All is clean and charged then, which flatters"
    assert start in told(scenario)
    plain = check(scenario)
    changes = {
        "battery longest on the shelf": {"batteries.issued": "fullest"},
        ", full;": {"charging.partial_charge_at_reissue": "yes"},
        "exponential end of charge": {"batteries.end_of_charge": "straight"},
        "no failures": {"failures.charger_time_between_failures": "400 d"},
        "kit per entry": {"policy.kit": "held for a shift"},
        "no rounds": {"roles.nurse.rooms_per_round": 3},
        "late by wait": {"target.late_by": "delay"},
        "All is clean": {"run_in": "7 d"},
    }
    for said, change in changes.items():
        assert said in plain
        assert said not in check(scenario.changed(change))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({}, "measure it (`carrying`); failures of equipment (none in the file) Target"),
        ({"carrying": {"fetch": "1 min"}}, "Not counted failures of equipment (none in the file) "),
        ({"failures.charger_time_between_failures": "400 d"}, "failures of blowers and batteries"),
        ({"cleaning.by": "crew", "cleaning.crew": [{"start": "07:00", "end": "07:00",
                                                    "cleaners": 1}]},
         "(none in the file); cleaners (`run` does) Target"),
    ],
)  # fmt: skip
def test_what_the_averages_leave_out_is_on_the_screen(change, words):
    scenario = load_scenario(ROOT / "scenarios" / "rule_out_unit.yaml")
    assert words in told(scenario.changed(change) if change else scenario)


@pytest.mark.parametrize(("count", "wait"), [(4, True), (6, False)])
def test_a_peak_above_the_rooms_is_said_to_make_patients_wait(count, wait):
    """On average 4.92 patients are present at the peak."""
    scenario = load_scenario(ROOT / "scenarios" / "rule_out_unit.yaml")
    said = told(scenario.changed({"rooms.count": count}))
    assert "23.6 in all, 4.92 at a time at the peak;" in said
    assert (f"{count} rooms: some must wait" in said) is wait


def test_a_run_in_that_is_too_short_for_its_own_start_is_told_of():
    scenario = load_scenario(ROOT / "scenarios" / "rule_out_unit.yaml")
    long, short = (
        told(scenario.changed({"run_in": days, "stock.batteries": 90})) for days in ("14 d", "1 d")
    )
    assert "in use at the start after 14 d of ordinary demand" in long and "a longer" not in long
    assert "a longer `run_in` would" in short


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_a_file_with_its_defaults_written_out_draws_no_other_warning(path, tmp_path):
    scenario = load_scenario(path)
    for name, data in scenario.input_bytes.items():
        (tmp_path / name).write_bytes(data)
    (tmp_path / "full.yaml").write_text(scenario.full_form(), encoding="utf-8")
    full = load_scenario(tmp_path / "full.yaml")
    assert len(check_json(full)["warnings"]) == len(check_json(scenario)["warnings"])


def test_a_section_without_a_source_is_a_warning_for_programs_too():
    scenario = scenario_from_text(BASE)
    [said] = [one for one in check_json(scenario)["warnings"] if one.startswith("No source")]
    assert said in check(scenario)


def test_a_log_is_not_told_of_the_run_in_that_it_cannot_have(tmp_path):
    (tmp_path / "log.csv").write_text("requested,room_minutes\n0,20\n")
    arrivals = "arrivals: {baseline: 1 per day, initial_census: 1}"
    text = changed((arrivals, "entries: {from: log.csv}"))
    (tmp_path / "log.yaml").write_text(text)
    said = check(load_scenario(tmp_path / "log.yaml"))
    assert "flatters the first" in said and "`run_in`" not in said
    assert "`run_in` avoids that" in check(scenario_from_text(BASE))


def test_prices_of_nothing_and_single_things_are_read_back_in_whole_sentences():
    said = check(
        scenario_from_text(
            changed(
                ("stock:", "prices: {currency: euros, kit: 0, battery: 0, charger: 0}\nstock:"),
                ("count: 2, air", "count: 1, air"),
                ("nurse: {room_time: 5 min}", "nurse: {room_time: 5 min, patients_per_wearer: 1}"),
                ("by: wearer,", "by: wearer, places: 1,"),
            )
        )
    )
    assert "Price of one more" not in said
    assert "1 airborne infection isolation room (AIIR)" in said
    assert "one named wearer for 1 patient, shifts" in said
    assert "wipes the kit down at 1 place, " in said
