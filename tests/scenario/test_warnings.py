"""What a planner should look at: each warning alone at its line, and none at its bound."""

from __future__ import annotations

import ast
import inspect
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import pytest

from surge_sim.scenario import advice, doubtful
from surge_sim.scenario.load import Scenario, scenario_from_text
from tests.scenario.base import BASE, changed

STAY = "length_of_isolation: {shape: lognormal, median: 68 h, p75: 97.5 h}"
WAVE = "initial_census: 1, wave: {extra_at_peak: 1 per day, peak: 5 d, width: WIDTH}"
LEVELS = "levels: [{run_time: 8 h}]"
TWO = "levels: [{run_time: 8 h}, {run_time: TIME}]"
WEAK = "state_of_health: [60 %, 80 %]"
CHARGE = "charge_time: 3 h"
NURSE = "nurse: {room_time: 5 min}"
FILTERS = (
    "filters: {prefilter_life: 80 h, he_filter_life: 600 h, prefilter_change: 4 min, "
    "he_filter_turnaround: 2 h}\nstock:"
)
SHIFTS = "{start: 07:00, end: 19:00, cleaners: 0}, {start: 19:00, end: 07:00, cleaners: NUMBER}"
CREW = f"by: crew, crew: [{SHIFTS}]"
LARGE = "supplies: {large_hoods: {spare: 3}}\nstock:"
RECALL = "timeline:\n- {what: kits recalled, kits: NUMBER, at: 1 d, lasts: 1 d}\nstock:"
POSTPONED = "timeline:\n- {what: routine entries postponed, by: TIME, at: 1 d}\nstock:"
SOURCES = "sources: {NAME: invented}\nstock:"


class Slip(NamedTuple):
    """One warning: what is replaced by what, and by what else nothing is warned of."""

    name: str
    old: str
    slip: str
    right: str
    #: what stands on the line that is told
    line: str
    #: place and first words
    told: str

    def scenario(self, right: bool = False) -> Scenario:
        return scenario_from_text(changed((self.old, self.right if right else self.slip)), "ward")


