"""The answer of a sizing in words, on small cases whose truth is known."""

from __future__ import annotations

from dataclasses import replace

import pytest

from surge_sim.cautions import CAUTION
from surge_sim.equipment.stock import Stock
from surge_sim.report.sizing_text import LINES, size_text
from surge_sim.sizing.method import Case, Plan, size_case
from surge_sim.sizing.result import SizeResult
from surge_sim.sizing.watch import Watch
from tests.sizing.known import Known
from tests.sizing.stand_in import LIMITS, PRICES

IN_HAND = Stock(5, 9, 2)
PLAN = Plan(choose=60, certify=200)


def sized(chance) -> SizeResult:  # type: ignore[no-untyped-def]
    case = Case("known", Known(1, chance), IN_HAND, PRICES, LIMITS, title="A known case (invented)")
    return size_case(case, PLAN)


def enough(kits: int, batteries: int) -> float:
    """Every surge keeps the target, or none: nothing is left to luck."""
    return float(kits >= 8 and batteries >= 13)


@pytest.fixture(scope="module")
def plain() -> SizeResult:
    """Bays make no difference."""
    return sized(lambda stock: enough(stock.kits, stock.batteries))


@pytest.fixture(scope="module")
def with_bays() -> SizeResult:
    """Each bay beyond two does as much as six kits and nine batteries."""
    return sized(
        lambda stock: enough(
            stock.kits + 6 * (stock.bays - 2), stock.batteries + 9 * (stock.bays - 2)
        )
    )


def flat(result: SizeResult) -> str:
    return " ".join(size_text(result).split())


def test_a_target_of_many_parts_is_wrapped(plain: SizeResult) -> None:
    parts = {"most_alarms_per_1000": 40.0, "most_stock_outs": 12}
    long = replace(plain, target=plain.target.model_copy(update=parts))
    text = size_text(long)
    assert max(map(len, text.splitlines())) <= 80
    assert "at most 40 alarms per 1,000 entries; at most 12 stock-outs. Scenario" in flat(long)


def test_where_nothing_is_to_be_bought_no_next_step_is_named(plain: SizeResult) -> None:
    assert plain.next_in_hand is not None
    assert "Next step" in size_text(plain)
    for in_hand in (plain.recommended, replace(plain.recommended, batteries=20)):
        assert "Next step" not in size_text(replace(plain, in_hand=in_hand))


def test_one_candidate_is_no_candidates() -> None:
    """Only the greatest stock within the limits keeps the target: nothing dearer is left to try."""
    most, said = LIMITS, []
    only = Known(1, lambda stock: float(stock.kits >= most.kits and stock.batteries >= 2))
    case = Case("known", only, IN_HAND, PRICES, LIMITS)
    size_case(case, replace(PLAN, vary=("kits",)), watch=Watch(said.append))
    assert [
        line for line in said if line.startswith("1 candidate fixed before the test (checksum ")
    ]


def test_the_title_stands_where_a_run_has_it(plain: SizeResult) -> None:
    assert "Scenario A known case (invented) Surges 60 chose, 200 fresh" in flat(plain)
    long = size_text(replace(plain, title="word " * 40))
    assert max(map(len, long.splitlines())) <= 80
    assert "word ...\nSurges" in long


def test_what_was_held_fixed_is_said_with_the_option_that_searches_it(plain: SizeResult) -> None:
    said = flat(plain)
    assert "Held fixed 2 bays; --vary kits,batteries,bays searches bays too." in said
    assert "would help" not in said
    everything = replace(plain, vary=("kits", "batteries", "bays"))
    assert "Held fixed" not in size_text(everything)
    crew = replace(plain, could_vary=("kits", "batteries", "bays", "crew"))
    assert "Held fixed 2 bays and the crew; --vary kits,batteries,bays searches" in flat(crew)


