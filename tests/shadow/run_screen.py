"""The numbers of a run's screen, looked for in its words and held against the second accounts."""

from __future__ import annotations

import re
from typing import Any

import pandas as pd

from tests.shadow.causes import NOTHING, waiting_for
from tests.shadow.cells import ratio
from tests.shadow.run_books import ALARMS, Books, quantile
from tests.shadow.run_summary import interval

UNITS = {"s": 1 / 60, "min": 1.0, "h": 60.0, "d": 1_440.0, "%": 0.01, "": 1.0}
#: a number, and its limits in brackets where they are shown
N = r"((?:under |over )?[\d.,]*\d|-)"
LIMITS = rf"(?: \({N} to {N}\))?"
PERCENT_LIMITS = rf"(?: \({N} to {N} %\))?"
THINGS = {"kit": "kits", "battery": "batteries", "hood": "hoods", "tube": "tubes"}
SHORT = {"battery nearly spent": "battery", "flow too low": "flow", "blower fault": "fault"}


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
        self.flat = re.sub(r"\s+", " ", text)
        self.wrong: list[str] = []

    def look(self, pattern: str, *expected: tuple[Any, str]) -> None:
        """Find a sentence and compare its numbers; limits that are not shown are passed over."""
        found = re.search(pattern, self.flat)
        if found is None:
            self.wrong.append(f"not said: {pattern}")
            return
        for words, (value, unit) in zip(found.groups(), expected, strict=True):
            if words is not None and not said(words, value, unit):
                self.wrong.append(f"{pattern}: {words}, expected {value}")

    def three(self, before: str, cells: dict[str, Any], unit: str = "") -> None:
        """Compare a number with its limits, in one unit."""
        sign = " %" if unit == "%" else ""
        after = PERCENT_LIMITS if unit == "%" else LIMITS
        of = "(?: of all entries)?" if unit == "%" else ""
        names = ("estimate", "low", "high")
        self.look(rf"{before}{N}{sign}{of}{after}", *((cells[name], unit) for name in names))


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
    stock, share = answer["stock"], answer["surges_on_target"]
    screen.look(
        rf"Stock: {N} kits, {N} batteries \({N} spare\), {N} charger bays\.",
        *((stock[name], "") for name in ("kits", "batteries", "spare_batteries", "bays")),
    )
    promised = (
        f"Target: in {100 * target.share_of_surges:g} % of surges, "
        f"{100 * target.share_of_entries:g} % of entries wait {time_words(target.wait)} or less"
    )
    if target.urgent is not None:
        promised += (
            f"; {100 * target.urgent.share_of_entries:g} % of urgent ones "
            f"{time_words(target.urgent.wait)} or less"
        )
    if target.most_alarms_per_1000 is not None:
        promised += f"; at most {target.most_alarms_per_1000:g} alarms per 1,000 entries"
    if target.most_stock_outs is not None:
        promised += f"; at most {target.most_stock_outs} stock-outs"
    if f"{promised}." not in screen.flat:
        screen.wrong.append(f"not said: {promised}.")
    verdict = {"keeps": "is kept", "misses": "is NOT kept", "undecided": "cannot be told yet"}
    screen.look(
        rf"{verdict[answer['verdict']]}: {N} of {N} surges were on target \({N} %; "
        rf"95 % interval {N} to {N} %\)",
        (answer["surges_that_kept_the_target"], ""), (answer["surges"], ""),
        (share["estimate"], "%"), (share["low"], "%"), (share["high"], "%"),
    )  # fmt: skip
    screen.three("Entries in time ", answer["share_in_time"], "%")
    tenth = quantile(rows["share_in_time"].dropna(), 0.1)
    screen.look(
        rf"surge by surge mean {N} %, .*; in one of ten at most {N} %; mean worst day {N} %",
        (rows["share_in_time"].mean(), "%"), (tenth, "%"), (rows["worst_day_share"].mean(), "%"),
    )  # fmt: skip
    if "urgent_share_in_time" in answer:
        screen.three("urgent ones ", answer["urgent_share_in_time"], "%")
    _waits(screen, answer)
    _causes(screen, waiting_for(books))
    screen.three("Hours lost waiting ", answer["hours_waited_per_surge"])
    screen.look(rf"Entries {N} per surge", (rows["entries"].mean(), ""))
    screen.three("unmet: ", answer["unmet"]["per_surge"])
    _alarms(screen, books, tables["alarms"])
    _used(screen, tables["consumables"], tables["work"])
    return screen.wrong


