"""What people read: the trade's words, no private ones, and nothing to be read as unsafe advice."""

from __future__ import annotations

import ast
import json
import re
from collections.abc import Iterator
from functools import cache
from itertools import chain
from typing import Any

import click
import pytest
from click.testing import CliRunner

import surge_sim
from surge_sim.cli.main import cli
from surge_sim.report import columns, run_folder
from surge_sim.report.check_answer import check_json
from surge_sim.scenario.former_names import FORMER_NAMES
from surge_sim.scenario.json_schema import json_schema
from surge_sim.scenario.load import load_scenario
from surge_sim.sizing.result import SizeResult
from surge_sim.statistics.result import RunResult
from surge_sim.whatif.compare import Comparison
from surge_sim.whatif.matters import Matters
from tests.approved.cases import TEXTS
from tests.conftest import ROOT
from tests.statistics.hand_run import rich_run

PACKAGE = ROOT / "surge_sim"
#: screens whose words are those of this test; a sizing's have their own
COMMANDS = ("check", "check_full", "run", "matters", "verify", "explain_entry", "explain_kit",
            "explain_battery")  # fmt: skip
SCREENS = sorted(path for name in COMMANDS for path in TEXTS.glob(f"*/{name}.txt"))

#: private words, and the trade's in their place
PRIVATE = {
    r"promise[ds]?": "service target",
    r"luck\w*": "random variation",
    r"(?:kept?|keeps) (?:every part of )?(?:the|that|its) target|target is (?:NOT )?kept": "met",
    r"gives? up|gave up|given up|never give up": "maximum wait",
    r"patience": "maximum wait",
    r"unmet": "unserved",
    r"fleet": "batteries",
    r"least run\b": "minimum run time at issue",
    r"arithmetic knows": "averages ignore",
    r"half at most": "median",
    r"look at": "warning",
    r"run-off": "run-out period",
    r"hand(?:ed|s) out": "issue, reissue",
    r"disruptions?": "event",
    r"knee": "then slower",
    r"main filters?": "HE filter",
    r"short wipes?": "wipe-down between visits",
    r"power cuts?": "power outage",
    r"share in time": "service level",
    r"at average rates": "average workload",
    r"who comes": "patient arrivals",
    r"in vain": "not served",
    r"nearly spent": "low-battery alarm",
    r"more stock hurts?": "extra stock worsens service",
}
#: where such a word means what it says: a page of an exercise that is read by a facilitator
MEANT = {
    ("report/exercise_hot_wash.py", "look at"), ("report/exercise_sheets.py", "look at"),
    ("report/exercise_sheets.py", "hand out"), ("scenario/former_names.py", "main filters"),
    ("scenario/former_names.py", "power cut"),
}  # fmt: skip
#: parts of a public name that a word of the trade has replaced: key, column, option or attribute
NAMES = {
    "need": "request", "needs": "request", "unmet": "unserved", "patience": "maximum_wait",
    "promise": "target", "fallback": "after_maximum_wait", "knee": "constant_current",
    "wet": "contact_time", "dry": "drying_time", "run_off": "run_out", "who_comes": "arrivals",
    "arranged": "operating_rules", "average_rates": "average_workload", "gave_up": "maximum_wait",
    "share_in_time": "service_level", "luck": "random_variation", "fleet": "batteries",
    "disruption": "timeline", "disruptions": "timeline", "early_take": "partial_charge_at_reissue",
    "main_filter": "he_filter", "main_filters": "he_filters", "short_wipe": "wipe_between_visits",
    "least_run": "minimum_run_time", "mended": "reduced_by", "rung": "stage", "money": "cost",
    "plays": "replications", "play": "replication", "hurt": "worsened", "keeps": "met",
    "misses": "not met", "kept": "met", "certified": "confirmed", "waiting_for": "cause_of_waiting",
    "present_at_start": "initial_census", "reorder_at": "reorder_point", "nearly_spent": "low",
}  # fmt: skip
#: names that keep such a part, in its ordinary sense
ORDINARY = {"play"}
#: what could be read as advice to go in unprotected, to shorten a time or to skip a check, or as
#: an approval of a stock
UNSAFE = (
    r"without (?:a )?(?:kit|respirator|protection|check)", r"goes? in\b",
    r"nobody goes in", r"certif\w+", r"approved", r"\bsafe\w*", r"is protected", r"would protect",
    r"skip\w*", r"shorten\w*", r"shorter (?:contact|drying|wipe)", r"less (?:contact|drying)",
    r"reuse\w*",
)  # fmt: skip
PRIVATE_WORDS = tuple(rf"\b(?:{words})\b" for words in PRIVATE)


