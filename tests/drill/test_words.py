"""Hot wash, sheets and pictures say what was computed."""

from __future__ import annotations

import re
from html import unescape
from html.parser import HTMLParser
from xml.etree import ElementTree

import numpy as np
import pytest

from surge_sim.drill.branches import Surges
from surge_sim.drill.compare import Comparison, Worth, column, compare
from surge_sim.drill.line import ahead_of
from surge_sim.drill.outcome import InAll
from surge_sim.drill.tree import EntryStory, Tree
from surge_sim.engine.log import Kind
from surge_sim.engine.play import play
from surge_sim.equipment.stock import Stock
from surge_sim.report.document import Column, Heading, Quote, Rows, Table
from surge_sim.report.exercise_check import exercise_answer
from surge_sim.report.exercise_choices import choice_words
from surge_sim.report.exercise_hot_wash import hot_wash
from surge_sim.report.exercise_picture import Against, decision_picture
from surge_sim.report.exercise_sheets import (
    evaluator_sheet,
    facilitator_sheet,
    players_sheet,
    sheets,
)
from surge_sim.report.exercise_words import (
    board_rows,
    decision_named,
    inject_words,
    story_words,
    stretch_words,
)
from surge_sim.report.exercise_worth import decision, decision_sentence
from surge_sim.report.page import page
from surge_sim.report.terminal import render
from surge_sim.scenario.exercise import load_exercise
from surge_sim.statistics.intervals import Interval
from tests.drill.small import SCENARIO, SHIPPED, loaded, small
from tests.drill.test_compare import by_hand as by_hand  # a fixture
from tests.drill.test_compare import rows_of
from tests.engine.tiny import settings, tiny_trace

URGENT = "urgent late"


def blocks(document, kind):
    return [one for one in document.blocks if isinstance(one, kind)]


def worth(here, on_average, differences=(-3, 0, 2)):
    return Worth(here, on_average, -3, 2, 1, 1, 1, np.array(differences))


def test_a_decision_is_told_with_worth_and_variation_apart():
    fewer = Against("Wait", worth(-12, Interval(-9.04, -11.0, -7.25)))
    assert decision_sentence("Borrow", fewer) == (
        "“Borrow” brought 9.04 (7.2 to 11.0) fewer late entries on average than “Wait”; here 12 "
        "fewer. What differs from the average, 2.96 entries, is random variation of this surge, "
        "not your decision."
    )
    unclear = Against("Reserve", worth(3, Interval(0.4, -1.0, 2.0)))
    assert decision_sentence("Borrow", unclear).startswith(
        "“Borrow” brought no clear difference on average from “Reserve”; here 3 more."
    )


def test_a_difference_without_limits_is_told_without():
    row = Against("Wait", worth(0, Interval(2.0, None, None)))
    assert "brought 2 more late entries on average than “Wait”; here as many." in (
        decision_sentence("Borrow", row)
    )


def test_a_hot_wash_shows_every_way_and_marks_the_one_taken(by_hand):
    told, pictures = hot_wash(by_hand, (1, 2), to_print=True)
    paths = blocks(told, Table)[4]  # behind a table for each choice that was not taken
    late = {row[0]: row[2] for row in paths.rows}
    assert len(late) == 9
    assert late["2-3 taken"] == "20"  # 30 - 6 - 4
    assert late["1-1"] == "30"
    assert sorted(pictures) == ["decision 1", "decision 2"]


def test_the_table_of_a_decision_holds_difference_average_and_variation(by_hand):
    first, _, second, _ = blocks(hot_wash(by_hand, (1, 2))[0], Table)[:4]
    assert first.columns[0].header == "Than with “Wait”"
    assert first.rows[0][:2] == ("late entries", "6 fewer")
    assert first.rows[0][2].startswith("6 fewer (")
    assert first.rows[0][-1] == "as many"
    assert second.rows[0][:2] == ("late entries", "4 fewer")
    assert second.rows[0][-1] == "4 fewer"