SLIPS = [
    Slip("short run time", "run_time: 8 h", "run_time: 3 h", "run_time: 4 h", "kit:",
         "kit.levels[1].run_time is 3 h: the battery of an approved assembly runs it for at least "
         "4 h (NIOSH publication 2013-146, Metzler & Szalajda, 2013)."),
    Slip("charged in minutes", "charge_time: 3 h", "charge_time: 29 min", "charge_time: 30 min",
         "batteries:",
         "batteries.charge_time is 29 min, less than 30 min: check the number and its unit."),
    # 30 min of 8 h are 6.25 %; the healths repeat over six batteries
    Slip("never issued", CHARGE, f"{CHARGE}, state_of_health: [100 %, 6.2 %]",
         f"{CHARGE}, state_of_health: [100 %, 6.25 %]", "batteries:",
         "batteries.minimum_run_time is 30 min: 3 of 6 batteries never hold that much"),
    Slip("useless level", LEVELS, TWO.replace("TIME", "29 min"), TWO.replace("TIME", "30 min"),
         "kit:",
         "kit.levels[2].run_time is 29 min: no battery holds the minimum run time, 30 min"),
    # 80 % of 37 min are 29.6 min
    Slip("useless level of weak ones", f"{LEVELS}}}\nbatteries: {{",
         f"{TWO.replace('TIME', '37 min')}}}\nbatteries: {{{WEAK}, ",
         f"{TWO.replace('TIME', '38 min')}}}\nbatteries: {{{WEAK}, ", "kit:",
         "kit.levels[2].run_time is 37 min: no battery holds the minimum run time, 30 min"),
    Slip("rule by default", "issued: fullest, ", "", "issued: any usable, ", "batteries:",
         "batteries.issued is not set: longest on the shelf is assumed. Another rule can"),
    Slip("charge curve", CHARGE, f"{CHARGE}, end_of_charge: straight, constant_current_time: 81 %",
         f"{CHARGE}, end_of_charge: straight, constant_current_time: 80 %", "batteries:",
         "batteries.constant_current_time is above `batteries.constant_current_to`: charging"),
    Slip("unused way", "by: wearer", "by: wearer, turnaround: 2 h", "by: wearer, places: 2",
         "cleaning:", "cleaning.turnaround is not used, because cleaning is by wearer."),
    Slip("empty crew", "by: wearer", CREW.replace("NUMBER", "0"), CREW.replace("NUMBER", "1"),
         "cleaning:", "cleaning.crew has no cleaners: no kit is ever wiped down."),
    Slip("limit", "stock:", "limits: {kits: 3}\nstock:", "limits: {kits: 4}\nstock:", "limits:",
         "limits.kits is below the stock in hand (4)."),
    Slip("no kits", "kits: 4", "kits: 0", "kits: 1", "stock:",
         "stock.kits is 0: nobody gets a kit"),
    Slip("few batteries", "batteries: 6", "batteries: 3", "batteries: 4", "stock:",
         "stock.batteries is 3 for 4 kits: not every kit has a battery."),
    Slip("no bays", "bays: 2", "bays: 0", "bays: 1", "stock:",
         "stock.bays is 0: no battery is ever charged again."),
    Slip("reserve", "stock:", "policy: {reserved_for_urgent: 4}\nstock:",
         "policy: {reserved_for_urgent: 3}\nstock:", "policy:",
         "policy.reserved_for_urgent leaves no kit of the stock in hand for routine entries."),
    Slip("reserve of the only kit", "stock: {kits: 4",
         "policy: {reserved_for_urgent: 1}\nstock: {kits: 1",
         "policy: {reserved_for_urgent: 1}\nstock: {kits: 2", "policy:",
         "policy.reserved_for_urgent leaves no kit of the stock in hand for routine entries."),
    Slip("large hoods", "stock:", LARGE, LARGE.replace("large_hoods", "hoods"), "supplies:",
         "supplies.large_hoods are on the shelf, and nobody needs one"),
    Slip("no rooms", "count: 2", "count: 0", "count: 1", "rooms:",
         "rooms.count is 0: every patient boards elsewhere."),
    Slip("no rooms, divert", "count: 2", "count: 0, when_full: divert", "count: 1", "rooms:",
         "rooms.count is 0: every patient is diverted."),
    Slip("recall", "stock:", RECALL.replace("NUMBER", "5"), RECALL.replace("NUMBER", "4"),
         "- {what", "timeline[1].kits recalls 5 kits; the stock in hand has 4: all of them leave"),
    Slip("repair", "stock:", "failures: {blower_run_between_failures: 200 h}\nstock:",
         "failures: {blower_run_between_failures: 200 h, repair_time: 2 d}\nstock:", "failures:",
         "failures.repair_time is missing: what failed is there again at once."),
    Slip("no filters", LEVELS, "levels: [{run_time: 8 h}, {run_time: 6 h, further_life: 20 %}]",
         "levels: [{run_time: 8 h}, {run_time: 6 h, further_life: 0 %}]", "kit:",
         "kit.levels give further filter life, but there is no section `filters`."),
    Slip("one level", LEVELS, "levels: [{run_time: 8 h, further_life: 20 %}]", LEVELS, "kit:",
         "kit.levels give further filter life, but there is no section `filters`."),
    Slip("lowest level", f"{LEVELS}}}\n",
         f"levels: [{{run_time: 8 h, further_life: 20 %}}]}}\n{FILTERS.removesuffix('stock:')}",
         f"{LEVELS}}}\n{FILTERS.removesuffix('stock:')}", "kit:",
         "kit.levels[1].further_life is not used: the lowest level has the life itself"),
    Slip("idle role", NURSE, f"{NURSE}\n  idle: {{room_time: 5 min}}", NURSE, "  idle:",
         "roles.idle is a role that never enters a room."),
    Slip("no kit needed", NURSE, "nurse: {room_time: 5 min, kit_share: 0 %}",
         "nurse: {room_time: 5 min, kit_share: 1 %}", "  nurse:",
         "roles.nurse.kit_share is 0 %: this role never needs a kit."),
    Slip("postponed", "stock:", POSTPONED.replace("TIME", "25 h"),
         POSTPONED.replace("TIME", "24 h"), "- {what",
         "timeline[1].by is 25 h: some entries become due after the simulation ends"),
    Slip("run-out", "stock:", "run_out: 4 min\nstock:", "run_out: 5 min\nstock:", "run_out:",
         "run_out is shorter than the target's wait: entries at the end of the horizon are cut"),
    Slip("long run time", "run_time: 8 h", "run_time: 25 h", "run_time: 24 h", "kit:",
         "kit.levels[1].run_time is 25 h, longer than a day: check the number and its unit."),
    # 100,000 s are 27 h 46 min 40 s
    Slip("run time in seconds", "run_time: 8 h", "run_time: 100000 s", "run_time: 86400 s", "kit:",
         "kit.levels[1].run_time is 27.778 h, longer than a day"),
    Slip("stay", STAY, "length_of_isolation: 5 h", "length_of_isolation: 12 h", "    length_of",
         "classes.ward.length_of_isolation is about 5 h, less than half a day: isolation mostly"),
    # four widths of 9 h
    Slip("wave", "initial_census: 1", WAVE.replace("WIDTH", "9 h"), WAVE.replace("WIDTH", "2 d"),
         "arrivals:", "arrivals.wave.width is 9 h, so most of the wave comes within 36 h"),
    Slip("swapped prices", "stock:", "prices: {kit: 140, battery: 240}\nstock:",
         "prices: {kit: 240, battery: 240}\nstock:", "prices:",
         "prices.kit is 140, less than a battery (240): check whether the two are swapped."),
    Slip("swapped small prices", "stock:", "prices: {kit: 0.5, battery: 0.8}\nstock:",
         "prices: {kit: 0.8, battery: 0.5}\nstock:", "prices:",
         "prices.kit is 0.5, less than a battery (0.8): check whether the two are swapped."),
    Slip("free kits", "stock:", "prices: {kit: 0, battery: 2}\nstock:",
         "prices: {kit: 2, battery: 2}\nstock:", "prices:",
         "prices.kit is 0: it costs nothing"),
    Slip("source", "stock:", SOURCES.replace("NAME", "rooom"), SOURCES.replace("NAME", "rooms"),
         "sources:", "sources.rooom names no section of the scenario."),
]  # fmt: skip


