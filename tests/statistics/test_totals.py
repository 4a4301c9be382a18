"""Totals of parts joined are the totals of all surges added one by one, to the last bit."""

import pickle
from dataclasses import fields, is_dataclass, replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import surge_sim
from surge_sim.equipment.stock import Stock
from surge_sim.statistics.moments import RatioSums
from surge_sim.statistics.run import PlayAndSummarise, no_totals
from surge_sim.statistics.summary import SurgeSummary, summarise
from surge_sim.statistics.totals import BAND_SURGES, Totals
from surge_sim.statistics.waits import Histogram
from tests.conftest import ROOT

DAYS, SURGES = 3, 12
STOCK = Stock(kits=3, batteries=5, bays=2)


@pytest.fixture(scope="module")
def scenario():  # type: ignore[no-untyped-def]
    """Three days of the small shipped unit."""
    whole = surge_sim.load_scenario(ROOT / "scenarios" / "rule_out_unit.yaml")
    return replace(whole, settings=whole.settings.model_copy(update={"horizon": DAYS * 86_400}))


@pytest.fixture(scope="module")
def summaries(scenario) -> list[SurgeSummary]:  # type: ignore[no-untyped-def]
    found = []
    for surge in range(SURGES):
        trace = surge_sim.draw_demand(scenario, seed=3, surge=surge)
        log = surge_sim.simulate(trace, STOCK, engine="reference")
        found.append(summarise(trace, log, scenario.settings.target))
    return found


def added(scenario, summaries: list[SurgeSummary]) -> Totals:  # type: ignore[no-untyped-def]
    totals = no_totals(scenario.settings)
    for summary in summaries:
        totals.take(summary)
    return totals


def numbers(found: object) -> object:
    """Everything in totals as plain values; what waits to be added is added first."""
    if isinstance(found, Histogram):
        found.settle()
    if isinstance(found, RatioSums):
        kept = found.__getstate__()
        return [kept["surges"], [[int(one) for one in row] for row in kept["_sums"]]]
    if is_dataclass(found):
        return {one.name: numbers(getattr(found, one.name)) for one in fields(found)}
    if isinstance(found, np.ndarray):
        return [str(found.dtype), found.tolist()]
    if isinstance(found, list):
        return [numbers(one) for one in found]
    return repr(found)


def joined(scenario, summaries: list[SurgeSummary], ends: list[int], send: bool) -> Totals:  # type: ignore[no-untyped-def]
    totals = no_totals(scenario.settings)
    for start, end in zip([0, *ends], [*ends, len(summaries)], strict=True):
        if end == start:
            continue
        part = added(scenario, summaries[start:end])
        totals.take(pickle.loads(pickle.dumps(part)) if send else part)
    return totals


@pytest.mark.parametrize("send", [False, True], ids=["here", "sent"])
@given(ends=st.lists(st.integers(0, SURGES), max_size=5).map(sorted))
def test_parts_joined_are_all_surges_added(scenario, summaries, send, ends):
    """However the surges are split, and whether or not the parts came from another process."""
    assert numbers(joined(scenario, summaries, ends, send)) == numbers(added(scenario, summaries))


def test_the_comparison_would_see_one_surge_less(scenario, summaries):
    """Every field of the totals differs, but for what is the same for all surges."""
    whole, less = (numbers(added(scenario, some)) for some in (summaries, summaries[1:-1]))
    same = {name for name in whole if whole[name] == less[name]}
    # drawn surges have no recorded waits
    fixed = {"target_wait_s", "horizon_s", "closing_s", "slices", "recorded"}
    assert fixed <= same <= fixed | {"highest_peak"}


def test_parts_go_on_after_surges_and_surges_after_parts(scenario, summaries):
    totals = added(scenario, summaries[:4])
    totals.take(added(scenario, summaries[4:9]))
    for summary in summaries[9:]:
        totals.take(summary)
    assert numbers(totals) == numbers(added(scenario, summaries))


def test_the_band_is_of_the_first_surges_wherever_they_are_added_up(scenario, summaries):
    """A part that begins short of the last surge of the band gives the band what is left."""
    last = [
        replace(summary, surge=BAND_SURGES - 2 + place)
        for place, summary in enumerate(summaries[:5])
    ]
    assert len(added(scenario, last).band) == 2
    totals = no_totals(scenario.settings)
    totals.take(added(scenario, last))
    assert len(totals.band) == 2


@given(st.lists(st.integers(0, 10**7), min_size=2, max_size=40), st.integers(1, 39), st.booleans())
def test_sums_of_ratios_join_exactly_even_beyond_the_room_of_machine_numbers(counts, cut, send):
    """Third powers of 10⁷ pass 2⁶³ at once: the sums then travel as whole numbers of any size."""
    whole, parts = RatioSums(1), (RatioSums(1), RatioSums(1))
    for place, count in enumerate(counts):
        pair = np.array([count]), np.array([10**7])
        whole.add(*pair)
        parts[place >= cut].add(*pair)
    first, second = (pickle.loads(pickle.dumps(one)) if send else one for one in parts)
    first.join(second)
    assert numbers(first) == numbers(whole)
    # and goes on as before
    first.add(np.array([7]), np.array([10**7]))
    whole.add(np.array([7]), np.array([10**7]))
    assert numbers(first) == numbers(whole)


def test_small_surges_come_in_parts_and_every_surge_once(scenario):
    """The first surge shows how small they are; all that follow fit together here."""
    parts = list(PlayAndSummarise(scenario, STOCK, 3, "reference").over(range(SURGES)))
    assert [part.surges for part in parts] == [1, SURGES - 1]
    totals = no_totals(scenario.settings)
    for part in parts:
        totals.take(part.found)
    assert totals.rows.table()["surge"].tolist() == list(range(SURGES))