def test_what_a_choice_costs_its_wearers_and_leaves_out_stands_in_its_own_table(by_hand):
    """The third choice leaves 9 of 100 visits out and costs two hours more."""
    here, others = by_hand.here.copy(), by_hand.others.copy()
    for path, (one, _) in enumerate(by_hand.exercise.paths):
        if one == 2:
            here[path, InAll._fields.index("entries")] = 91
            others[:, path, InAll._fields.index("entries")] = 90
            here[path, InAll._fields.index("delayed_s")] = 3 * 3_600
        else:
            here[path, InAll._fields.index("delayed_s")] = 5 * 3_600
    comparison = Comparison(by_hand.exercise, 3, here, others)
    told = hot_wash(comparison, (2, 0))[0]
    table = blocks(told, Table)[0]
    rows = {row[0]: row[1:] for row in table.rows}
    assert rows["visits counted"][:2] == ("9 fewer", "10 fewer")
    assert rows["wearer hours"][0] == "3 h against 5 h"
    said = " ".join(render(told).split())
    assert (
        "With “Bundle” 9 fewer visits are made separately and counted here, 10 on average; "
        "licensed staff choose them so that no care is left out."
    ) in said


def test_urgent_entries_have_a_line_of_their_own_where_they_differ(by_hand):
    """The second choice saves one urgent entry on every other surge and none on this one."""
    urgent = InAll._fields.index("urgent_late")
    others = by_hand.others.copy()
    for path, (_, two) in enumerate(by_hand.exercise.paths):
        others[:, path, urgent] = 5 - two
    comparison = Comparison(by_hand.exercise, 3, by_hand.here, others)
    tables = blocks(hot_wash(comparison, (1, 1))[0], Table)[:4]
    has_urgent = [URGENT in [row[0] for row in one.rows] for one in tables]
    assert has_urgent == [False, False, True, True]
    assert tables[2].rows[1] == (URGENT, "as many", "1 fewer", "1 more")
    assert tables[3].rows[1] == (URGENT, "as many", "1 more", "1 fewer")


@pytest.mark.parametrize(
    ("here", "average", "variation"),
    [
        (31, Interval(40.7, 38.2, 43.4), "the average, 9.7 entries"),
        (-60, Interval(-43.14, -46.2, -40.1), "the average, 16.9 entries"),
        (-400, Interval(-144.0, -171.0, -120.0), "the average, 256 entries"),
        (0, Interval(0.041, -0.07, 0.17), "the average, 0.04 entries"),
    ],
)
def test_random_variation_has_the_decimals_of_the_average(here, average, variation):
    assert variation in decision_sentence("Borrow", Against("Wait", worth(here, average)))


def test_a_choice_that_is_struck_out_is_not_compared(by_hand):
    whole = decision(by_hand, (1, 2), 0)
    struck = decision(by_hand, (1, 2), 0, {2})
    assert "Bundle" in whole.sentences[1] and whole.against[1].name == "Bundle"
    assert struck.sentences == whole.sentences[:1]
    assert struck.tables == whole.tables[:1] and len(struck.against) == 1
    assert struck.struck == ("Struck out by your own rules and not compared: “Bundle”.",)
    alone = decision(by_hand, (1, 2), 0, {0, 2})
    assert (alone.tables, alone.against) == ((), ())
    assert alone.sentences == ("All but “Borrow two” were struck out.",)
    told = render(hot_wash(by_hand, (1, 2), struck=[{2}, set()])[0])
    assert "3-" not in told.split("Every path")[1].split("- A path is named")[0]


