"""What is approved: each screen, summary, table and list of columns of a few commands.

A case is a command line. Its texts are what it shows and what it leaves in its results folder;
only what says when, where and with which releases it was made is replaced (`replaced`), long
tables are shortened (`shortened`), and figures are left out.
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import json
import os
import re
import shutil
import sys
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from difflib import unified_diff
from pathlib import Path
from unittest.mock import patch

from surge_sim import __version__
from surge_sim.cli.main import COMMANDS, exit_code_of
from tests.conftest import ROOT, undrawn

#: where the approved texts are kept
TEXTS = Path(__file__).parent / "texts"
#: where a command that fills a results folder puts it
OUT = "out"
#: a table with more rows is shortened to a third of them
MOST_ROWS = 60
#: a list of a summary with more records is shortened to so many; the tables hold them too
MOST_RECORDS = 6
#: facts of a manifest that say when, where and with which releases a folder was made
OF_THE_MACHINE = ("started", "seconds", "python", "platform", "packages")
#: how long work takes, which is not the same twice: what tells it, what stands for it
TIMED = (
    (re.compile(r"^(?:likely to take .*|.*\d (?:s|min|h|d) left)\n", re.MULTILINE), ""),
    # said once on each machine
    (re.compile(r"^Compiling the engine .*\n", re.MULTILINE), ""),
    (re.compile(r"^(Played .*) in .*?(: .*)$", re.MULTILINE), r"\1 in ...\2"),
    (re.compile(r"^(Time +reference engine) .*$", re.MULTILINE), r"\1 ..."),
)

SCENARIOS = {
    "rule_out_unit": ROOT / "scenarios" / "rule_out_unit.yaml",
    "exposure_cluster": ROOT / "scenarios" / "exposure_cluster.yaml",
    "winter_wave": ROOT / "scenarios" / "winter_wave.yaml",
    "every_feature": ROOT / "tests" / "everything" / "every_feature.yaml",
    "recorded_log": Path(__file__).parent / "recorded_log.yaml",
}
#: how a scenario is sized: such that a stock is confirmed with 60 surges
SIZED = {
    "rule_out_unit": "--target share_of_surges=70% --spend 700",
    "exposure_cluster": "--target share_of_surges=50% --new",
    "winter_wave": "--target share_of_surges=50% --only kits,bays",
    "every_feature": "--target wait=15min,service_level=60%,share_of_surges=60%,"
    "most_alarms_per_1000=500 --only kits,bays",
    "recorded_log": "",
}
#: whose cases are all quick; of the others those that play anything are slow
QUICK = ("rule_out_unit", "recorded_log")
EXERCISES = ROOT / "scenarios" / "exercises"
#: what each scenario is compared with, besides the usual
ALTERNATIVES = """\
alternatives:
  30 kits, 42 batteries: {stock.kits: 30, stock.batteries: 42}
  kits on loan:
    assumes: A ward in the same building lends them.
    timeline.+: {what: kits on loan, kits: 3, at: 1 h, lasts: 2 d}
  shorter drying: {cleaning.drying_time: 1 min}