def found(text: str, patterns: tuple[str, ...]) -> list[str]:
    """Words that fit a pattern, but for those of the sources, which quote titles."""
    said = " ".join(text.partition("\nSources\n")[0].split())
    return [one[0] for pattern in patterns for one in re.finditer(pattern, said, re.IGNORECASE)]


def ruled_out(name: str) -> list[str]:
    """Parts of a name that have another name now."""
    parts = f"_{re.sub(r'[^a-z0-9]+', '_', name.lower())}_"
    # a name of several words is a sentence, whose words the other tests look at
    return [] if name in ORDINARY or " " in name else [one for one in NAMES if f"_{one}_" in parts]


# --- names -----------------------------------------------------------------------------------


@cache
def schema() -> dict[str, Any]:
    """The JSON Schema of scenario files."""
    return json_schema()


def keys_in(value: Any) -> Iterator[str]:
    """Every key of a JSON value."""
    if isinstance(value, dict):
        yield from value
    for one in value.values() if isinstance(value, dict) else value:
        if isinstance(one, dict | list):
            yield from keys_in(one)


def column_names() -> set[str]:
    """Every column that help speaks of."""
    tables = vars(columns)["_OF_TABLE"]
    return {*vars(columns)["_EVERYWHERE"], *tables, *chain.from_iterable(tables.values())}