def test_an_item_held_fixed_that_would_help_is_said(with_bays: SizeResult) -> None:
    said = flat(with_bays)
    assert (
        "Held fixed 2 bays, though more bays would help: --vary kits,batteries,bays searches bays "
        "too and may find a cheaper stock." in said
    )
    assert "one thing at a time: buy 1 bay next" in said
    everything = replace(with_bays, vary=("kits", "batteries", "bays"))
    assert "would help" not in size_text(everything)


def test_the_stock_behind_the_lower_end_of_the_least_cost_is_named(plain: SizeResult) -> None:
    least = plain.least_cost
    open_one = Stock(9, 14, 2)
    said = flat(
        replace(plain, least_cost=replace(least, low=12.4, high=13, cheapest_open=open_one))
    )
    assert (
        "Least cost with 2 bays, 12.4 to 13: the first stock not ruled out is 9 kits, 14 "
        "batteries, 2 bays. All cheaper ones fail, with 95 % confidence, if more stock never "
        "hurts" in said
    )
    closed = flat(replace(plain, least_cost=replace(least, low=13, high=13, cheapest_open=None)))
    assert "no cheaper stock is left that may keep the target, with 95 % confidence" in closed


def test_a_least_cost_below_the_first_open_stock_says_that_it_is_of_stocks_not_searched(
    plain: SizeResult,
) -> None:
    """9 kits, 14 batteries and 2 bays cost 12.4: not all that costs less, from 0, was searched."""
    least = replace(plain.least_cost, low=0.0, high=13, cheapest_open=Stock(9, 14, 2))
    said = flat(replace(plain, least_cost=least))
    assert "0 to 13: of the stocks searched the first stock not ruled out is 9 kits, 14" in said
    assert "all cheaper ones of them fail" in said and "All cheaper ones fail" not in said
    assert "than was searched are not all ruled out, hence 0." in said
    none = flat(replace(plain, least_cost=replace(least, cheapest_open=None)))
    assert "0 to 13: of the stocks searched all cheaper ones fail, with 95 % confidence," in none
    assert "no cheaper stock is left" not in none and "hence 0." in none


def test_fewer_batteries_than_kits_are_explained_by_their_use(plain: SizeResult) -> None:
    """It follows from how kits are used, not from the number that happens to be recommended."""
    said = flat(replace(plain, recommended=Stock(20, 13, 2)))
    assert "(fewer batteries than kits: a kit takes one when it is put on, and needs none" in said
    assert "13 kits" not in said
    assert "fewer" not in flat(replace(plain, recommended=Stock(13, 20, 2)))


def test_notes_are_said_as_far_as_the_screen_goes(plain: SizeResult) -> None:
    two = size_text(replace(plain, notes=("One thing.", "Another thing.")))
    assert "Note          One thing.\nNote          Another thing.\n" in two
    many = size_text(replace(plain, notes=("Something to look at. " * 6,) * 9))
    assert len(many.splitlines()) <= LINES
    assert "more: see summary.json, or --json." in many
    assert many.endswith(CAUTION)


def test_the_best_stock_for_a_budget_is_said_to_be_a_whole_one() -> None:
    """The money is not for additions to what is in hand, which stands in a line of its own."""
    case = Case(
        "known", Known(1, lambda stock: enough(stock.kits, stock.batteries)), IN_HAND, PRICES,
        LIMITS,
    )  # fmt: skip
    text = size_text(size_case(case, replace(PLAN, budget=60.0)))
    words = " ".join(text.split())
    assert "Budget 60 units of money reaches the target: the best whole stock for it, what" in words
    assert "what is in hand not counted, is " in words
    assert len(text.splitlines()) <= LINES
    assert max(map(len, text.splitlines())) <= 80


def test_the_verdicts_on_one_less_begin_in_one_column(plain: SizeResult) -> None:
    lines = size_text(plain).splitlines()
    first = next(n for n, line in enumerate(lines) if line.startswith("One less"))
    rows = lines[first : first + 3]
    verdicts = [entry.verdict for entry in plain.evidence[1:] if entry.role.endswith("less")]
    assert len(verdicts) == 3
    assert len({row.rindex(word) for row, word in zip(rows, verdicts, strict=True)}) == 1
