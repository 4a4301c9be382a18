"""Extremes: numbers that ask for too much, each refused with its place or played within limits."""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
import time
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

import yaml

from tests.conftest import ROOT, plain_environment
from tests.robustness.trial import MOST_MEMORY, Outcome

#: no extreme may take more processor time [s]
LONGEST_S = 60
#: nor may it wait for ever [s]
_PATIENCE_S = 600
TWENTY_DIGITS = "9" * 20


class Extreme(NamedTuple):
    """One extreme: what is set to what, how the program is called, and what must come of it."""

    name: str
    #: dotted places and values, written into a scenario that is right
    settings: dict[str, Any]
    words: str = "run FILE --surges 1 --processes 1"
    #: what the refusal must name; empty: it must be played; None: either
    place: str | None = ""


_CHECK, _SIZE = "check FILE", "size FILE --choose 20 --surges 100 --processes 1"
_EPIDEMIC = {
    "population": "100000", "reproduction_number": "2", "latent": "2 d", "infectious": "4 d",
    "admitted": "0.1 %",
}  # fmt: skip
_FILTERS = {
    "prefilter_life": "8 h", "he_filter_life": "14 h", "prefilter_change": "4 min",
    "he_filter_turnaround": "2 h",
}  # fmt: skip
_LOAN = {"what": "kits on loan", "kits": "1000000000", "at": "1 d", "lasts": "1 d"}
_POSTPONED = {
    "policy.after_maximum_wait": "postponed", "policy.maximum_wait": "0 min",
    "policy.postponed_by": "0 min",
}  # fmt: skip
_LONG = {"horizon": "3653 d", "arrivals.baseline": "0.1 per day"}