def commands(group: click.Group, words: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    """The words of each command, with those of the groups that it is in."""
    with click.Context(group) as context:
        for name in group.list_commands(context):
            command = group.get_command(context, name)
            yield (*words, name)
            if isinstance(command, click.Group):
                yield from commands(command, (*words, name))


def option_names() -> set[str]:
    """Every option and argument of every command."""
    names = set()
    for words in commands(cli):
        command: click.Command = cli
        for word in words:
            assert isinstance(command, click.Group)
            found_one = command.get_command(click.Context(command), word)
            assert found_one is not None
            command = found_one
        for one in command.params:
            names |= {*one.opts, one.human_readable_name, str(one.metavar or "")}
    return names


def scenario_keys() -> set[str]:
    """Every key and word of a scenario file."""
    text = json.dumps(schema())
    return {
        *chain.from_iterable(
            one.get("properties", {}) for one in [schema(), *schema()["$defs"].values()]
        ),
        *re.findall(r'"(?:const|enum)": "([^"]+)"', text),
    }  # fmt: skip


def python_names() -> set[str]:
    """What `import surge_sim` offers, and the public attributes of what its functions return."""
    of = (RunResult, SizeResult, Comparison, Matters)
    return {*surge_sim.__all__, *(name for one in of for name in vars(one) if name[0] != "_")}


def json_keys() -> set[str]:
    """Every key of the JSON of a run and of a check."""
    scenario = load_scenario(ROOT / "scenarios" / "winter_wave.yaml")
    return {*keys_in(run_folder.run_json(rich_run())), *keys_in(check_json(scenario))}


@pytest.mark.parametrize(
    "names", [column_names, option_names, scenario_keys, python_names, json_keys]
)
def test_every_public_name_is_the_trades(names) -> None:
    there = names()
    assert len(there) > 15
    assert {name: ruled_out(name) for name in sorted(there) if ruled_out(name)} == {}


@pytest.mark.parametrize("path", sorted(TEXTS.glob("*/*/summary.json")), ids=str)
def test_the_keys_of_written_answers_are_the_trades(path) -> None:
    """All commands that write a folder: run, size, compare, matters, case."""
    keys = set(keys_in(json.loads(path.read_text(encoding="utf-8"))))
    assert {name: ruled_out(name) for name in sorted(keys) if ruled_out(name)} == {}


def test_a_former_name_is_found() -> None:
    assert ruled_out("share_in_time_by_surge") == ["share_in_time"]
    assert ruled_out("--early-take") == ["early_take"]
    assert ruled_out("unmet_per_1000") == ["unmet"]
    assert ruled_out("service_level") == []


def test_no_scenario_key_has_a_name_of_a_former_release() -> None:
    now = scenario_keys()
    assert not {old for old, new in FORMER_NAMES.items() if old in now and new not in now}


# --- sentences -------------------------------------------------------------------------------


@cache
def sentences() -> tuple[tuple[str, str], ...]:
    """Every text that the program can print, and the file that it stands in."""
    return tuple(_sentences())


def _sentences() -> Iterator[tuple[str, str]]:
    # docstrings are left out: those of commands are read in their help, those of fields in the
    # schema
    for path in sorted(PACKAGE.rglob("*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        docs = {
            id(step.value)
            for node in ast.walk(tree)
            if isinstance(body := getattr(node, "body", None), list)
            for step in body
            if isinstance(step, ast.Expr) and isinstance(step.value, ast.Constant)
        }
        for node in ast.walk(tree):
            text = node.value if isinstance(node, ast.Constant) else None
            if isinstance(text, str) and id(node) not in docs and " " in text:
                yield str(path.relative_to(PACKAGE)), text
    for path in (*PACKAGE.rglob("*.yaml"), *(ROOT / "scenarios").rglob("*.yaml")):
        yield path.name, path.read_text(encoding="utf-8")
    yield "schema", json.dumps(schema())


def test_no_sentence_of_the_program_has_a_private_word() -> None:
    said = list(sentences())
    assert len(said) > 1_500
    assert [
        (file, word)
        for file, text in said
        for word in found(text, PRIVATE_WORDS)
        if (file, word.lower()) not in MEANT
    ] == []


def test_no_sentence_of_the_program_calls_a_stock_certified() -> None:
    assert [(file, text) for file, text in sentences() if found(text, (r"\bcertif\w*",))] == []


@pytest.mark.parametrize("words", list(commands(cli)), ids=" ".join)
def test_no_help_has_a_private_word(words) -> None:
    text = CliRunner().invoke(cli, [*words, "--help"]).output
    assert "Usage" in text
    assert found(text, PRIVATE_WORDS) == []


@pytest.mark.parametrize("path", SCREENS, ids=lambda path: f"{path.parent.name}/{path.stem}")
def test_no_screen_has_a_private_word_or_unsafe_advice(path) -> None:
    text = path.read_text(encoding="utf-8")
    assert found(text, PRIVATE_WORDS) == []
    assert found(text, UNSAFE) == []


def test_every_kind_of_screen_is_looked_at() -> None:
    assert {path.stem for path in SCREENS} == set(COMMANDS)
    assert len(SCREENS) >= 30


@pytest.mark.parametrize(
    "text",
    [
        "the visit goes on without a kit", "Nobody goes in with a kit", "this stock is certified",
        "skip the check to save time", "a shorter drying time needs fewer kits",
    ],
)  # fmt: skip
def test_unsafe_advice_is_found(text: str) -> None:
    assert found(text, UNSAFE)


#: words of the trade that a reader may look up
IN_GLOSSARY = (
    "PAPR", "AIIR", "air changes per hour", "HE filter", "prefilter", "contact time", "drying time",
    "state of charge", "state of health", "minimum run time", "low-battery alarm", "partial charge",
    "reorder point", "order quantity", "lead time", "request", "maximum wait", "reneging",
    "unserved", "service target", "service level", "initial census", "length of isolation",
    "boarding", "diversion", "run-out period", "replication", "random variation", "confirmed",
    "inject", "decision point", "hot wash", "cause of waiting", "alarm", "wearer", "urgent entry",
)  # fmt: skip


def test_the_glossary_has_every_term_of_the_trade_that_is_used() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    glossary = readme.partition("\n## Glossary\n")[2].partition("\n## ")[0].lower()
    assert [word for word in IN_GLOSSARY if word.lower() not in glossary] == []
