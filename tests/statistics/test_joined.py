"""Summaries put together are the same to the last bit, however the surges were split."""

import pickle
from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import surge_sim
from surge_sim.equipment.stock import Stock
from surge_sim.statistics.summary import BAND_SURGES, Layout, Summary, joined, summarise
from tests.conftest import ROOT

DAYS, SURGES = 3, 12
STOCK = Stock(kits=3, batteries=5, bays=2)


@pytest.fixture(scope="module")
def scenario():  # type: ignore[no-untyped-def]
    """Three days of the small shipped unit."""
    whole = surge_sim.load_scenario(ROOT / "scenarios" / "rule_out_unit.yaml")
    return replace(whole, settings=whole.settings.model_copy(update={"horizon": DAYS * 86_400}))


@pytest.fixture(scope="module")
def summaries(scenario) -> list[Summary]:  # type: ignore[no-untyped-def]
    found, layout = [], Layout.of(scenario.settings)
    for surge in range(SURGES):
        case = surge_sim.situation_of(scenario, STOCK, seed=3, surge=surge)
        log = surge_sim.play(*case, engine="reference")
        found.append(summarise(case.demand, log, layout))
    return found


def numbers(summary: Summary) -> dict[str, object]:
    """Everything in a summary as plain values."""
    found = {one.name: getattr(summary, one.name) for one in fields(summary)}
    return {name: [array.dtype, array.shape, array.tobytes()] for name, array in found.items()}


@pytest.mark.parametrize("send", [False, True], ids=["here", "sent"])
@given(ends=st.lists(st.integers(0, SURGES), max_size=5).map(sorted))
def test_parts_joined_are_all_surges_joined(summaries, send, ends):
    """However the surges are split, and whether or not the parts came from another process."""
    bounds = zip([0, *ends], [*ends, SURGES], strict=True)
    parts = [joined(summaries[start:end]) for start, end in bounds if start < end]
    if send:
        parts = pickle.loads(pickle.dumps(parts))
    assert numbers(joined(parts)) == numbers(joined(summaries))


def test_the_comparison_would_see_one_surge_less(summaries):
    """Every field differs, but for that of recorded waits, which drawn surges have not."""
    whole, less = (numbers(joined(some)) for some in (summaries, summaries[1:-1]))
    assert {name for name in whole if whole[name] == less[name]} == {"by_entry"}


def test_every_surge_has_a_row_and_what_is_beside_the_rows_is_summed(summaries):
    whole = joined(summaries)
    assert len(whole) == SURGES
    assert whole.rows["surge"].tolist() == list(range(SURGES))
    assert whole.use_s.sum() == whole.rows["use_s"].sum()
    assert whole.waits[1].sum() == whole.rows["requests"][:, 0].sum()


def test_the_band_is_of_the_first_surges_wherever_they_are_put_together(scenario):
    last = [surge_sim.situation_of(scenario, STOCK, surge=BAND_SURGES + more) for more in (-1, 0)]
    layout = Layout.of(scenario.settings)
    logs = [surge_sim.play(*case, engine="reference") for case in last]
    parts = [summarise(c.demand, log, layout) for c, log in zip(last, logs, strict=True)]
    assert [len(part.band) for part in parts] == [1, 0]
    assert len(joined(parts).band) == 1


def test_rows_are_all_whole_numbers_of_one_size(scenario):
    """A matrix of int64: as wide in all as its columns together."""
    row = Layout.of(scenario.settings).row
    assert row.itemsize % 8 == 0
    kinds = {row[name].base for name in row.names}
    assert kinds == {np.dtype(np.int64)}
