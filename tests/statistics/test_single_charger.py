"""A stock with one charger says so, with how often it was out of order and what came of it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from surge_sim.equipment.situation import situation_of
from surge_sim.equipment.stock import Stock
from surge_sim.randomness import Sample
from surge_sim.report.check_answer import check_answer
from surge_sim.report.terminal import render
from surge_sim.statistics.run import run
from surge_sim.statistics.warnings import single_charger_seen, single_charger_words
from tests.demand.ward import scenario

ONE_BAY = {"kits": 5, "batteries": 8, "bays": 1}
#: a charger fails every second day, for half a day
FAILING = {"charger_time_between_failures": "2 d", "charger_repair_time": "12 h"}


def ward(**changes: Any) -> Any:
    """Return a small ward of two days with one bay."""
    return scenario(**({"stock": ONE_BAY, "horizon": "2 d", "failures": FAILING} | changes))


@pytest.mark.parametrize(
    ("stock", "bays_per_charger", "words"),
    [
        (Stock(5, 8, 1), 1, "There is one bay: "),
        (Stock(5, 8, 4), 4, "There is one charger: "),
        (Stock(5, 8, 2), 4, "There is one charger: "),
        (Stock(5, 8, 2), 1, ""),
        (Stock(5, 8, 5), 4, ""),
        # nothing is ever charged, or there is nothing to charge: that is said elsewhere
        (Stock(5, 8, 0), 1, ""),
        (Stock(5, 0, 1), 1, ""),
    ],
)
def test_what_hangs_on_one_charger(stock: Stock, bays_per_charger: int, words: str) -> None:
    settings = ward(prices={"bays_per_charger": bays_per_charger}).settings
    said = single_charger_words(stock, settings)
    assert said.startswith(words) and bool(said) == bool(words)


def test_where_no_charger_fails_that_is_said() -> None:
    said = single_charger_words(Stock(5, 8, 1), ward(failures={}).settings)
    assert said.endswith("no charger fails by chance (`failures.charger_time_between_failures` is "
                         "not set).")  # fmt: skip
    assert "no charger fails" not in single_charger_words(Stock(5, 8, 1), ward().settings)


@pytest.mark.parametrize("run_in", ["0 d", "1 d"])
def test_surges_in_which_it_was_out_of_order_are_counted(run_in: str) -> None:
    """Second by second from the draws that an engine plays, of the surge and not of its run-in."""
    unit, surges, stock = ward(run_in=run_in), 40, Stock(5, 8, 1)
    begin_s = unit.settings.run_in
    end_s = begin_s + unit.settings.horizon
    out = []
    for surge in range(surges):
        case = situation_of(unit, stock, 3, surge, Sample.CONFIRM)
        failed = np.zeros(end_s, dtype=np.int64)
        for at_s, _, bays in case.unit.bay_failures(1, end_s).tolist():
            failed[at_s:] = bays
        out.append(bool(failed[begin_s:].any()))
    assert 5 < sum(out) < 35
    met = np.arange(surges) % 3 == 0
    missed = sum(one and not good for one, good in zip(out, met.tolist(), strict=True))
    assert single_charger_seen(unit, stock, 3, Sample.CONFIRM, met) == (
        "There is one bay: while it is out of order, no battery is charged. That happened in "
        f"{sum(out)} of 40 simulated surges; {missed} of these missed the target, which must be "
        "met in 90 % of surges."
    )


def test_a_charger_that_failed_in_no_surge_is_counted_as_such() -> None:
    rare = ward(failures={"charger_time_between_failures": "3000 d"})
    said = single_charger_seen(rare, Stock(5, 8, 1), 1, Sample.RUN, np.ones(7, dtype=np.bool_))
    assert said.endswith("That happened in none of 7 simulated surges.")


def test_with_chargers_on_loan_not_everything_hangs_on_one() -> None:
    lent = {"what": "chargers on loan", "chargers": 1, "at": "1 h"}
    assert single_charger_words(Stock(5, 8, 1), ward(timeline=[lent]).settings) == ""


def test_a_run_and_a_check_say_it_first() -> None:
    unit = ward()
    result = run(unit, surges=3, engine="reference", processes=1)
    met = result.surges["on_target"].to_numpy()
    seen = single_charger_seen(unit, Stock(5, 8, 1), result.seed, Sample.RUN, met)
    assert result.notes[0] == seen
    words = " ".join(render(check_answer(unit)).split())
    assert "There is one bay: while it is out of order, no battery is charged." in words
