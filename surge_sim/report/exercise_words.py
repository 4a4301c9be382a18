"""Words of an exercise that its screens, sheets and pages share."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import timedelta

from surge_sim.drill.outcome import Stretch
from surge_sim.drill.tree import Branch, EntryStory
from surge_sim.engine.log import Event, Kind, Missing, events_of
from surge_sim.equipment.case import Case
from surge_sim.equipment.supplies import HOODS, LARGE_HOODS, TUBES
from surge_sim.report.event_words import first_in_line_words, taken_words, words_of
from surge_sim.report.exercise_rules import condition_words
from surge_sim.report.phrases import change_named
from surge_sim.report.rounding import about, counted, minutes, number
from surge_sim.scenario.exercise import Choices, Exercise
from surge_sim.scenario.exercise_file import Choice
from surge_sim.scenario.timeline import Change
from surge_sim.units import DAY_S, duration_text

#: those of clean kits are counted, for a kit that comes back may bring its own
PARTS = "Parts (clean kits included)"
#: what staff see, in groups, with the names of its numbers in `Seen`
BOARD: dict[str, dict[str, str]] = {
    "Kits": {
        "kits_ready": "clean on the shelf",
        "kits_in_use": "in use",
        "kits_waiting_for_wipe": "waiting for a wipe-down",
        "kits_in_wipe_down": "being wiped down",
        "kits_drying": "in contact or drying time",
        "kits_out": "out of service",
    },
    "Batteries": {
        "batteries_on_shelf": "on the shelf",
        "batteries_in_use": "in use",
        "batteries_cooling": "cooling",
        "batteries_waiting_for_bay": "waiting for a bay",
        "batteries_in_bay": "in a bay",
        "batteries_out": "failed, not yet replaced",
    },
    "At the door": {"at_door": "waiting in line", "longest_wait_s": "longest wait"},
    "Rooms": {"in_rooms": "patients in rooms", "boarded": "boarded elsewhere"},
    PARTS: {
        "hoods": "hoods",
        "tubes": "tubes",
        "prefilters": "prefilters",
        "he_filters": "HE filters",
        "large_hoods": "large hoods",
    },
}


def board(seen: Mapping[str, int]) -> Iterator[tuple[str, str, str]]:
    """Yield what staff see: group, name and number; what cannot be is left out."""
    for group, names in BOARD.items():
        for name, words in names.items():
            if seen[name] < 0:
                continue
            value = minutes(seen[name] / 60) if name.endswith("_s") else f"{seen[name]:,}"
            yield group, words, value


def board_rows(seen: Mapping[str, int]) -> tuple[tuple[str, str], ...]:
    """Return what staff see, a line for each group: ``Kits``, ``2 clean on the shelf, 4 in use``.

    What there is none of is left out, but for the first of a group.
    """
    lines: dict[str, list[str]] = {}
    for group, words, value in board(seen):
        if value.split()[0] == "0" and group in lines:
            continue
        lines.setdefault(group, []).append(f"{value} {words}")
    if not seen["at_door"]:
        lines["At the door"] = ["nobody waits"]
    return tuple((group, ", ".join(said)) for group, said in lines.items())


def when(exercise: Exercise, at_s: int) -> str:
    """Say a moment: the clock time, and the day where the exercise lasts longer than one."""
    start = exercise.scenario.settings.start
    if exercise.file.length <= DAY_S:
        return f"{start + timedelta(seconds=at_s):%H:%M}"
    return f"day {at_s // DAY_S + 1}, {start + timedelta(seconds=at_s):%a %H:%M}"


def decision_named(exercise: Exercise, number_of: int) -> str:
    """Name a decision: ``Decision 2, 18:30: One cleaner``."""
    moment = exercise.moments[number_of]
    return f"Decision {number_of + 1}, {when(exercise, moment.at)}: {moment.name}"


def inject_words(exercise: Exercise, number_of: int) -> str:
    """Say what happens at a decision; empty where it is only told."""
    change = exercise.moments[number_of].inject
    if change is None:
        return ""
    return f"{change_named(change)}, {_lasting(change)}"


def _lasting(change: Change) -> str:
    return "for good" if change.lasts is None else f"for {duration_text(change.lasts)}"


def choice_words(exercise: Exercise, choice: Choice) -> str:
    """Say what a choice changes, from when, for how long and for how much."""
    if choice.does is None:
        said = "nothing changes"
    else:
        lasts = (
            "for good" if choice.does.lasts is None else f"for {duration_text(choice.does.lasts)}"
        )
        said = f"{change_named(choice.does)} from {when(exercise, choice.does.at)}, {lasts}"
    if choice.price:
        return f"{said}; costs {money(exercise, choice.price)}"
    return said


def choice_sentences(exercise: Exercise, choice: Choice) -> str:
    """Say what a choice changes, and its condition."""
    return f"{choice_words(exercise, choice)}. {condition_words(choice)}".rstrip()


def money(exercise: Exercise, amount: float) -> str:
    """Write an amount with its currency."""
    return f"{number(amount)} {exercise.scenario.settings.prices.currency}"


def price_of(exercise: Exercise, choices: Choices) -> float:
    """Add up what choices cost."""
    pairs = zip(exercise.moments, choices, strict=True)
    return sum(moment.choices[chosen].price for moment, chosen in pairs)


def path_named(choices: Choices) -> str:
    """Name a path by the numbers of its choices: ``2-1-3``."""
    return "-".join(str(chosen + 1) for chosen in choices)


def surge_words(exercise: Exercise, surge: int) -> str:
    """Say which surge is played, and how it was chosen."""
    first = exercise.file.other_surges
    how = {
        "typical": f"typical: the middle one of the first {first}, by its share of late entries "
        "with the injects and no decision",
        "hard": f"hard: of the first {first}, nine in ten have as large a share of late entries or "
        "a smaller one, with the injects and no decision",
    }.get(str(exercise.file.surge), "chosen by its number")
    return f"simulated surge {surge} of seed {exercise.file.seed}, {how}"


def stretch_words(exercise: Exercise, branch: Branch) -> str:
    """Say what came of a stretch, as far as it was known at its end."""
    found, target = branch.stretch, exercise.scenario.settings.target
    wait = duration_text(target.wait)
    if not found.came:
        return "Nobody came to the door."
    late = (
        f"{found.late} waited longer than {wait}"
        if found.late
        else f"nobody waited longer than {wait}"
    )
    if found.urgent_late:
        late += f" ({found.urgent_late} of the urgent ones were late)"
    said = [f"{counted(found.came, 'entry', 'entries')} came to the door, {late}."]
    said += _left_words(found)
    if found.waited_s:
        longest, waited = minutes(found.longest_s / 60), about(found.waited_s, longest="h")
        said.append(f"Longest wait {longest}; {waited} of waiting in all.")
    if branch.to_s > exercise.file.length:
        more = duration_text(branch.to_s - exercise.file.length)
        said.append(f"The simulation runs {more} more to serve those who wait at the end.")
    return " ".join(said)


def _left_words(found: Stretch) -> Iterator[str]:
    if found.unserved:
        yield (
            f"{found.unserved} left the queue unserved; what protection was then used is outside "
            "this model."
        )
    if found.waiting:
        yield f"{found.waiting} still wait{'s' if found.waiting == 1 else ''}."


def story_words(exercise: Exercise, story: EntryStory) -> list[tuple[str, str]]:
    """Tell the story of one entry: clock time and what happened."""
    demand, entry = story.case.demand, story.entry
    start = exercise.scenario.settings.start
    role = demand.role_names[demand.role[entry]] if demand.role_names else "entry"
    urgent = ", urgent" if demand.urgent[entry] else ""
    which = (
        f"the longest wait of those who came and are done, {duration_text(story.waited_s)}"
        if story.waited_s
        else "nobody who came and is done had to wait"
    )
    rows = [("Who", f"{role}{urgent}; {which}")]
    waits = _lines_joined(story)
    for event in events_of(story.events):
        clock = f"{start + timedelta(seconds=event.second):%a %H:%M:%S}"
        if event.kind == Kind.JOINS_LINE and event.second in waits:
            rows.append((clock, "waits in line behind others"))
        rows += [(clock, said) for said in _event_words(event, story.case)]
    return rows


def _lines_joined(story: EntryStory) -> set[int]:
    """Return the seconds in which the entry joins the line and is neither served nor the first."""
    events = list(events_of(story.events))
    joins = {event.second for event in events if event.kind == Kind.JOINS_LINE}
    at_once = (Kind.TAKES_KIT, Kind.TAKES_BATTERY, Kind.RENEGES, Kind.FIRST_IN_LINE)
    return joins - {event.second for event in events if event.kind in at_once}


#: what is missing, for a group: a kit is whole to them, and no clean blower is no clean kit
_MISSING = {
    Missing.BLOWER: "a clean kit",
    Missing.HOOD: "a hood",
    Missing.LARGE_HOOD: "a large hood",
    Missing.TUBE: "a tube",
    Missing.BATTERY: "a charged battery",
}
#: parts that come back with a clean kit, unless they are used up
_OF_KIT = {Missing.HOOD: HOODS, Missing.TUBE: TUBES, Missing.LARGE_HOOD: LARGE_HOODS}


def _event_words(event: Event, case: Case) -> Iterator[str]:
    """Say what happens to an entry, with less about parts than `explain` says."""
    if event.kind in (Kind.TAKES_KIT, Kind.TAKES_BATTERY):
        yield taken_words(event, case)
    elif event.kind == Kind.FIRST_IN_LINE:
        endless = case.unit.rules.endless
        no_kit = bool(event.value("missing") & Missing.BLOWER)
        left_out = {bit for bit, supply in _OF_KIT.items() if no_kit and endless[supply]}
        words = {bit: said for bit, said in _MISSING.items() if bit not in left_out}
        yield first_in_line_words(event, words)
    else:
        yield from (one.said for one in words_of(event, case) if one.sort == "entry")
