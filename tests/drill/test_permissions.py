"""No words of an exercise can be read as leave to skip a check or to do what rules forbid."""

from __future__ import annotations

import json
import re

import pytest

from surge_sim.drill.branches import Surges
from surge_sim.drill.compare import compare
from surge_sim.drill.tree import Tree
from surge_sim.report.document import document
from surge_sim.report.exercise_check import exercise_answer
from surge_sim.report.exercise_hot_wash import hot_wash
from surge_sim.report.exercise_play import at_decision, opening, since
from surge_sim.report.exercise_room import room_data
from surge_sim.report.exercise_rules import condition_words, conditions_words
from surge_sim.report.exercise_sheets import sheets
from surge_sim.report.page import page
from surge_sim.report.terminal import render
from surge_sim.scenario.exercise import load_exercise
from surge_sim.scenario.exercise_file import DECISIONS, Choice
from surge_sim.scenario.timeline import ExtraCleaners, KitPolicy, PartialCharge, Reserve
from tests.drill.small import SHIPPED, loaded

#: a decision of each sort, as a file has it
DONE = {
    "batteries on loan": {"batteries": 4},
    "care bundled": {"dropped": "20 %"},
    "chargers on loan": {"chargers": 1},
    "routine entries postponed": {"by": "1 h", "share": "20 %"},
    "extra cleaners": {"cleaners": 1},
    "kit policy": {"kit": "held for a shift"},
    "kits on loan": {"kits": 2},
    "maximum wait": {"wait": "20 min"},
    "partial charge at reissue": {"allowed": True},
    "reserve for urgent entries": {"kits": 1},
}
CHECK = "pre-use check, flow check included, before every entry"
RULES = "Manufacturer's instructions and local rules decide whether"


def choice(what, **changed):
    return Choice.model_validate(
        {"name": "One", "does": {"what": what, "at": "1 h", **DONE[what], **changed}}
    )


def flat(text):
    return " ".join(text.split())


def test_every_sort_of_decision_is_looked_at_here():
    assert {type(choice(what).does) for what in DONE} == set(DECISIONS)


@pytest.mark.parametrize("what", DONE)
def test_a_choice_stands_with_its_condition(what):
    """Cleaners and a reserve change no equipment and no visit."""
    said = condition_words(choice(what))
    assert bool(said) == (not isinstance(choice(what).does, ExtraCleaners | Reserve))
    assert not said or said.endswith(".")
    needs = isinstance(choice(what).does, KitPolicy | PartialCharge)
    assert (RULES in said) == needs
    assert needs <= (CHECK in said)


@pytest.mark.parametrize(
    ("what", "changed"),
    [("kit policy", {"kit": "per entry"}), ("partial charge at reissue", {"allowed": False})],
)
def test_what_takes_a_permission_back_needs_none(what, changed):
    assert condition_words(choice(what, **changed)) == ""
    assert conditions_words([choice(what, **changed)]) == ()
    assert not choice(what, **changed).needs_permission


@pytest.fixture(scope="module")
def everything(tmp_path_factory):
    """Every text of an exercise with a choice of each of the two sorts, by its name."""
    exercise = loaded(
        tmp_path_factory.mktemp("permissions"),
        ("{what: care bundled, dropped: 30 %, lasts: 3 h}", "{what: kit policy, kit: held for a "
         "shift}"),
        ("{what: reserve for urgent entries, kits: 1}", "{what: partial charge at reissue, "
         "allowed: yes}"),
    )  # fmt: skip
    tree = Tree(Surges(exercise).surge(3))
    comparison = compare(exercise, 3, count=8, processes=1)
    data = room_data(tree, comparison)
    wash = hot_wash(comparison, (0, 0), to_print=True)
    printed = {name: page(one) for name, one in sheets(tree, comparison).items()}
    stretches = [document(*since(tree, choices)) for choices in ((2,), (0, 1))]
    return {
        "terminal, decision 1": render(at_decision(tree, ())),
        "terminal, decision 2": render(at_decision(tree, (0,))),
        "facilitator": printed["facilitator"],
        "evaluator": printed["evaluator"],
        "check": render(exercise_answer(comparison)),
        "terminal, came of decision 1": render(stretches[0]),
        "terminal, came of decision 2": render(stretches[1]),
        "room, decision 1": json.dumps(data["moments"][0]),
        "room, decision 2": json.dumps(data["moments"][1]),
        "room, hot wash": json.dumps(data["moments"], ensure_ascii=False),
        "terminal, hot wash": render(wash[0]),
        "hot wash to print": page(*wash),
        "opening": render(opening(tree)),
        "players": printed["players"],
        "room, rules": json.dumps(data["rules"]),
        "room, reading": json.dumps(data["permits_nothing"]),
    }


def test_the_permission_stands_wherever_the_choice_or_its_result_does(everything):
    said = {name: flat(text).replace("&#x27;", "'") for name, text in everything.items()}
    held = f"{RULES} a kit, and its hood, may be kept for several visits."
    partial = f"{RULES} it may be done. The minimum run time at issue stays,"
    for name, text in said.items():
        is_result = name.endswith(("hot wash", "to print", "check", "evaluator", "facilitator"))
        assert (held in text) == (name.endswith("decision 1") or is_result), name
        assert (partial in text) == (name.endswith("decision 2") or is_result), name
        if name != "room, hot wash":
            assert CHECK in text, name


def test_no_result_says_that_anything_may_be_done(everything):
    for name in ("room, reading", "terminal, hot wash", "hot wash to print"):
        assert "A result permits nothing." in flat(everything[name])


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_no_shipped_text_is_advice_to_do_less(path):
    """A choice that needs a permission says so in its name, and the group is asked about rules."""
    exercise = load_exercise(path)
    needing = [
        (moment, one)
        for moment in exercise.moments
        for one in moment.choices
        if one.needs_permission
    ]
    assert needing
    for moment, one in needing:
        assert re.search("where (that is )?allowed", one.name)
        assert "manufacturer's instructions and local rules" in flat(moment.expect)
        assert "strikes the choice out" in flat(moment.expect)
    words = flat(path.read_text(encoding="utf-8")).lower()
    assert not re.search(r"\bskip|without (a |the )?check|shorten (the|a|its)|no need to", words)