@pytest.mark.parametrize("one", SLIPS, ids=lambda one: one.name)
def test_what_a_planner_should_look_at_is_told_at_its_line_and_what_is_at_its_bound_is_not(
    one: Slip,
) -> None:
    (warning,) = one.scenario().warnings
    lines = changed((one.old, one.slip)).splitlines()
    number = next(n for n, line in enumerate(lines, start=1) if line.startswith(one.line))
    assert warning.startswith(f"ward.yaml:{number}: {one.told}")
    assert one.scenario(right=True).warnings == ()


def yields_of(module_source: str) -> dict[int, int]:
    """First and last line of each yield in the looks of a module."""
    names = {look.__name__ for look in advice._LOOKS}
    looks = [
        one for one in ast.parse(module_source).body
        if isinstance(one, ast.FunctionDef) and one.name in names
    ]  # fmt: skip
    inside = [node for look in looks for node in ast.walk(look) if isinstance(node, ast.Yield)]
    return {node.lineno: node.end_lineno or node.lineno for node in inside}


def test_every_warning_that_there_is_has_an_example_here() -> None:
    places = {
        (module.__file__, first): last
        for module in (advice, doubtful)
        for first, last in yields_of(inspect.getsource(module)).items()
    }
    seen: set[tuple[str | None, int]] = set()
    for one in SLIPS:
        for look in advice._LOOKS:
            found: Iterator[doubtful.Warned] = look(one.scenario().settings)
            for _ in found:
                frame = found.gi_frame  # type: ignore[attr-defined]
                file, at = frame.f_code.co_filename, frame.f_lineno
                seen |= {
                    (where, first)
                    for (where, first), last in places.items()
                    if where == file and first <= at <= last
                }
    assert seen == set(places)
    assert len(places) > 20


NO_PARTIAL = "charging: {partial_charge_at_reissue: no}\n"
REISSUE = "timeline: [{what: partial charge at reissue, allowed: ALLOWED, at: 1 d}]\n"
FAILING = "failures: {battery_run_between_failures: 9 h, battery_replacement_time: 1 d}\n"


@pytest.mark.parametrize(
    ("charge", "written", "because"),
    [
        (f"{CHARGE}, state_of_health: [90 %, 80 %]", NO_PARTIAL, "batteries differ in health"),
        (CHARGE, "charging: {partial_charge_at_reissue: no, charge_below: 99 %}\n",
         "a battery may go back to the shelf partly charged"),
        (CHARGE, "charging: {partial_charge_at_reissue: yes}\n",
         "a battery may be reissued with a partial charge"),
        (CHARGE, NO_PARTIAL + REISSUE.replace("ALLOWED", "yes"),
         "a battery may be reissued with a partial charge"),
        (CHARGE, NO_PARTIAL + FAILING, "each battery fails in its own time"),
    ],
)  # fmt: skip
def test_which_battery_is_issued_matters_where_batteries_differ(
    charge: str, written: str, because: str
) -> None:
    text = changed(("issued: fullest, ", ""), (CHARGE, charge)) + written
    (warning,) = scenario_from_text(text).warnings
    assert warning.endswith(f", because {because}. Write the rule that your unit follows.")