EXTREMES = (
    Extreme("1,000 arrivals an hour", {"arrivals.baseline": "1000 per h"}, place="arrivals"),
    Extreme("an urgent team of 100,000", {"classes.rule-out.urgent": {
        "per_patient": "1 per day", "team": "100000", "role": "nurse"}}, place="urgent"),
    Extreme("an urgent team of 100,000, once in a while", {"classes.rule-out.urgent": {
        "per_patient": "0.001 per day", "team": "100000", "role": "nurse"}}),
    Extreme("an urgent team of 1,000,000,000", {"classes.rule-out.urgent": {
        "per_patient": "0.000001 per day", "team": "1000000000", "role": "nurse"}}, place="team"),
    Extreme("1,000,000,000 rooms", {"rooms.count": "1000000000"}),
    Extreme("no room", {"rooms.count": "0"}),
    Extreme("1,000,000,000 kits on loan", {"timeline": [_LOAN]}, place="timeline[1].kits"),
    Extreme("90,000 kits on loan", {"timeline": [{**_LOAN, "kits": "90000"}]}),
    Extreme("maximum_wait and postponement of 0", _POSTPONED, place=None),
    Extreme("postponed by a minute while there is no kit", {
        **_POSTPONED, "policy.postponed_by": "1 min", "stock.kits": "0"}, place="requests"),
    Extreme("run time of 1 s", {"kit.levels": [{"run_time": "1 s"}]}, place=None),
    Extreme("faults each second", {"failures": {"blower_run_between_failures": "1 s"}}, place=None),
    Extreme("faults each second, repaired at once, many kits", {
        "failures": {"blower_run_between_failures": "1 s", "repair_time": "0 min"},
        "stock.kits": "1000"}, place=None),
    Extreme("filters that last a second", {"filters": {
        **_FILTERS, "prefilter_life": "1 s", "he_filter_life": "1 s", "prefilter_change": "0 s"}},
        place=None),
    Extreme("an epidemic of stages of 1 s", {"arrivals.epidemic": {
        **_EPIDEMIC, "latent": "1 s", "infectious": "1 s"}}, place="epidemic.infectious"),
    Extreme("an epidemic of stages of 1 h over ten years", {**_LONG, "arrivals.epidemic": {
        **_EPIDEMIC, "latent": "1 h", "infectious": "1 h"}}),
    Extreme("a reproduction number of 1,000,000,000", {"arrivals.epidemic": {
        **_EPIDEMIC, "reproduction_number": "1000000000"}}, place="reproduction_number"),
    Extreme("a reproduction number of 100", {"arrivals.epidemic": {
        **_EPIDEMIC, "reproduction_number": "100"}}),
    Extreme("1,000,000,000 present at the start", {"arrivals.initial_census": "1000000000"},
            place="initial_census"),
    Extreme("a cluster of 1,000,000,000 nobody visits", {
        "arrivals.clusters": [{"patients": "1000000000", "at": "1 d"}],
        "classes.rule-out.entries": {"nurse": "0 per day"}}, place="clusters[1]"),
    Extreme("200,000 patients nobody visits", {"arrivals.initial_census": "199000",
            "classes.rule-out.entries": {"nurse": "0 per day"}}),
    Extreme("visits of which none needs a kit", {
        "classes.rule-out.entries.nurse": "1000000 per day", "roles.nurse.kit_share": "0 %"},
        place="classes.rule-out.entries"),
    Extreme("extra patients upon extra patients", {"timeline": [
        {"what": "extra patients", "arrivals": "100000 %", "at": "1 d", "lasts": "9 d"}] * 5},
        place="arrivals.baseline"),
    Extreme("a million requests", {"arrivals.baseline": "1500 per day", "stock.kits": "10000",
            "stock.batteries": "20000", "stock.bays": "10000"}),
    Extreme("100,000 of everything", {"stock": {"kits": "100000", "batteries": "100000",
            "bays": "100000"}, "filters": _FILTERS, "failures": {
                "blower_run_between_failures": "40 h", "repair_time": "1 h"}}),
    Extreme("ten years", _LONG),
    Extreme("ten years of rounds each minute", {**_LONG, "cleaning": {
        "by": "central", "wipe_down": "4 min", "turnaround": "300 d",
        "rounds": [f"{minute // 60:02}:{minute % 60:02}" for minute in range(0, 1_000)]}}),
    Extreme("ten years of shifts each minute", {**_LONG, "cleaning": {
        "by": "crew", "wipe_down": "4 min", "crew": [
            {"start": f"{minute // 60:02}:{minute % 60:02}", "end": "24:00", "cleaners": "1"}
            for minute in range(0, 900)]}}),
    Extreme("wearers of a minute over ten years", {**_LONG, "roles.nurse.patients_per_wearer": "1",
            "roles.nurse.shifts": [f"{m // 60:02}:{m % 60:02}" for m in range(1_000)]}),
    Extreme("checks each second while worn", {"kit.recheck": {
        "first_after": "1 s", "then_every": "1 s"}}),
    Extreme("charging rounds each second over ten years", {
        **_LONG, "charging.rounds_every": "1 s"}),
    Extreme("1,000 changes", {"timeline": [
        {"what": "kits recalled", "kits": "1", "at": f"{n} min", "lasts": "5 d"}
        for n in range(1_000)]}),
    Extreme("1,001 changes", {"timeline": [
        {"what": "power outage", "at": "1 d", "lasts": "1 h"}] * 1_001}, _CHECK, "timeline"),
    Extreme("100 classes and roles over ten years", {
        **_LONG, "rooms": {"count": "9", "air_changes": "12 per h"},
        "classes": {f"class {n}": {"share": "1 %", "length_of_isolation": "3 d", "entries": {
            f"role {n}": "9 per day"}} for n in range(100)},
        "roles": {f"role {n}": {"room_time": "9 min"} for n in range(100)}}),
    Extreme("1,000 classes", {"classes": {f"class {n}": {"share": "0.1 %",
            "length_of_isolation": "3 d", "entries": {"nurse": "9 per day"}}
            for n in range(1_000)}}, _CHECK, "classes"),
    Extreme("chargers of 1,000,000,000 bays", {"prices.bays_per_charger": "1000000000"}, _SIZE,
            "bays_per_charger"),
    Extreme("search limits of 100,000", {"limits": dict.fromkeys(
        ("kits", "batteries", "bays", "cleaners"), "100000")},
        _SIZE + " --only kits,batteries,bays"),
    Extreme("everything for nothing", {}, _SIZE + " --prices kit=0,battery=0,charger=0"),
    Extreme("money for everything", {}, _SIZE + " --spend 1000000000"),
    Extreme("spare parts and wipes by the thousand million", {"supplies": {
        name: {"spare": "1000000000", "reorder_point": "1000000000", "order_quantity": "1000000000"}
        for name in ("hoods", "tubes", "prefilters", "he_filters")}},
        place="supplies.hoods.spare"),
    *(Extreme(f"{place} of twenty digits", {place: TWENTY_DIGITS}, _CHECK, place.split(".")[-1])
      for place in ("stock.kits", "rooms.count", "arrivals.initial_census", "prices.kit",
                    "limits.bays", "supplies.wipes_per_clean")),
    *(Extreme(f"{place} of twenty digits", {place: f"{TWENTY_DIGITS} {unit}"}, _CHECK,
              place.split(".")[-1])
      for place, unit in (("horizon", "d"), ("arrivals.baseline", "per day"),
                          ("target.wait", "min"), ("target.service_level", "%"),
                          ("kit.pre_use_check", "s"))),
    *(Extreme(f"{option} {value}", {}, f"{command} FILE {option} {value}", option)
      for command, option, value in (
          ("run", "--kits", "1000000000"), ("run", "--batteries", TWENTY_DIGITS),
          ("run", "--bays", "1000000000"), ("run", "--surges", "1000000000"),
          ("run", "--seed", TWENTY_DIGITS), ("run", "--processes", "100000"),
          ("size", "--choose", "1000000000"), ("size", "--surges", "1000000000"),
          ("size", "--more", TWENTY_DIGITS), ("size", "--processes", "100000"),
          ("explain", "--entry", TWENTY_DIGITS), ("explain", "--lines", TWENTY_DIGITS),
          ("explain", "--surge", TWENTY_DIGITS), ("verify", "--surges", "1000000000"))),
    Extreme("100,000 kits by an option", {},
            "run FILE --kits 100000 --batteries 100000 --bays 100000 --surges 2 --processes 1"),
    Extreme("the largest seed", {}, f"run FILE --seed {2**63 - 1} --surges 2 --processes 1"),
    Extreme("the reference engine and 200,000 entries", {"arrivals.baseline": "400 per day"},
            "explain FILE", "reference engine"),
)  # fmt: skip