def test_a_kept_kit_is_told_with_what_is_done_between_two_visits(tmp_path):
    """The wipe-down of the scenario takes 2 min between visits, contact and drying 12 min."""
    held = "{what: kit policy, kit: held for a shift}"
    path = small(tmp_path, ("{what: reserve for urgent entries, kits: 1}", held))

    def said():
        exercise = load_exercise(path)
        return choice_words(exercise, exercise.moments[1].choices[1])

    assert "after every visit (2 min, shorter than the 12 min of contact and drying time" in said()
    assert "which stay: strike this choice out unless" in said()
    place = path.parent / "ward.yaml"
    place.write_text(
        place.read_text().replace("policy: {", "policy: {wipe_between_visits: 16 min, ")
    )
    assert "after every visit (16 min, with the 12 min of contact and drying time)" in said()
    assert "is not free meanwhile" in said()


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_no_visit_that_left_the_queue_is_said_to_have_been_made(path):
    """Of a story, a stretch, the rules and the sheets."""
    exercise = load_exercise(path)
    tree = Tree(Surges(exercise).surge(3))
    comparison = compare(exercise, 3, count=2, processes=1)
    said = [render(sheet) for sheet in sheets(tree, comparison).values()]
    for choices in [(), (0,), (0, 0), (0, 0, 0)]:
        branch = tree.branch(choices)
        said.append(stretch_words(exercise, branch))
        if branch.story is not None:
            said += [words for _, words in story_words(exercise, branch.story)]
    text = " ".join(" ".join(said).split())
    assert "protection is then" not in text and "protection was then" not in text
    assert "whether and how it is then made is outside this model" in text


def test_postponed_visits_that_left_the_queue_are_not_said_to_be_outside_the_model(tmp_path):
    """They come again, in the model."""
    postponed = "{maximum_wait: 2 min, after_maximum_wait: postponed, urgent_maximum_wait: 1 min}"
    rules = "{maximum_wait: 60 min, urgent_maximum_wait: 10 min}"
    exercise = load_exercise(small(tmp_path, scenario=SCENARIO.replace(rules, postponed)))
    branch = Tree(Surges(exercise).surge(3)).branch(())
    assert branch.stretch.unserved
    assert "is outside this model, unless the rules postpone it" in stretch_words(exercise, branch)


def test_a_check_warns_where_the_group_would_see_no_difference(by_hand):
    assert "Warning" not in render(exercise_answer(by_hand))
    same_here = Comparison(by_hand.exercise, 3, rows_of([30] * 9), by_hand.others)
    warned = render(exercise_answer(same_here))
    assert warned.count("Warning: On the surge that is played") == 4
    assert "from 30 to 30 of 100 entries are late" in " ".join(warned.split())


def test_the_hot_wash_scores_nobody(by_hand):
    text = render(hot_wash(by_hand, (1, 2), to_print=True)[0]).lower()
    assert not re.search(r"\b(scor|grade|points|best|worst|winner|mistake|wrong)", text)


def test_the_form_has_room_for_strengths_improvements_owners_and_dates(by_hand):
    told, _ = hot_wash(by_hand, (1, 2), to_print=True)
    heads = [column.header for table in blocks(told, Table) for column in table.columns]
    for head in ("Strengths", "Areas to improve", "What will be done", "Owner", "By (date)"):
        assert head in heads
    assert "Strengths" not in render(hot_wash(by_hand, (1, 2))[0])


def test_the_picture_has_a_dot_for_each_other_surge_and_marks_in_their_places():
    rows = [Against("<Wait>", worth(-2, Interval(-1.0, -2.0, 0.5), (-4, -4, -1, 0, 3)))]
    picture = ElementTree.fromstring(decision_picture(rows))
    paths = [one for one in picture if one.tag.endswith("path")]
    assert len(paths) == 2
    dots = re.findall(r"M([\d.]+) ([\d.]+)h0", paths[0].get("d"))
    assert len(dots) == 5
    x = [float(one) for one, _ in dots]
    assert x == sorted(x) and len(set(x)) == 4
    diamond = float(re.match(r"M([\d.]+) ", paths[1].get("d"))[1])
    assert x[1] < diamond < x[2]  # -2 lies between -4 and -1
    texts = [one.text for one in picture if one.tag.endswith("text")]
    assert "instead of <Wait>" in texts  # as text