def test_where_all_batteries_are_alike_it_does_not_matter_which_one_is_issued() -> None:
    alike = f"{CHARGE}, state_of_health: [90 %, 90 %]"
    text = changed(("issued: fullest, ", ""), (CHARGE, alike)) + NO_PARTIAL
    assert scenario_from_text(text + REISSUE.replace("ALLOWED", "no")).warnings == ()


#: what each way to clean does not look at
UNUSED = [
    ("by: wearer, wipe_down: 4 min, places: 2", ("crew", "rounds", "turnaround")),
    ("by: crew, wipe_down: 4 min, crew: [{start: 07:00, end: 07:00, cleaners: 1}]",
     ("places", "rounds", "turnaround")),
    ("by: central, rounds: [06:00, 18:00], turnaround: 2 h", ("wipe_down", "places", "crew")),
]  # fmt: skip
WRITTEN = {
    "wipe_down": "4 min", "places": "2", "crew": "[{start: 07:00, end: 07:00, cleaners: 1}]",
    "rounds": "[06:00, 18:00]", "turnaround": "2 h",
}  # fmt: skip


@pytest.mark.parametrize(("way", "unused"), UNUSED, ids=["wearer", "crew", "central"])
def test_what_a_way_to_clean_does_not_use_is_told_and_what_it_uses_is_not(
    way: str, unused: tuple[str, ...]
) -> None:
    def warnings(*more: str) -> list[str]:
        written = ", ".join([way, *(f"{name}: {WRITTEN[name]}" for name in more)])
        text = changed(("by: wearer, wipe_down: 4 min", written))
        return [one.split(": ", 1)[1] for one in scenario_from_text(text).warnings]

    assert warnings() == []
    told = warnings(*unused)
    assert len(told) == len(unused)
    for name in unused:
        assert any(one.startswith(f"cleaning.{name} is not used, because") for one in told)


@pytest.mark.parametrize(
    ("rate", "time"),
    [
        ("blower_run_between_failures", "repair_time"),
        ("battery_run_between_failures", "battery_replacement_time"),
        ("charger_time_between_failures", "charger_repair_time"),
    ],
)
def test_a_time_until_what_failed_is_there_again_is_missed(rate: str, time: str) -> None:
    text = f"{BASE}failures: {{{rate}: 40 d}}\n"
    (warning,) = scenario_from_text(text).warnings
    assert f"failures.{time} is missing" in warning


@pytest.mark.parametrize(
    ("old", "new", "idle"),
    [
        ("entries: {nurse: 20 per day}", "entries: {nurse: 20 per day, porter: 1 per day}", False),
        ("entries: {nurse: 20 per day}", "entries: {nurse: 20 per day, porter: 0 per day}", True),
        ("    share: 100 %", "    share: 100 %\n"
         "    urgent: {per_patient: 1 per day, team: 2, role: porter}", False),
        ("count: 2, air", "count: 2, terminal_clean: {role: porter, room_time: 20 min}, air",
         False),
        ("arrivals: {baseline: 1 per day, initial_census: 1}", "entries: {from: log.csv}", False),
    ],
    ids=["visits", "0 per day", "urgent", "cleans rooms", "a log"],
)  # fmt: skip
def test_a_role_is_idle_that_neither_visits_nor_comes_to_emergencies_nor_cleans_rooms(
    tmp_path: Path, old: str, new: str, idle: bool
) -> None:
    """In one class of two; in a log roles are those of its rows."""
    (tmp_path / "log.csv").write_text("requested,room_minutes,role\n5,5,nurse\n")
    other = "  day: {share: 0 %, length_of_isolation: 1 d, entries: {nurse: 1 per day}}\nroles:"
    text = changed(
        (NURSE, f"{NURSE}\n  porter: {{room_time: 5 min}}"), (old, new), ("roles:", other)
    )
    told = [one for one in scenario_from_text(text, "ward", tmp_path).warnings if "roles." in one]
    if idle:
        assert [one.split(": ", 1)[1] for one in told] == [
            "roles.porter is a role that never enters a room."
        ]
    else:
        assert told == []