def _causes(screen: Screen, rows: list[dict[str, Any]]) -> None:
    """Kinds of things with their places: `kits 89 % (in use 60 %, elsewhere 29 %)`."""
    line = re.search(r"Cause of waiting (.*?) Hours lost waiting", screen.flat)
    if line is None:
        screen.wrong.append("the line of causes is not there")
        return
    left = line[1]
    shares = {row["waiting_for"]: row["share"] for row in rows}
    for kind, things in THINGS.items():
        mine = {name.removeprefix(f"{kind} "): share for name, share in shares.items()
                if name.startswith(f"{kind} ")}  # fmt: skip
        found = re.search(rf"(?:^|; ){things}( [^;]*?)? ?{N} %(?: \((.*?)\))?(?=;|$)", left)
        if found is None:
            # shares below 0.1 % are not named
            if max(mine.values(), default=0.0) >= 0.0011:
                screen.wrong.append(f"cause, {kind}: not said")
            continue
        place, number, inside = found.groups()
        expected = mine.get(place.strip()) if place and place.strip() else sum(mine.values())
        if not said(number, expected, "%"):
            screen.wrong.append(f"cause, {kind}: {number}, expected {expected}")
        named = 0.0
        for one in (inside or "").split(", ") if inside else ():
            words = re.fullmatch(rf"(.*) {N} %", one)
            share = sum(mine.values()) - named if words and words[1] == "elsewhere" else (
                mine.get(words[1]) if words else None
            )  # fmt: skip
            named += share or 0.0
            if words is None or share is None or not said(words[2], share, "%"):
                screen.wrong.append(f"cause, {kind}: {one}, expected {share}")
    for name in NOTHING:
        found = re.search(rf"(?:^|; ){name} {N} %", left)
        if found and not said(found[1], shares.get(name), "%"):
            screen.wrong.append(f"cause, {name}: {found[1]}, expected {shares.get(name)}")
        elif not found and shares.get(name, 0.0) >= 0.0015:
            screen.wrong.append(f"cause, {name}: not said")


def _waits(screen: Screen, answer: dict[str, Any]) -> None:
    names = {"mean": "mean", "median": "p50", "95 %": "p95", "longest": "max"}
    line = re.search(r"Wait (mean .*?longest [^ ]+ (?:min|h|d))", screen.flat)
    if line is None:
        screen.wrong.append("the line of waits is not there")
        return
    for words, key in names.items():
        found = re.search(rf"\b{words} {N} (min|h|d)", line[1])
        if found is None or not said(found[1], answer["wait_minutes"][key]["estimate"], found[2]):
            screen.wrong.append(f"wait, {words}: {line[1]}")


def _row(row: dict[str, Any], name: str) -> dict[str, Any]:
    ends = (("estimate", ""), ("low", "_low"), ("high", "_high"))
    return {end: float(row[name + tail]) for end, tail in ends}


def _alarms(screen: Screen, books: Books, table: pd.DataFrame) -> None:
    every = books.raw.counts[list(ALARMS.values())].sum(axis=1)
    screen.three("Alarms ", interval(ratio("alarms", every, books.each(books.entries), 1_000)))
    after = re.search(
        r"per 1,000 entries: ((?:battery|flow|fault).*?)(?= Used| Note:| In b|$| A p)", screen.flat
    )
    if after is None:
        return
    for row in table.to_dict("records"):
        short = SHORT[row["cause"]]
        if row["per_surge"]:
            screen.three(rf"entries: (?:.*?, )?{short} ", _row(row, "per_1000_entries"))
        elif short in after[1]:
            screen.wrong.append(f"an alarm that never sounded: {short}")


def _used(screen: Screen, used: pd.DataFrame, work: pd.DataFrame) -> None:
    line = re.search(r" Used (.*?)(?= Note:| In brackets| A planning aid|$)", screen.flat)
    if line is None:
        return
    share = used["share_of_surges"].iloc[0]
    ten = round(10 * share, 9) == int(round(10 * share, 9))
    of = (rf"{N} of 10", (10 * share, "")) if ten else (rf"{N} % of", (share, "%"))
    if used["enough"].any():
        screen.look(rf" Used in {of[0]} surges no more than", of[1])
    for row in used.to_dict("records"):
        if row["enough"]:
            limit = rf"(?: \(upper limit {N}\))?"
            pattern = (
                rf" Used in [^;]*? no more than (?:[^;]*?(?:, | and ))?{N} {row['what']}{limit}"
            )
            screen.look(pattern, (row["enough"], ""), (row["enough_high"], ""))
        elif re.search(rf" {row['what']}\b", line[1]):
            screen.wrong.append(f"of which none was used: {row['what']}")
    repairs = work.set_index("what")["per_surge"]["blower repairs"]
    if repairs:
        screen.look(rf"; blower repairs: {N} per surge", (repairs, ""))
