"""Words of an exercise that its screens, sheets and pages share."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import timedelta

from surge_sim.drill.orders import Order
from surge_sim.drill.outcome import Stretch
from surge_sim.drill.tree import Branch, EntryStory
from surge_sim.engine.log import Event, Kind, Missing, events_of
from surge_sim.equipment.situation import Situation
from surge_sim.equipment.supplies import HOODS, LARGE_HOODS, SUPPLY_NAMES, TUBES
from surge_sim.report.equipment_event_words import charged_words
from surge_sim.report.event_words import first_in_line_words, words_of
from surge_sim.report.phrases import change_named
from surge_sim.report.rounding import about, counted, minutes, percent
from surge_sim.scenario.exercise import Choices, Exercise
from surge_sim.scenario.timeline import Change
from surge_sim.units import DAY_S, duration_text, share_text

#: those on clean kits are counted, for a kit that comes back may bring its own
PARTS = "Parts, on clean kits and in the box"
ON_ORDER = "On order"
#: stands above a board at a decision
BEFORE_NEWS = "The board, just before the news:"
#: behind a path with a choice that needs a permission, and what it means
MARK = "*"
MARKED = (
    f"{MARK}: with a choice that needs a permission; manufacturer's instructions and local rules "
    "decide whether it may be made at all."
)
#: not shown on the board while there is none of them
IF_ANY = (
    "kits_reserved", "kits_without_hood", "kits_without_tube", "kits_out", "kits_recalled",
    "batteries_out",
)  # fmt: skip
#: whoever and whatever works, whose number is said even if it is 0
AT_WORK = ("cleaners", "bays_charging")
#: what staff see, in groups, with the names of its numbers in `Seen`
BOARD: dict[str, dict[str, str]] = {
    "Kits": {
        "kits_ready": "ready on the shelf",
        "kits_reserved": "of these kept for urgent entries",
        "kits_without_hood": "clean, without a hood",
        "kits_without_tube": "clean, without a tube",
        "kits_in_use": "in use",
        "kits_waiting_for_wipe": "waiting for a wipe-down",
        "kits_in_wipe_down": "being wiped down",
        "kits_drying": "in contact or drying time",
        "kits_out": "out for a repair or a filter",
        "kits_recalled": "recalled, each with its battery",
        "cleaners": "cleaning staff on duty",
    },
    "Batteries": {
        "batteries_on_shelf": "on the shelf",
        "batteries_in_use": "in use",
        "batteries_cooling": "cooling",
        "batteries_waiting_for_bay": "waiting for a bay",
        "batteries_in_bay": "in a bay",
        "batteries_out": "failed, not yet replaced",
        "bays_charging": "charger bays that work",
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


def board_rows(exercise: Exercise, branch: Branch, place: int) -> tuple[tuple[str, str], ...]:
    """Return what staff see, a line for each group: ``Kits``, ``2 ready on the shelf, 4 in use``.

    What there is none of is left out, but for the first of a group and for what is at work.

    Parameters
    ----------
    exercise : Exercise
        What is played.
    branch : Branch
        The stretch that is looked at.
    place : int
        Which of its looks.
    """
    seen = branch.seen.at(place)
    lines: dict[str, list[str]] = {}
    working = {BOARD[group][name] for group in BOARD for name in AT_WORK if name in BOARD[group]}
    for group, words, value in board(seen):
        if value.split()[0] == "0" and group in lines and words not in working:
            continue
        lines.setdefault(group, []).append(f"{value} {words}")
    if not seen["at_door"]:
        lines["At the door"] = ["nobody waits"]
    rows = tuple((group, ", ".join(said)) for group, said in lines.items())
    if not reorders(exercise):
        return rows
    return *rows, (ON_ORDER, orders_words(exercise, branch.orders[place]))


def reorders(exercise: Exercise) -> bool:
    """Say whether any part is ever ordered."""
    shelf = exercise.scenario.settings.supplies
    parts = shelf.hoods, shelf.large_hoods, shelf.tubes, shelf.prefilters, shelf.he_filters
    return any(one is not None and one.reorder_point is not None for one in parts)


def orders_words(exercise: Exercise, orders: Sequence[Order]) -> str:
    """Say what is on order: ``400 hoods, due day 9, Sun 08:00``."""
    start = exercise.scenario.settings.start
    said = [
        f"{one.amount:,} {SUPPLY_NAMES[one.supply]}, due day {one.due_s // DAY_S + 1}, "
        f"{start + timedelta(seconds=one.due_s):%a %H:%M}"
        for one in orders
    ]
    return "; ".join(said) or "nothing"


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


def path_named(choices: Choices) -> str:
    """Name a path by the numbers of its choices: ``2-1-3``."""
    return "-".join(str(chosen + 1) for chosen in choices)


def path_marked(exercise: Exercise, choices: Choices) -> str:
    """Name a path, marked where one of its choices needs a permission: ``2-1-3*``."""
    made = zip(exercise.moments, choices)  # noqa: B905  the first choices of a path are one, too
    needs = any(moment.choices[chosen].needs_permission for moment, chosen in made)
    return f"{path_named(choices)}{MARK if needs else ''}"


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


#: of fewer entries no share is told: one more or less moves it by 5 % or more
_FEWEST_FOR_A_SHARE = 20


def stretch_words(exercise: Exercise, branch: Branch) -> str:
    """Say what came of a stretch, as far as it was known at its end."""
    found, target = branch.stretch, exercise.scenario.settings.target
    wait = duration_text(target.wait)
    if not found.came:
        return " ".join(("Nobody came to the door.", *_busy_words(found)))
    # a few are known to be late before their wait is over, none the other way round
    in_time = found.came - found.late
    said = [
        f"{counted(found.came, 'entry', 'entries')} came to the door; {in_time:,} of them waited "
        f"{wait} or less for a kit."
    ]
    if found.came >= _FEWEST_FOR_A_SHARE and target.late_by == "wait":
        asked = share_text(target.service_level)
        said.append(f"That is {percent(in_time / found.came)}; the service target is {asked}.")
    if found.late:
        said.append(
            f"Late: {found.late}; of these {found.late - found.unserved} waited longer, "
            f"{found.unserved} left the queue."
        )
    if found.late or found.urgent_late:
        own = target.urgent
        by = "" if own is None else f" by their own target of {duration_text(own.wait)}"
        said.append(f"Urgent entries late{by}: {found.urgent_late}.")
    if found.unserved:
        said.append(f"{OUTSIDE}.")
    if found.waiting:
        said.append(f"{found.waiting} still wait{'s' if found.waiting == 1 else ''}.")
    if found.waited_s:
        longest, waited = minutes(found.longest_s / 60), about(found.waited_s, longest="h")
        said.append(f"Longest wait for a kit {longest}; {waited} of waiting in all.")
    said += _busy_words(found)
    if branch.to_s > exercise.file.length and found.waiting:
        more = duration_text(branch.to_s - exercise.file.length)
        said.append(f"The simulation runs {more} more to serve those who wait at the end.")
    return " ".join(said)


#: what is not said of a visit that left the queue
OUTSIDE = (
    "Whether and how a visit that left the queue is then made is outside this model, unless the "
    "rules postpone it"
)


def _busy_words(found: Stretch) -> Iterator[str]:
    """Say what waiting for a free wearer came to, which no count of late entries holds."""
    if found.delayed:
        entries = counted(found.delayed, "entry", "entries")
        yield (
            f"Not counted as waiting for a kit: {entries} began later because the wearer was "
            "busy (waiting for a kit counts as busy), "
            f"{about(found.delayed_s, longest='h')} of all wearers together."
        )


def story_words(exercise: Exercise, story: EntryStory) -> list[tuple[str, str]]:
    """Tell the story of one entry: clock time and what happened."""
    demand, entry = story.situation.demand, story.entry
    start = exercise.scenario.settings.start
    role = demand.role_names[demand.role[entry]] if demand.role_names else "entry"
    urgent = ", urgent" if demand.urgent[entry] else ""
    which = (
        f"the longest wait for a kit, {minutes(story.waited_s / 60)}, of those who came and had "
        "gone again"
        if story.waited_s
        else "nobody who came and had gone again had to wait for a kit"
    )
    rows = [("Role", f"{role}{urgent}; {which}")]
    waits = _lines_joined(story)
    for event in events_of(story.events):
        clock = f"{start + timedelta(seconds=event.second):%a %H:%M:%S}"
        if event.kind == Kind.JOINS_LINE and event.second in waits:
            rows.append((clock, _behind_words(story, event.second)))
        rows += [(clock, said) for said in _event_words(event, story.situation)]
    return rows


def _behind_words(story: EntryStory, second: int) -> str:
    """Say how many are served before an entry that joins the line."""
    ahead = story.ahead.get(second, 0)
    if not ahead:
        return "waits in line"
    which = "urgent " if story.situation.demand.urgent[story.entry] else ""
    others = f"{which}entry" if ahead == 1 else f"{which}entries"
    return f"waits in line behind {ahead} other {others}"


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


def _event_words(event: Event, situation: Situation) -> Iterator[str]:
    """Say what happens to an entry, with less about parts than `explain` says."""
    if event.kind == Kind.TAKES_KIT:
        yield f"takes a clean kit with a battery, {charged_words(event, situation)}"
    elif event.kind == Kind.TAKES_BATTERY:
        yield f"puts another battery into the kit, {charged_words(event, situation)}"
    elif event.kind == Kind.WEARER_BUSY:
        yield "is due, but its wearer is busy elsewhere"
    elif event.kind == Kind.FIRST_IN_LINE:
        endless = situation.unit.rules.endless
        no_kit = bool(event.value("missing") & Missing.BLOWER)
        left_out = {bit for bit, supply in _OF_KIT.items() if no_kit and endless[supply]}
        words = {bit: said for bit, said in _MISSING.items() if bit not in left_out}
        yield first_in_line_words(event, words)
    else:
        yield from (one.said for one in words_of(event, situation) if one.sort == "entry")