def test_an_empty_store_is_told_once() -> None:
    text = changed(("kits: 4, batteries: 6, bays: 2", "kits: 0, batteries: 0, bays: 0"))
    (warning,) = scenario_from_text(text).warnings
    assert "stock.kits is 0" in warning


def test_as_many_rooms_as_patients_are_nothing_to_look_at() -> None:
    text = changed(("rooms: {count: 2, air_changes: 12 per h}\n", ""))
    assert scenario_from_text(text).warnings == ()


DAYTIME = "by: crew, crew: [{start: 07:00, end: 19:00, cleaners: 1}]"


def test_hours_without_cleaners_are_those_of_a_log_with_requests_by_the_clock(
    tmp_path: Path,
) -> None:
    """Cleaners from 07:00 to 19:00; the log begins at 20 s past 07:20."""
    (tmp_path / "log.csv").write_text(
        "requested,room_minutes\n2031-01-06T08:00,5\n2031-01-06T20:00:10,5\n"
        "2031-01-06T21:59:50,5\n2031-01-07T02:00,5\n2031-01-07T07:00,5\n2031-01-07T18:59:59,5\n"
    )
    text = changed(
        ("arrivals: {baseline: 1 per day, initial_census: 1}", "entries: {from: log.csv}"),
        ("07:00", "07:20:20"),
        ("by: wearer", DAYTIME),
    )
    settings = scenario_from_text(text, "ward", tmp_path).settings
    assert advice.hours_without_cleaners(settings) == [2, 20, 21]


def test_hours_without_cleaners_are_those_in_which_a_role_visits() -> None:
    """Nurses at 10 only, physicians at 22 too, and porters at any hour, but in no room."""
    nurse, physician = (
        f"[{', '.join('0.5' if hour in hours else '0' for hour in range(24))}]"
        for hours in ((10,), (10, 22))
    )
    text = changed(
        ("{nurse: 20 per day}", "{nurse: 20 per day, physician: 1 per day}"),
        (NURSE, f"nurse: {{room_time: 5 min, hours_of_day: {nurse}}}\n"
         f"  physician: {{room_time: 5 min, hours_of_day: {physician}}}\n"
         "  porter: {room_time: 5 min}"),
        ("by: wearer", DAYTIME),
    )  # fmt: skip
    assert advice.hours_without_cleaners(scenario_from_text(text).settings) == [22]
    always = text.replace(f", hours_of_day: {nurse}", "")
    night = [*range(7), *range(19, 24)]
    assert advice.hours_without_cleaners(scenario_from_text(always).settings) == night
    wearers = scenario_from_text(always.replace("by: crew", "by: wearer")).settings
    assert wearers.cleaning.crew and advice.hours_without_cleaners(wearers) == []


def test_a_source_under_a_former_name_is_told_the_name_that_the_section_has_now() -> None:
    (warning,) = scenario_from_text(f"{BASE}sources: {{disruptions: invented}}\n").warnings
    assert warning.endswith(
        "sources.disruptions names no section of the scenario. It is called `timeline` now."
    )


def test_a_source_of_a_field_is_one_of_its_section() -> None:
    assert scenario_from_text(f"{BASE}sources: {{kit.don: invented}}\n").warnings == ()


def test_warnings_come_in_the_order_of_the_lines() -> None:
    text = changed(("bays: 2", "bays: 0"), ("count: 2", "count: 0"), ("time: 8 h", "time: 3 h"))
    lines = [int(one.split(":")[1]) for one in scenario_from_text(text).warnings]
    assert lines == sorted(lines) and len(set(lines)) == 3


def test_limits_on_one_line_are_told_in_the_order_of_the_items() -> None:
    text = f"{BASE}limits: {{bays: 1, batteries: 5, kits: 3}}\n"
    told = [one.split()[1] for one in scenario_from_text(text).warnings]
    assert told == ["limits.kits", "limits.batteries", "limits.bays"]


@pytest.mark.parametrize(
    ("none", "lent"),
    [
        ("kits: 0, batteries: 6, bays: 2", "kits on loan, kits: 3"),
        ("kits: 4, batteries: 6, bays: 0", "chargers on loan, chargers: 3"),
    ],
)
def test_of_an_item_that_comes_on_loan_it_is_not_said_that_there_is_none(
    none: str, lent: str
) -> None:
    text = changed(("kits: 4, batteries: 6, bays: 2", none))
    assert " is 0: n" in scenario_from_text(text).warnings[0]
    assert scenario_from_text(f"{text}timeline:\n- {{what: {lent}, at: 0 min}}\n").warnings == ()
