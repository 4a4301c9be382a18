"""Parts of a sizing on surges whose outcome is fixed by their number: worked out by hand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest

from surge_sim.engine.log import Score
from surge_sim.equipment.stock import Stock
from surge_sim.scenario.goal import Prices, Target
from surge_sim.sizing.certify import evidence_for, until_decided
from surge_sim.sizing.chain import ANYTIME, LOOKS, Chain, Link
from surge_sim.sizing.choose import Choice, choose
from surge_sim.sizing.leaning import LeaningLedger
from surge_sim.sizing.least_cost import _Proofs
from surge_sim.sizing.ledger import Ledger
from surge_sim.sizing.method import Case, Plan, size_case
from surge_sim.sizing.next_item import next_items
from surge_sim.sizing.player import ScenarioSurge, keeps_target
from surge_sim.sizing.space import Axis, Space
from surge_sim.sizing.trim import trim
from surge_sim.sizing.watch import one_by_one
from surge_sim.statistics.binomial import upper_limit
from tests.engine.tiny import settings, tiny_trace
from tests.sizing.stand_in import LIMITS, PRICES, TARGET

STOCK = Stock(3, 4, 2)


@dataclass(frozen=True)
class ByNumber:
    """``late`` says how many of 100 entries are late in a surge with a stock."""

    late: Callable[[int, Stock], int]
    target: Target = TARGET

    def surge(self, sample: int, number: int) -> OneSurge:
        return OneSurge(lambda stock: self.late(number, stock))


@dataclass(frozen=True)
class OneSurge:
    """One surge of it."""

    late: Callable[[Stock], int]

    def score(self, stock: Stock, full: bool = False) -> Score:
        late = self.late(stock)
        return Score(100, 0, late, 0, 0, 0, late > 5 and not full)


def ledger_of(late: Callable[[int, Stock], int], full: bool = False) -> Ledger:
    return Ledger(ByNumber(late), one_by_one, full=full)


def leaning_on(late: Callable[[int, Stock], int]) -> LeaningLedger:
    return LeaningLedger(ledger_of(late), 300)


def test_candidates_and_what_is_left_out_of_them_share_the_chance_of_error() -> None:
    """Of 5 % the candidates have 4 % (each: they are tested in order); two of them share 1 %."""
    links = tuple(Link(STOCK, cost, 0.95, LOOKS) for cost in (9.0, 8.0))
    chain = Chain(links, 300, 0.9, 0.05)
    assert chain.level == pytest.approx(0.04)
    assert chain.level + chain.kept * len(links) == pytest.approx(chain.alpha)


@pytest.mark.parametrize(("misses", "left_out"), [(2, False), (1, True)])
def test_a_lot_looked_at_after_any_surge_is_left_out_by_its_own_part_of_the_chance(
    misses: int, left_out: bool
) -> None:
    """One candidate, two items: each lot has 5 % x 0.2 / 2 = 1 of 200. The evidence of 98 of 100
    surges is 61: enough for a candidate (25), not for a lot; that of 99 is 335.
    """
    candidate, less = Stock(3, 4, 2), Stock(3, 3, 2)
    ledger = ledger_of(lambda number, stock: 0 if stock == less and number % 100 >= misses else 100)
    links = (Link(candidate, 9.0, 1.0, ANYTIME),)
    chain = Chain(links, 100, 0.9, 0.05, ("kits", "batteries"), look_on=100)
    stock, _ = trim(ledger, chain, candidate, Prices())
    assert stock == (less if left_out else candidate)


def test_of_several_lots_that_pass_the_cheapest_rest_is_kept_though_it_passes_later() -> None:
    """Without a kit, the dear item, 145 of 150 surges are kept, but 95 of the first 100; without
    a battery all of them.
    """
    kit_less, battery_less = Stock(2, 4, 2), Stock(3, 3, 2)

    def late(number: int, stock: Stock) -> int:
        if stock == kit_less:
            return 100 * (number < 5)
        return 100 * (stock != battery_less)

    chain = Chain((), 300, 0.9, 0.05, ("kits", "batteries"), look_on=300)
    stock, _ = trim(ledger_of(late), chain, Stock(3, 4, 2), Prices())
    assert stock == kit_less


def test_passes_are_counted_on_the_surges_asked_for() -> None:
    """Every fourth surge is missed: 15 of the first 20 keep the target, though 40 were played."""
    ledger = ledger_of(lambda number, stock: 6 if number % 4 == 0 else 5)
    ledger.extend([STOCK], 40)
    assert ledger.passes(STOCK, 20) == 15
    assert ledger.passes(STOCK) == 30


def test_a_neighbour_far_below_fails_and_one_near_the_share_is_undecided() -> None:
    chain = Chain((), 200, 0.9, 0.05)
    for every, verdict in ((2, "fails"), (10, "undecided"), (50, "passes")):
        ledger = ledger_of(lambda number, stock, every=every: 9 * (number % every == 0))
        assert evidence_for(ledger, STOCK, "one kit less", chain).verdict == verdict


def test_a_stock_is_played_on_until_it_is_decided_or_can_hardly_be() -> None:
    """That nothing is kept is seen at the first look, five of six at the second; ten of eleven is
    neither shown to fail nor to pass, and is given up half-way; all surges pass to the end.
    """
    chain = Chain((), 800, 0.9, 0.05)
    every = {0: 1, 1: 6, 2: 11, 3: 10_000}
    ledger = ledger_of(lambda number, stock: 9 * (number % every[stock.kits] == 0))
    stocks = [Stock(kits, 4, 2) for kits in every]
    until_decided(ledger, stocks, chain, 0.001)
    assert [ledger.played(stock) for stock in stocks] == [100, 200, 400, 800]
    assert upper_limit(ledger.passes(stocks[1], 100), 100, 0.0025) > 0.9
    assert upper_limit(ledger.passes(stocks[1], 200), 200, 0.005) < 0.9


def test_a_stock_just_below_the_share_is_not_ruled_out_by_the_least_cost() -> None:
    """Seven of eight surges keep the target: of 300 that may still be nine in ten. Half may not.
    Sample A, all of it kept, says nothing against either.
    """
    space = Space(STOCK, Axis("kits", 3, 3))
    choice = Choice(space, np.zeros((40, 1), dtype=np.int16), 0, PRICES, STOCK, 0.9)
    near, far = (
        _Proofs(leaning_on(lambda number, stock, n=n: 9 * (number % n == 0)), choice, 0.9, 0.05)
        for n in (8, 2)
    )
    assert not near.fails(STOCK, [])
    assert far.fails(STOCK, [])


def test_sample_a_alone_rules_out_what_it_shows_to_fail() -> None:
    """Of 40 surges 28 need a second kit. P(Bin(40, 0.9) <= 12) is next to nothing: one kit fails,
    and no surge of sample B is played for it. With 34 of 40 on target it stays open.
    """
    space = Space(STOCK, Axis("kits", 1, 2))
    for needing, failed in ((28, [Stock(1, 4, 2)]), (6, [])):
        least = np.zeros((40, 1), dtype=np.int16)
        least[:needing] = 1
        choice = Choice(space, least, 0, PRICES, STOCK, 0.9)
        proofs = _Proofs(leaning_on(lambda number, stock: 0), choice, 0.9, 0.05)
        assert proofs.failed == failed
        assert proofs.results.plays == 0


def test_a_target_that_plenty_keeps_nearly_always_is_within_reach() -> None:
    """Surge 3 is missed with any stock; the others need 3 kits."""
    player = ByNumber(lambda number, stock: 9 * (number == 3 or stock.kits < 3))
    choice = choose(player, Stock(1, 4, 2), ("kits",), PRICES, LIMITS, 40, one_by_one)
    assert choice.cheapest(0.9) == Stock(3, 4, 2)


def eight_in_all(number: int, stock: Stock) -> int:
    """Kits and batteries count alike: eight are enough in every surge, with one kit at least."""
    return 9 * (stock.kits + stock.batteries < 8 or stock.kits < 1)


def test_the_cheapest_of_all_lines_and_the_frontier_without_what_failed() -> None:
    """A battery costs a fifth of a kit: 1 kit and 7 batteries. If that was shown to fail, and with
    it all that has no more, the frontier goes on with 2 kits and 6 batteries.
    """
    player, vary = ByNumber(eight_in_all), ("kits", "batteries")
    choice = choose(player, Stock(1, 1, 2), vary, PRICES, LIMITS, 40, one_by_one)
    assert choice.cheapest(0.9) == Stock(1, 7, 2)
    mixes = choice.frontier(0.9)
    assert {stock.kits + stock.batteries for stock in mixes} == {8}
    assert Stock(2, 6, 2) in mixes
    left = choice.frontier(0.9, failed=[Stock(2, 6, 2)])
    assert Stock(2, 6, 2) not in left and Stock(3, 6, 2) not in mixes
    assert all(stock.kits > 2 or stock.batteries > 6 for stock in left)


def test_the_chance_of_error_is_what_the_confidence_leaves() -> None:
    case = Case("by number", ByNumber(eight_in_all), Stock(1, 1, 2), PRICES, LIMITS)
    found = size_case(case, Plan(choose=40, certify=60, confidence=0.8, compare=False))
    assert found.chain.alpha == pytest.approx(0.2)
    assert found.recommended == Stock(1, 7, 2)


def late_by_hand(number: int, stock: Stock) -> int:
    """Even surges are missed by one entry, unless there is a kit more; a bay less hurts surge 1."""
    more_kits = stock.kits > STOCK.kits
    return (0 if more_kits else 6 if number % 2 == 0 else 2) + 9 * (number == 1 and stock.bays < 2)


def test_what_one_item_more_or_less_does() -> None:
    """One kit more: 10 of 20 surges gained; 4 of 100 entries on average, for 2 of money."""
    prices = Prices(kit=2.0, battery=1.0, charger=1.0)
    names = ("kits", "batteries", "bays")
    found = next_items(ledger_of(late_by_hand, full=True), STOCK, names, prices, 20)
    rows = found.table.set_index("change")
    kit, battery, bay = rows.loc["+1 kit"], rows.loc["+1 battery"], rows.loc["-1 bay"]
    assert found.passes == 10
    assert (kit["surges_gained"], kit["surges_lost"], kit["surges_gain"]) == (10, 0, 0.5)
    assert kit["entries_gain"] == pytest.approx(0.04)
    assert kit["per_money"] == pytest.approx(0.02)
    assert (battery["surges_gained"], battery["surges_lost"], battery["entries_gain"]) == (0, 0, 0)
    assert (bay["surges_gained"], bay["surges_lost"]) == (0, 1)
    assert bool(kit["tells"]) and not bool(battery["tells"])
    assert found.reading.startswith("buy 1 kit next")


@pytest.mark.parametrize(("late", "kept"), [(0, True), (1, True), (2, False)])
def test_a_surge_with_just_so_many_late_entries_keeps_its_target(late: int, kept: bool) -> None:
    """Of 20 entries one may be late at 95 %: each pair 2 apart on one kit makes one late."""
    due = [60 * place for place in range(20 - late)]
    need = sorted([*due, *(60 * place + 2 for place in range(late))])
    trace = tiny_trace(settings(), need=need, room=20)
    stock = Stock(1, 9, 9)
    _, unit, _, start, timeline = trace.case(stock)
    surge = ScenarioSurge(trace, unit, start, timeline, trace.settings.target, "reference")
    assert surge.score(stock, full=True).late == late
    assert keeps_target(surge, stock, trace.settings.target) == kept
    assert surge.score(stock).given_up != kept
