"""The numbers of a run's screen, looked for in its words and held against the second accounts."""

from __future__ import annotations

import re
from typing import Any

import pandas as pd

from tests.shadow.causes import cause_of_waiting
from tests.shadow.cells import ratio
from tests.shadow.run_books import ALARMS, Books, quantile
from tests.shadow.run_summary import interval

UNITS = {"s": 1 / 60, "min": 1.0, "h": 60.0, "d": 1_440.0, "%": 0.01, "": 1.0}
#: a number, and its limits in brackets where they are shown
N = r"((?:under |over )?[\d.,]*\d|-)"


def said(words: str, expected: Any, unit: str) -> bool:
    """Whether a number in words is the expected one, as it is rounded there."""
    if expected is None or words == "-":
        return expected is None and words == "-"
    size = UNITS[unit]
    digits = words.split()[-1].replace(",", "")
    value = float(digits) * size
    if words.startswith("under "):
        return 0 < expected < value
    if words.startswith("over "):
        return value < expected < 1
    if isinstance(expected, int) and not unit:
        return value == expected
    decimals = len(digits.partition(".")[2])
    # tens and hundreds may be rounded where limits stand beside the number
    zeros = 0 if decimals else len(digits) - len(digits.rstrip("0"))
    last = 10.0 ** (-decimals if decimals else min(zeros, 3)) * size
    # what was written with few digits before may be rounded once more
    return abs(value - expected) <= 0.5 * last + 1e-5 * max(abs(expected), size)


class Screen:
    """One screen, and what on it is not so."""

    def __init__(self, text: str) -> None:
        self.lines = text.splitlines()
        self.flat = re.sub(r"\s+", " ", text)
        self.wrong: list[str] = []

    def look(self, pattern: str, *expected: tuple[Any, str] | None) -> None:
        """Find a sentence and compare its numbers.

        Those that are not shown are passed over, and those of which None is expected.
        """
        found = re.search(pattern, self.flat)
        if found is None:
            self.wrong.append(f"not said: {pattern}")
            return
        for words, wanted in zip(found.groups(), expected, strict=True):
            if words is not None and wanted is not None and not said(words, *wanted):
                self.wrong.append(f"{pattern}: {words}, expected {wanted[0]}")

    def row(self, name: str, cells: dict[str, Any], unit: str, tenth: Any = None) -> None:
        """Compare a row of the table: its mean, its limits, and what a tenth of surges meets."""
        line = next((line for line in self.lines if line.startswith(name)), None)
        if line is None:
            self.wrong.append(f"no row: {name}")
            return
        pattern = rf"{re.escape(name)} +{N}(?: +{N} to {N})?(?: +{N})?$"
        found = re.match(pattern, line)
        expected = (cells["estimate"], cells["low"], cells["high"], tenth)
        if found is None:
            self.wrong.append(f"not a row: {line}")
            return
        for words, value in zip(found.groups(), expected, strict=True):
            if words is not None and not said(words, value, unit):
                self.wrong.append(f"{name}: {words}, expected {value}")

    def label(self, name: str) -> str:
        """Return what is said behind a label, on one line; empty where it is not there."""
        found = re.search(rf"^{name}  +(.*(?:\n {{5,}}.*)*)", "\n".join(self.lines), re.MULTILINE)
        return "" if found is None else " ".join(found[1].split())


def time_words(seconds: int) -> str:
    """Write a time of the target: ``5 min``, ``90 s``."""
    return f"{seconds // 60} min" if seconds % 60 == 0 else f"{seconds} s"