@pytest.mark.parametrize("size", [1, 10, 1_000, 100_000])
def test_a_picture_of_any_size_has_a_readable_axis(size):
    rows = [Against("Wait", worth(size, Interval(1.0, 0.5, 1.5), (-size, 0, size // 2)))]
    picture = ElementTree.fromstring(decision_picture(rows))
    numbers = [one.text for one in picture if one.tag.endswith("text")]
    ticks = [one for one in numbers if one.replace(",", "").isdigit()]
    assert "same" in numbers
    assert 2 <= len(ticks) <= 20


def test_the_facilitator_reads_what_follows_every_choice(tmp_path):
    exercise = loaded(tmp_path)
    tree = Tree(Surges(exercise).surge(3))
    comparison = compare(exercise, 3, count=8, processes=1)
    sheet = facilitator_sheet(tree, comparison)
    tables = [
        one for one in blocks(sheet, Table) if one.columns[0] == Column("Choices", align="left")
    ]
    assert [len(one.rows) for one in tables] == [3, 9]
    row = {one[0]: one for one in tables[1].rows}["2-3"]
    branch = tree.branch((1, 2))
    assert row[1:4] == tuple(
        str(one) for one in (branch.stretch.came, branch.stretch.late, branch.stretch.unserved)
    )
    assert row[7] == str(branch.seen.kits_ready[-1])
    average = column(comparison.others[:, exercise.paths.index((1, 2))], "late").mean()
    assert tables[1].columns[-1].header == "in all, late on average"
    assert float(row[-1]) == pytest.approx(average, abs=0.51)
    quotes = [one.text for one in blocks(sheet, Quote)]
    assert "The cleaner has gone home." in quotes


def test_players_and_evaluators_read_nothing_of_what_happens(tmp_path):
    """Neither injects, nor choices' consequences, nor the texts that are read aloud later."""
    exercise = load_exercise(small(tmp_path))
    tree = Tree(Surges(exercise).surge(3))
    players = render(players_sheet(tree)).lower()
    told_later = ("cleaner has gone", "power", "absent", "outage", "simulated surge 3", "09:00")
    for told in (*told_later, "see what is short"):
        assert told not in players
    assert "because" in players and "we expect" in players
    players = " ".join(players.split())
    assert "after use a kit is wiped down by a cleaner, " in players
    assert "of work for each kit; 12 min of contact and drying time follow" in players
    assert "by the rule of this unit it stays in its bay until it is full" in players
    assert "the minimum run time at issue is 45 min" in players
    assert "in line, urgent entries go first" in players
    assert "routine entries with a kit per patient and day" in players
    assert "spare hoods beside those on kits: 60 at the start; when 40 are left" in players
    evaluator = render(evaluator_sheet(tree)).lower()
    assert "late" not in evaluator.replace("evaluator", "")
    assert "see what is short" in evaluator


def test_texts_of_the_files_are_shown_as_texts(tmp_path):
    hostile = "<script>alert(1)</script>"
    exercise = loaded(
        tmp_path,
        ("The cleaner has gone home.", f'"{hostile}"'),
        ("name: Bundle", "name: <b>W</b>"),
        ("title: Two decisions (invented)", "title: Two <i>decisions</i> (invented)"),
    )  # fmt: skip
    tree = Tree(Surges(exercise).surge(3))
    comparison = compare(exercise, 3, count=8, processes=1)
    pages = [page(sheet) for sheet in sheets(tree, comparison).values()]
    pages.append(page(*hot_wash(comparison, (1, 1), to_print=True)))
    tags = set()
    for text in pages:
        parser = HTMLParser()
        parser.handle_starttag = lambda tag, attributes: tags.add(tag)
        parser.feed(text)
    assert not tags & {"script", "i"}
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in pages[0]
    assert "&lt;b&gt;W&lt;/b&gt;" in pages[0]


def test_the_board_leaves_out_what_there_is_none_of(tmp_path):
    exercise = loaded(tmp_path)
    rows = dict(board_rows(exercise, Tree(Surges(exercise).surge(3)).branch(()), 0))
    assert rows["Kits"] == "4 ready on the shelf, 1 cleaning staff on duty"
    assert rows["On order"] == "nothing"
    assert rows["At the door"] == "nobody waits"
    assert rows["Parts, on clean kits and in the box"] == "64 hoods"


def test_the_story_told_ends_before_the_stretch_does(tmp_path):
    exercise = loaded(tmp_path)
    tree = Tree(Surges(exercise).surge(3))
    branch = tree.branch((0,))
    assert branch.story is not None
    assert branch.story.events[:, 0].max() < branch.to_s
    rows = story_words(exercise, branch.story)
    assert rows[0][0] == "Role"
    assert any("has taken the kit off" in said or "leaves the queue" in said for _, said in rows)


@pytest.mark.parametrize(
    ("need", "kits", "batteries", "said"),
    [
        ([0, 1], 1, 9, "a clean kit"),
        ([0, 1], 9, 1, "a charged battery"),
        ([0, 1], 1, 1, "a clean kit and a charged battery"),
    ],
)
def test_a_story_names_a_kit_and_not_its_parts(tmp_path, need, kits, batteries, said):
    """Two entries a minute apart; the second waits for what the first one has taken."""
    case = tiny_trace(settings(), need=need, room=30).situation(Stock(kits, batteries, 1))
    log = play(*case, events=True)
    story = EntryStory(1, 0, log.events[log.events[:, 2] == 1], case)
    told = [words for _, words in story_words(loaded(tmp_path), story)]
    assert f"waits first in line for {said}" in told
    assert not any("waits in line" in one for one in told)
    assert any(
        re.fullmatch(r"takes a clean kit with a battery, \d+ % charged", one) for one in told
    )


def test_whoever_stands_behind_others_is_said_to_wait_in_line(tmp_path):
    """Three entries a minute apart and one kit: the third stands behind the second."""
    case = tiny_trace(settings(), need=[0, 1, 2], room=30).situation(Stock(1, 9, 1))
    events = play(*case, events=True).events
    stories = [
        [words for _, words in story_words(loaded(tmp_path), story)]
        for entry in range(3)
        if (mine := events[events[:, 2] == entry]).size
        for story in [EntryStory(entry, 0, mine, case, ahead_of(events, entry))]
    ]
    told = "waits in line behind 1 other entry"
    assert [told in story for story in stories] == [False, False, True]
    assert stories[2].index("requests a kit") < stories[2].index(told)
    assert stories[2].index(told) < stories[2].index("waits first in line for a clean kit")


def test_a_story_names_a_hood_beside_a_kit_where_hoods_can_run_out(tmp_path):
    """Nobody has wiped the one kit, and there is no spare hood for it."""
    few = SCENARIO.replace("spare: 60, reorder_point: 40", "spare: 0, reorder_point: 0").replace(
        "kits: 4", "kits: 1"
    )
    exercise = load_exercise(small(tmp_path, scenario=few))
    tree = Tree(Surges(exercise).surge(3))
    case = tree.surge.situation((0, 0))
    events = play(*case, events=True).events
    said = {
        words
        for entry in set(events[events[:, 1] == Kind.FIRST_IN_LINE][:, 2].tolist())
        for _, words in story_words(
            exercise, EntryStory(entry, 0, events[events[:, 2] == entry], case)
        )
        if "first in line" in words
    }
    assert "waits first in line for a clean kit and a hood" in said
    assert not any("tube" in words or "blower" in words for words in said)


def test_the_facilitator_has_every_time_text_and_question(tmp_path):
    """Of a shipped exercise, which has all of them."""
    exercise = load_exercise(SHIPPED[0])
    comparison = compare(exercise, 7, count=2, processes=1)
    sheet = facilitator_sheet(Tree(Surges(exercise).surge(7)), comparison)
    text = unescape(page(sheet))
    for number, moment in enumerate(exercise.moments):
        assert f"<h2>{decision_named(exercise, number)}</h2>" in text
        happens = inject_words(exercise, number) or "only told"
        assert f"<dt>Inject</dt><dd>{happens}</dd>" in text
        for words in (moment.read_aloud, *moment.questions, moment.expect, moment.if_stuck):
            assert words in text
        for one in moment.choices:
            assert one.name in text


def test_headings_name_each_decision(tmp_path):
    exercise = loaded(tmp_path)
    tree = Tree(Surges(exercise).surge(3))
    heads = [one.text for one in blocks(evaluator_sheet(tree), Heading)]
    assert "Decision 2, 11:30: A second call" in heads
    assert blocks(players_sheet(tree), Rows)