"""
#: what is refused, or ends without an answer
REFUSED = {
    "no_such_command": "chekc rule_out_unit.yaml",
    "no_such_file": "check absent.yaml",
    "many_faults": "check many_at_once.yaml",
    "option_out_of_range": "run rule_out_unit.yaml --surges 0",
    "wrong_target": "size rule_out_unit.yaml --target wait=5",
    "folder_not_empty": "run rule_out_unit.yaml --out full",
    "no_alternative": "compare rule_out_unit.yaml",
    "no_such_setting": "compare rule_out_unit.yaml --with one:stock.kit=8",
    "no_such_entry": "explain rule_out_unit.yaml --entry 100000",
    "too_few_surges": "size rule_out_unit.yaml --choose 20 --surges 20",
    "none_confirmed": "size rule_out_unit.yaml --target share_of_surges=95% --choose 20 "
    "--surges 94 --processes 1",
    "no_stock_keeps_the_target": "size every_feature.yaml --choose 20 --surges 80 --processes 1",
}
#: those of them that end after much play
LATE_REFUSED = ("none_confirmed", "no_stock_keeps_the_target")


#: scenarios whose sizing `case` is made of
CASES_OF = ("rule_out_unit", "recorded_log")
#: what is approved of its folder: the document, which is the answer, and short tables
OF_CASE = (
    "answer.txt",
    *(f"tables/{name}.csv" for name in ("doing_nothing", "higher_demand", "used", "waiting")),
)


#: cases with the list of columns of another one, which keeps it
COLUMNS_OF = {
    "winter_wave/run": "rule_out_unit/run",
    "exposure_cluster/size": "rule_out_unit/size",
    "every_feature/compare": "rule_out_unit/compare",
    "exposure_cluster/compare": "rule_out_unit/compare",
    "winter_wave/compare": "rule_out_unit/compare",
}


@dataclass(frozen=True)
class Case:
    """A command line whose texts are approved; `slow` ones are compared with --slow only."""

    name: str
    command: str
    slow: bool = False
    #: a command that comes before, of which nothing is approved here
    before: str = ""
    #: files of the results folder that are approved; all if none are named
    files: tuple[str, ...] = ()


def _cases() -> Iterator[Case]:
    yield Case("help/surge_sim", "--help")
    for command in COMMANDS:
        yield Case(f"help/{command}", f"{command} --help")
    yield Case("help/new_file", "new my_ward.yaml")
    yield Case("help/sources_of_niosh", "sources niosh")
    yield Case("help/schema_file", "schema")
    for name, command in REFUSED.items():
        yield Case(f"refused/{name}", command, slow=name in LATE_REFUSED)
    asked = f"--spread 25% --surges 20 --processes 1 --out {OUT}"
    yield Case("rule_out_unit/matters", f"matters rule_out_unit.yaml {asked}")
    for name in SCENARIOS:
        file, slow = f"{name}.yaml", name not in QUICK
        yield Case(f"{name}/check", f"check {file}")
        yield Case(f"{name}/check_json", f"check {file} --json")
        yield Case(f"{name}/check_full", f"check {file} --full --sources")
        yield Case(f"{name}/check_defaults", f"check {file} --defaults")
        yield Case(f"{name}/run", f"run {file} --surges 16 --processes 1 --out {OUT}", slow)
        size = "size {} --choose 20 --surges 60 --confidence 80% --processes 1 --out {} {}"
        yield Case(f"{name}/size", size.format(file, OUT, SIZED[name]).strip(), slow)
        if name in CASES_OF:
            asked, sized = f"case sized --processes 1 --out {OUT}", (file, "sized", SIZED[name])
            yield Case(f"{name}/case", asked, slow, size.format(*sized), OF_CASE)
        yield Case(
            f"{name}/compare",
            f"compare {file} --usual --alternatives alternatives.yaml --surges 16 --processes 1 "
            f"--out {OUT}",
            slow,
        )
        yield Case(f"{name}/verify", f"verify {file} --surges 1", slow)
        yield Case(f"{name}/explain_entry", f"explain {file}", slow)
        # the reference engine takes its time for the large surges of the winter wave
        if name != "winter_wave":
            one_day = "0 --day 2 --lines 30"
            yield Case(f"{name}/explain_kit", f"explain {file} --kit {one_day}", slow)
            yield Case(f"{name}/explain_battery", f"explain {file} --battery {one_day}", slow)
    for verb in ("new", "check", "play", "sheets", "page", "hot-wash"):
        yield Case(f"help/exercise_{verb.replace('-', '_')}", f"exercise {verb} --help")
    evening = "evening.yaml --processes 1"
    yield Case("exercise/check", f"exercise check {evening}")
    yield Case("exercise/sheets", f"exercise sheets {evening} --out {OUT}")
    yield Case("exercise/hot_wash", f"exercise hot-wash {evening} --choices 2,1,3", slow=True)


#: every case, by its name
CASES = {case.name: case for case in _cases()}


#: lists of columns that were written by now, by their case
_columns: dict[str, str] = {}


def _columns_of(name: str) -> str:
    """Return the list of columns of a case: as it is now, or as it is kept."""
    kept = TEXTS / name / "columns.txt"
    return _columns.get(name) or (kept.read_text(encoding="utf-8") if kept.is_file() else "")


def texts_of(case: Case) -> dict[str, str]:
    """Run a command and return its texts, by their paths below `TEXTS`."""
    with tempfile.TemporaryDirectory() as folder, contextlib.chdir(folder):
        _lay_out(Path(folder))
        if case.before:
            screen(case.before)
        shown = screen(case.command)
        files = folder_texts(Path(folder) / OUT, case.files)
    if files.get("answer.txt", "\0") in shown:
        files["answer.txt"] = "stands on the screen\n"
    if "columns.txt" in files:
        _columns[case.name] = files["columns.txt"]
    other = COLUMNS_OF.get(case.name, "")
    if other and files["columns.txt"] == _columns_of(other):
        files["columns.txt"] = f"those of {other}\n"
    return {f"{case.name}.txt": shown} | {
        f"{case.name}/{name}": text for name, text in files.items()
    }


def _lay_out(folder: Path) -> None:
    """Put what the commands read beside them."""
    for path in [*SCENARIOS.values(), *EXERCISES.glob("*.yaml")]:
        shutil.copy(path, folder)
        for table in path.parent.glob("*.csv"):
            shutil.copy(table, folder)
    shutil.copy(ROOT / "tests" / "bad_scenarios" / "many_at_once.yaml", folder)
    (folder / "alternatives.yaml").write_text(ALTERNATIVES, encoding="utf-8")
    (folder / "full").mkdir()
    (folder / "full" / "kept.txt").touch()


def screen(command: str) -> str:
    """Return what a person sees who types a command, on a terminal of 80 columns."""
    seen, words = io.StringIO(), command.split()
    with (
        contextlib.redirect_stdout(seen),
        contextlib.redirect_stderr(seen),
        patch.object(sys, "argv", ["surge-sim", *words]),
        patch.dict(os.environ, {"COLUMNS": "80", "NO_COLOR": "1"}),
        # no line of progress, however slow the machine
        patch("surge_sim.cli.screen.QUIET_S", float("inf")),
        # what a figure shows is compared in tests/shadow
        undrawn(),
    ):
        code = exit_code_of(words)
    said = seen.getvalue()
    for told, instead in TIMED:
        said = told.sub(instead, said)
    ending = f"[ends with {code}]\n" if code else ""
    return f"$ surge-sim {command}\n{said}{ending}"


def folder_texts(folder: Path, only: Sequence[str] = ()) -> dict[str, str]:
    """Return the texts of a results folder, or of some of its files.

    A file with the bytes of another says so.

    The scenario is left out: `check --defaults` shows it. Of the scenarios of alternatives there is
    the first, and what the others have otherwise.
    """
    texts: dict[str, str] = {}
    first: dict[bytes, str] = {}
    base: dict[Path, str] = {}
    # tables before figures, whose numbers are tables once more
    for path in sorted(folder.rglob("*"), key=lambda path: (path.parent.name == "figures", path)):
        name = path.relative_to(folder).as_posix()
        if path.is_dir() or path.suffix == ".png" or name.startswith("scenario/"):
            continue
        if only and name not in only:
            continue
        data = path.read_bytes()
        if name == "manifest.json":
            texts[name] = replaced(data.decode())
        elif name == "summary.json":
            texts[name] = with_short_lists(data.decode())
        elif data in first:
            texts[name] = f"the same as {first[data]}\n"
        elif path.suffix == ".yaml" and path.parent in base:
            texts[name] = changed_lines(base[path.parent], data.decode())
        else:
            texts[name] = shortened(data.decode()) if path.suffix == ".csv" else data.decode()
            first[data] = name
            if path.suffix == ".yaml":
                base[path.parent] = texts[name]
    return texts


def changed_lines(base: str, text: str) -> str:
    """Return what a scenario has otherwise than the first one beside it."""
    lines = unified_diff(base.splitlines(True), text.splitlines(True), "first", "this", n=0)
    return "".join(lines)


def with_short_lists(summary: str) -> str:
    """Return a summary in which long lists of records are their beginning and a digest."""

    def short(value: object) -> object:
        if isinstance(value, dict):
            return {key: short(one) for key, one in value.items()}
        if not isinstance(value, list):
            return value
        kept = [short(one) for one in value]
        if len(kept) <= MOST_RECORDS or not isinstance(kept[0], dict):
            return kept
        rest = hashlib.sha256(json.dumps(value[MOST_RECORDS:]).encode()).hexdigest()
        left = len(kept) - MOST_RECORDS
        return [*kept[:MOST_RECORDS], f"... {left} more records, sha256 {rest}"]

    return json.dumps(short(json.loads(summary)), indent=2, ensure_ascii=False) + "\n"


def replaced(manifest: str) -> str:
    """Return a manifest without the time, the machine, the releases and sums that follow."""
    facts = json.loads(manifest)
    facts |= dict.fromkeys(OF_THE_MACHINE, "...")
    facts["tool"] = facts["tool"].replace(__version__, "...")
    facts["sha256"] = sorted(facts["sha256"])
    return json.dumps(facts, indent=2, ensure_ascii=False) + "\n"


def shortened(table: str) -> str:
    """Return a table, if it is long its beginning and the digest of the rest."""
    lines = table.splitlines(keepends=True)
    if len(lines) <= MOST_ROWS + 1:
        return table
    keep = 1 + MOST_ROWS // 3
    digest = hashlib.sha256("".join(lines[keep:]).encode()).hexdigest()
    return "".join(lines[:keep]) + f"... {len(lines) - keep} more rows, sha256 {digest}\n"