def screen_differences(
    text: str, books: Books, answer: dict[str, Any], tables: dict[str, pd.DataFrame]
) -> list[str]:
    """Return the numbers of the screen that are not those of the second accounts.

    ``answer`` is the summary by the second accounts; the tables are those written, and their own
    tests hold them against the raw rows.
    """
    screen, rows, target = Screen(text), books.surges, books.target
    stock, share = answer["stock"], answer["share_on_target"]
    verdict = {
        "met": "the service target is met: ", "not met": "the service target is NOT met: ",
        "undecided": "it is undecided whether the service target is met: ",
    }  # fmt: skip
    screen.look(
        rf"With {N} kits?, {N} batter(?:ies|y) and {N} charger bays?, {verdict[answer['verdict']]}",
        *((stock[name], "") for name in ("kits", "batteries", "bays")),
    )
    wait = time_words(target.wait)
    asked = f"wait {wait} or less"
    if target.late_by == "delay":
        asked = f"are served {wait} or less later than with ample stock"
    one = f"{100 * target.service_level:g} % of entries {asked}"
    more = [target.urgent, target.most_alarms_per_1000, target.most_stock_outs]
    part = "it was met" if any(one is not None for one in more) else one
    screen.look(
        rf"{part} in {N} of {N} simulated surges; {N} % of surges are asked for",
        (answer["surges_on_target"], ""), (answer["surges"], ""), (target.share_of_surges, "%"),
    )  # fmt: skip
    if part != one:
        _whole_target(screen, target, one)
    screen.look(
        rf"Confidence {N} to {N} % of such surges meet the target \(95 % interval from {N} surges",
        (share["low"], "%"), (share["high"], "%"), (answer["surges"], ""),
    )  # fmt: skip
    tenth = quantile(rows["service_level"].dropna(), 0.1)
    names = {
        "late_by_wait": f"Kit within {wait} (%)",
        "late_by_delay": f"Within {wait} of due time (%)",
    }
    judged = "late_by_delay" if target.late_by == "delay" else "late_by_wait"
    screen.row(names.pop(judged), answer["service_level"], "%", tenth)
    worst = answer["worst_day_service_level"]
    of_days = quantile(rows["worst_day_service_level"].dropna(), 0.1)
    screen.row("the same, worst day (%)", worst, "%", of_days)
    if (rows["late_by_wait"] != rows["late_by_delay"]).any():
        ((other, name),) = names.items()
        screen.row(name, answer[other.replace("late", "service_level")], "%")
    if "urgent_service_level" in answer:
        limit = target.wait if target.urgent is None else target.urgent.wait
        due = " of due time" * (target.late_by == "delay")
        name = f"Urgent within {time_words(limit)}{due} (%)"
        screen.row(name, answer["urgent_service_level"], "%")
    for name, column, cells in (
        ("Hours of waiting", "hours_waited", answer["hours_waited_per_surge"]),
        ("Left the queue,", "unserved", answer["unserved"]["per_surge"]),
    ):
        screen.row(f"{name} per surge", cells, "", float(quantile(rows[column], 0.9)))
    every = books.raw.counts[list(ALARMS.values())].sum(axis=1)
    alarms = interval(ratio("alarms", every, books.each(books.entries), 1_000))
    screen.row("Exits by alarm, per 1,000", alarms, "")
    _waits(screen, answer)
    if rows["wait_max_min"].max() > 0 and answer["surges"] > 1:
        longest = int(rows["surge"][rows["wait_max_min"].argmax()])
        screen.look(rf"longest {N} (?:min|h|d|s) \(surge {N}\)", None, (longest, ""))
    urgent = books.entries[books.entries["urgent"] & books.entries["unserved"].astype(bool)]
    if len(urgent):
        screen.look(rf"\({N} urgent\): not served", (len(urgent) / answer["surges"], ""))
    ends = {"boarded": "boarded and visited", "diverted": "sent elsewhere"}
    some = [name for name in ends if rows[name].any()]
    if some:
        parts = [f"{N} {ends[name]}" if some[1:] else ends[name] for name in some]
        counts = [(rows[name].mean(), "") for name in some]
        screen.look(
            rf"none for {N} of {N} patients per surge: {' and '.join(parts)}",
            (sum(rows[name].mean() for name in some), ""), (rows["patients"].mean(), ""),
            *(counts if some[1:] else ()),
        )  # fmt: skip
    _causes(screen, cause_of_waiting(books))
    _used(screen, tables["consumables"])
    return screen.wrong


def _whole_target(screen: Screen, target: Any, entries: str) -> None:
    promised = f"in {100 * target.share_of_surges:g} % of surges, {entries}"
    if target.urgent is not None:
        promised += (
            f"; {100 * target.urgent.service_level:g} % of urgent ones "
            f"{time_words(target.urgent.wait)} or less"
        )
    if target.most_alarms_per_1000 is not None:
        promised += f"; at most {target.most_alarms_per_1000:g} alarms per 1,000 entries"
    if target.most_stock_outs is not None:
        promised += f"; at most {target.most_stock_outs} stock-outs"
    if screen.label("Service target") != promised:
        screen.wrong.append(f"not said: {promised}")


def _causes(screen: Screen, rows: list[dict[str, Any]]) -> None:
    """Kinds of things with their places: `kits 89 % (in use 60 %, in repair 29 %)`."""
    left = screen.label("Cause of waiting")
    if not left:
        screen.wrong.append("the line of causes is not there")
        return
    shares = {row["cause_of_waiting"]: row["share"] for row in rows}
    if not shares:
        return
    largest = sorted(shares.values(), reverse=True)
    named = 0.0
    for one in left.split(", "):
        words = re.fullmatch(rf"(.*?)(?: \(fixed\))? {N} %", one)
        if words is None:
            screen.wrong.append(f"cause: {one}")
            continue
        share = 1 - named if words[1] == "other" else shares.get(words[1], 0.0)
        named += share
        if not said(words[2], share, "%"):
            screen.wrong.append(f"cause: {one}, expected {share}")
    # from a tenth on, the largest four; what is left is told from 1.5 % on
    for share in largest[:4]:
        if share >= 0.1001 and not any(
            said(number, share, "%") for number in re.findall(rf"{N} %", left)
        ):
            screen.wrong.append(f"cause, {share}: not said")
    if named < 0.98:
        screen.wrong.append(f"causes: {left} are {named} of all")


def _waits(screen: Screen, answer: dict[str, Any]) -> None:
    line = screen.label("Wait for a kit")
    for words, key in {"half": "p50", "9 of 10 at most": "p90", "longest": "max"}.items():
        found = re.search(rf"\b{words} {N} (min|h|d)", line)
        if found is None or not said(found[1], answer["wait_minutes"][key]["estimate"], found[2]):
            screen.wrong.append(f"wait, {words}: {line}")


def _used(screen: Screen, used: pd.DataFrame) -> None:
    line = screen.label("Supplies used")
    if bool(line) != bool(used["enough"].any()):
        screen.wrong.append(f"supplies used: {line}")
    share = used["share_of_surges"].iloc[0]
    ten = round(10 * share, 9) == int(round(10 * share, 9))
    of = f"{10 * share:g} of 10" if ten else f"{100 * share:g} % of"
    if line and not line.startswith(f"in {of} surges no more than "):
        screen.wrong.append(f"supplies used: {line}")
    for row in used.to_dict("records"):
        found = re.search(rf"(?:than|,|and) {N} {row['what']}\b", line)
        if bool(found) != bool(row["enough"]) or (found and not said(found[1], row["enough"], "")):
            screen.wrong.append(f"supplies used, {row['what']}: {line}")
