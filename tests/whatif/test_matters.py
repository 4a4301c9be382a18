"""A study of inputs plays what it says, and its numbers are those of its plays."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from surge_sim import ScenarioError, play, run, situation_of
from surge_sim.engine.surges import workers
from surge_sim.equipment.stock import Stock
from surge_sim.randomness import Sample
from surge_sim.report import matters_answer, matters_table
from surge_sim.report.document import Table
from surge_sim.report.input_words import figure_words, table_words
from surge_sim.report.matters_screen import matters_screen
from surge_sim.report.terminal import render
from surge_sim.scenario.ranges import Range
from surge_sim.statistics.intervals import Interval
from surge_sim.statistics.target import parts_missed, score_of
from surge_sim.whatif.design import CHANCE, Alternative
from surge_sim.whatif.input_design import ALL, Ladder, design_for, ends_of, inputs_of, second_of
from surge_sim.whatif.inputs import used_inputs
from surge_sim.whatif.matters import PassingStock, study
from surge_sim.whatif.play import first_stage_on_target

STOCKS = tuple(Stock(2 + more, 5 + 2 * more, 4 + more) for more in range(8))
LADDER = Ladder(STOCKS, tuple(100.0 * more for more in range(8)))
SURGES = 12
TWO = {
    "arrivals.baseline": {"low": "1 per day", "high": "6 per day"},
    "batteries.charge_time": {"low": "4 h", "high": "12 h"},
}


@pytest.fixture(scope="module")
def ranged(ward):
    return ward.changed({**TWO, "stock.kits": 2, "stock.batteries": 5, "stock.bays": 4})


@pytest.fixture(scope="module")
def found(ranged):
    with workers(1) as place:
        return study(ranged, place, LADDER, SURGES, seed=4)


def test_an_input_that_is_held_gives_the_numbers_of_a_run_with_that_value(ranged, found):
    for number, one in enumerate(found.inputs):
        for name, end in zip(ends_of(number), ("low", "high"), strict=True):
            fixed = ranged.changed({one.name: TWO[one.name][end]})
            surges = run(fixed, surges=SURGES, seed=4, processes=1).surges
            assert found.played.of(name)["in_time"].tolist() == surges["in_time"].tolist(), name


def test_the_second_surge_is_a_plain_surge_of_another_sample(ranged, found):
    for surge in range(3):
        case = situation_of(ranged, STOCKS[0], 4, surge, Sample.SECOND)
        row = found.played.of(ALL)[surge]
        assert row["entries"] == case.demand.entries
        assert row["wait_s"] == play(*case).wait_s.sum()


def test_one_input_of_the_second_surge_leaves_all_else_as_it_is(ranged):
    design = design_for(ranged, used_inputs(ranged), seed=4)
    by_name = {one.name: one for one in design.alternatives}
    plain = by_name["as it is"].settings_for(4, 3)
    other = by_name[ALL].settings_for(4, 3)
    mixed = by_name[second_of(1)].settings_for(4, 3)
    assert mixed.arrivals == plain.arrivals != other.arrivals
    assert mixed.batteries == other.batteries != plain.batteries
    chance = by_name[CHANCE]
    assert chance.settings_for(4, 3) == plain
    assert (chance.sample, by_name[second_of(1)].sample) == (Sample.SECOND, Sample.RUN)


def test_what_is_taken_from_a_second_surge_and_the_ladder_belong_to_the_key(ranged):
    plain = Alternative("a", ranged)
    others = [
        replace(plain, second=(CHANCE,)),
        replace(plain, second=("batteries.charge_time",)),
        replace(plain, ladder=STOCKS),
    ]
    assert len({one.key for one in (plain, *others)}) == 4


def test_the_first_stage_on_target_is_that_of_playing_all_of_them(ranged, found):
    for surge in range(SURGES):
        settings = ranged.settings_for(4, Sample.RUN, surge)
        case = situation_of(ranged, STOCKS[0], 4, surge)
        keeps = []
        for stock in STOCKS:
            there = case._replace(stock=stock)
            score = score_of(play(*there), case.demand.urgent, settings.target)
            keeps.append(not parts_missed(score, settings.target))
        # more stock hurts in none of these surges
        assert keeps == sorted(keeps)
        true = keeps.index(True) if True in keeps else len(STOCKS)
        assert found.played.of("as it is")["stage"][surge] == true
        for guess in range(len(STOCKS) + 1):
            assert first_stage_on_target(case, STOCKS, settings.target, "compiled", guess) == true
    assert len(set(found.played.of("as it is")["stage"].tolist())) > 2


def test_a_search_for_the_first_stage_on_target_needs_no_surge_twice(ranged):
    """Four plays at most for eight stocks: the first one, and halving of the seven others."""
    played = []
    settings = ranged.settings_for(4, Sample.RUN, 0)
    case = situation_of(ranged, STOCKS[0], 4, 0)

    class Counted(tuple):
        def __getitem__(self, number):
            played.append(number)
            return super().__getitem__(number)

    first_stage_on_target(case, Counted(STOCKS), settings.target, "compiled")
    assert len(played) == len(set(played)) <= 4


def test_the_stock_to_add_suffices_in_the_share_of_surges(found):
    share = found.scenario.settings.target.share_of_surges
    for one in found.effects:
        number = found.inputs.index(one.input)
        for name, passing in zip(ends_of(number), one.passing, strict=True):
            rungs = found.played.of(name)["stage"]
            enough = math.ceil(share * SURGES)
            assert (rungs <= passing.place).sum() >= enough > (rungs < passing.place).sum()


def test_service_is_that_of_all_entries_and_its_difference_is_paired(found):
    for one in found.effects:
        low, high = (found.played.of(n) for n in ends_of(found.inputs.index(one.input)))
        ends = [rows["in_time"].sum() / rows["entries"].sum() for rows in (low, high)]
        assert [one.service.base, one.service.value] == pytest.approx(ends)
        assert one.service.by.estimate == pytest.approx(ends[1] - ends[0])


def test_the_inputs_that_move_most_come_first(found):
    moved = [abs(one.money.estimate) for one in found.effects]
    assert moved == sorted(moved, reverse=True)
    assert found.table["input"].tolist() == [*(one.input.name for one in found.effects), CHANCE]


def test_the_number_of_processes_makes_no_difference(ranged, found):
    with workers(2) as place:
        again = study(ranged, place, LADDER, SURGES, seed=4)
    assert np.array_equal(again.played.rows, found.played.rows)
    assert again.table.equals(found.table)


def test_without_a_range_it_is_said_what_to_do(ward):
    with pytest.raises(ScenarioError, match=r"no input with a range(.|\n)*--spread 25%"):
        inputs_of(ward, 20)


def test_more_than_fits_is_refused_before_it_is_played(ranged):
    with pytest.raises(ScenarioError, match=r"--surges(.|\n)*Use 10,000 at most"):
        inputs_of(ranged, 10_001)


@pytest.mark.parametrize(("share", "told"), [(0.0, True), (0.004, True), (0.2, False)])
def test_an_input_that_decides_and_has_no_share_alone_is_explained(found, monkeypatch, share, told):
    first = found.effects[0]
    alone = first.index._replace(first=Interval(share, None, None))
    monkeypatch.setattr(matters_answer, "first_to_measure", lambda _: replace(first, index=alone))
    assert matters_answer.answer_words(found).startswith("Measure the ")
    said = " ".join(render(matters_answer.matters_answer(found)).split())
    assert ("By itself it makes up about 0 % because" in said) is told


def with_value(found, interval):
    """Return the study with this worth of knowing the first input."""
    first = replace(found.effects[0], value=interval)
    told = replace(found)
    told.__dict__["effects"] = (first, *found.effects[1:])
    return told


@pytest.mark.parametrize(("low", "shown"), [(-5.0, False), (None, False), (5.0, True)])
def test_what_knowing_is_worth_is_told_only_where_it_is_shown(found, low, shown):
    told = with_value(found, Interval(390.0, low, None if low is None else 800.0))
    table = matters_table.effects_table(told)
    heads = [column.header for column in table.columns]
    cells = " ".join(cell for row in table.rows for cell in row)
    assert ("390" in cells) is shown
    if not shown and not any(matters_table.is_shown(one.value) for one in told.effects):
        assert "Worth knowing" not in heads


def test_the_screen_shows_the_values_tried_and_the_whole_answer_what_each_makes_up(found):
    """Parts of the variance are in the whole answer alone, with a head that says of what."""
    screen, whole = matters_screen(found), matters_answer.matters_answer(found)
    tables = [next(b for b in one.blocks if isinstance(b, Table)) for one in (screen, whole)]
    heads = [[column.header for column in table.columns] for table in tables]
    assert heads[0][1] == "Low to high" and not any("variation" in head for head in heads[0])
    assert [head for head in heads[1] if head.startswith("Of the variation:")]
    values = {row[1] for row in tables[0].rows}
    assert values == {"1 to 6 per day", "4 to 12 h"}
    names = [[row[0] for row in table.rows] for table in tables]
    assert names[1] == [*names[0], "random variation"]


def test_what_must_be_added_is_told_at_both_values_with_its_price(found):
    first = matters_answer.first_to_measure(found)
    said = matters_answer.answer_words(found)
    low, _, high = matters_table.values_words(found, first.input)
    stocks = [matters_answer.passing_words(found, passing) for passing in first.passing]
    assert f"At its low value ({low}) {stocks[0]} for " in said
    assert (
        f" would have to be added to meet the target, at its high value ({high}) {stocks[1]}"
        in said
    )


def test_what_random_variation_may_have_made_is_written_as_undecided(found):
    """Numbers that differ the wrong way by chance would be read as what comes of a value."""
    first = found.effects[0]
    by = Interval(0.01, -0.02, 0.04)
    open_one = replace(first, service=first.service._replace(by=by), money=Interval(50.0, 0, 90.0))
    told = replace(found)
    told.__dict__["effects"] = (open_one,)
    name, _, in_time, to_add, *_ = matters_table.effects_table(told).rows[0]
    assert (in_time, to_add) == ("undecided", "undecided")
    assert figure_words(open_one, False) == f"{name}\nundecided"
    assert not open_one.is_shown


def test_another_stock_that_costs_nothing_is_a_change(found):
    """Things without a price: the stock to add differs, the money does not."""
    told = replace(found, ladder=Ladder(STOCKS, (0.0,) * len(STOCKS)))
    nothing = Interval(0.0, 0.0, 0.0)
    one, other, beyond = (PassingStock(Interval(at, at, at)) for at in (1.0, 3.0, 8.0))
    for passing, words in (
        ((one, other), "another stock"), ((one, one), "no change"),
        ((one, beyond), "0 to more than tried"),
        # what is needed at either value is not known
        ((beyond, beyond), "undecided"),
    ):  # fmt: skip
        effect = replace(found.effects[0], money=nothing, passing=passing)
        told.__dict__["effects"] = (effect,)
        assert matters_table.effects_table(told).rows[0][3] == words


def test_inputs_that_are_shown_to_move_the_answer_come_first(found):
    shown = [one.is_shown for one in found.effects]
    assert shown == sorted(shown, reverse=True)


@pytest.mark.parametrize(
    ("name", "words", "is_set"),
    [
        ("arrivals.baseline", "rate of new patients (arrivals)", False),
        ("cleaning.drying_time", "drying time", True),
        ("cleaning.wipe_down.cv", "wipe-down: spread", True),
        ("kit.don.mean", "donning: mean", True),
        ("roles.nurse.room_time.p90", "room time: 90th percentile (nurse)", False),
        ("arrivals.wave.extra_at_peak", "extra patients at the wave's peak (arrivals)", False),
        ("arrivals.wave.peak", "moment of the wave's peak (arrivals)", False),
        ("batteries.minimum_run_time", "minimum run time", True),
        ("roles.nurse.don", "donning (nurse)", True),
        ("batteries.charge_time", "charge time (batteries)", False),
    ],
)
def test_an_input_has_a_plain_name_and_times_are_no_choice(name, words, is_set):
    one = Range(tuple(name.split(".")), "time", 1.0, 2.0)
    assert table_words(one) == (f"{words}, not a choice" if is_set else words)


@pytest.mark.parametrize(("low", "high", "noted"), [(0.9, 0.8, True), (0.8, 0.9, False)])
def test_worn_batteries_that_seem_to_serve_better_have_a_note(found, low, high, noted):
    first = found.effects[0]
    service = first.service._replace(base=low, value=high, by=Interval(high - low, 0.05, 0.2))
    health = Range(("batteries", "state_of_health"), "share", 0.8, 1.0)
    told = replace(found)
    told.__dict__["effects"] = (replace(first, input=health, service=service),)
    assert any("no reason to keep worn" in text for text in matters_answer.hints(told)) is noted