@cache
def _good() -> str:
    return (ROOT / "scenarios" / "rule_out_unit.yaml").read_text(encoding="utf-8")


class _Plain(yaml.SafeDumper):
    """Writes out in full what comes twice."""

    def ignore_aliases(self, data: Any) -> bool:
        return True


def scenario_of(extreme: Extreme) -> str:
    """Write the scenario of an extreme as YAML text."""
    root = yaml.load(_good(), Loader=yaml.BaseLoader)
    for place, value in extreme.settings.items():
        *path, last = place.split(".")
        section = root
        for name in path:
            section = section.setdefault(name, {})
        section[last] = value
    return yaml.dump(root, Dumper=_Plain, sort_keys=False, allow_unicode=True, width=200)


class Ending(NamedTuple):
    """What came of an extreme."""

    extreme: Extreme
    code: int
    seconds: float
    memory: int
    err: str

    @property
    def failure(self) -> str:
        """What is not as it should be; empty: nothing."""
        if "Traceback" in self.err:
            return "a traceback: " + self.err.strip().splitlines()[-1]
        if self.seconds > LONGEST_S:
            return f"took {self.seconds:.0f} s of processor time"
        if self.memory > MOST_MEMORY:
            return f"took {self.memory / 1e6:,.0f} MB"
        place = self.extreme.place
        wanted = (2,) if place else (0, 1) if "size" in self.extreme.words else (0,)
        if self.code not in (wanted if place is not None else (0, 2)):
            return f"exit code {self.code}: {self.err.strip()[:300]}"
        if place and place not in self.err:
            return f"does not name {self.extreme.place}: {self.err.strip()[:300]}"
        return ""


def _bounded() -> None:
    resource.setrlimit(resource.RLIMIT_AS, (6 * 10**9, 6 * 10**9))


def ended(extreme: Extreme) -> Ending:
    """Play an extreme in a process of its own."""
    with tempfile.TemporaryDirectory() as folder:
        Path(folder, "s.yaml").write_text(scenario_of(extreme), encoding="utf-8")
        words = extreme.words.replace("FILE", "s.yaml").split()
        out = ["--out", "out"] if words[0] in ("run", "size") else []
        with open(Path(folder, "err"), "w+b") as err:
            process = subprocess.Popen(
                [sys.executable, "-m", "surge_sim", *words, *out],
                cwd=folder,
                env=plain_environment(),
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                stderr=err,
                preexec_fn=_bounded,
            )
            timer = time.monotonic() + _PATIENCE_S
            while True:
                done, status, usage = os.wait4(process.pid, os.WNOHANG)
                if done:
                    break
                if time.monotonic() > timer:
                    process.kill()
                time.sleep(0.02)
            process.returncode = os.waitstatus_to_exitcode(status)
            seconds = usage.ru_utime + usage.ru_stime
            err.seek(0)
            text = err.read().decode("utf-8", "replace")
    memory = usage.ru_maxrss * (1 if sys.platform == "darwin" else 1024)
    return Ending(extreme, process.returncode, seconds, memory, text)


def extreme_of(seed: int, number: int) -> Outcome:
    """Play the extreme of a number; nothing of it is random."""
    ending = ended(EXTREMES[number])
    if ending.failure:
        return Outcome("extreme", ending.extreme.name, ending.failure)
    return Outcome("refused" if ending.code == 2 else "answer")
