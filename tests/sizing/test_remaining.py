"""What stays bad with a stock that meets the target, worked out by hand. Times in minutes."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from surge_sim.equipment.stock import Stock
from surge_sim.report.sizing_words import bought_words, remaining_words
from surge_sim.scenario.schema import Prices
from surge_sim.sizing.player import SEEN, ScenarioSurge, Seen
from surge_sim.sizing.result import SizeResult
from tests.engine.tiny import settings, tiny_trace

FEW = Stock(1, 9, 9)


def left(*rows: np.ndarray) -> SimpleNamespace:
    """Return a sizing that has played a stock, with what it says of that."""
    ledger = SimpleNamespace(rows=lambda stock: np.array(rows))
    result = SimpleNamespace(ledger=ledger, replay=None, target=settings().target, unwiped=(3, 4))
    result.remaining = lambda stock: SizeResult.remaining(result, stock)  # type: ignore[arg-type]
    return result


def test_a_play_counts_entries_without_a_kit_and_late_ones_by_the_hour_they_were_due():
    """From 00:00 the only kit is out until 100.

    Of the five who come at 10, 20, 62, 63 and 64 and leave after 15, four go unserved by 79; at
    150 and 200 it is free. The one at 62 is urgent; the one at 10 waits 15, is late and unserved.
    """
    need = [0, 10, 20, 62, 63, 64, 150, 200]
    trace = tiny_trace(
        settings(), need=need, room=[100, 5, 5, 5, 5, 5, 5, 5], maximum_wait=15,
        urgent=[False, False, False, True, False, False, False, False],
    )  # fmt: skip
    row = ScenarioSurge(trace.situation(FEW), settings().target, "compiled").row(FEW)
    assert row[Seen.UNSERVED] == 5
    assert (row[Seen.URGENT], row[Seen.URGENT_UNSERVED]) == (1, 1)
    assert row[Seen.BY_HOUR :][:4].tolist() == [3, 3, 1, 1]
    assert row[Seen.LATE_BY_HOUR :][:4].tolist() == [2, 3, 0, 0]
    assert row[Seen.BY_HOUR : Seen.LATE_BY_HOUR].sum() == row[Seen.ENTRIES] == len(need)
    assert row[Seen.LATE_BY_HOUR : Seen.CAUSES].sum() == row[Seen.LATE]


def played(by_hour: dict[int, tuple[int, int]], unserved: int = 0, urgent: int = 0) -> np.ndarray:
    row = np.zeros(SEEN, dtype=np.int64)
    for hour, (entries, late) in by_hour.items():
        row[Seen.BY_HOUR + hour], row[Seen.LATE_BY_HOUR + hour] = entries, late
    row[Seen.UNSERVED], row[Seen.URGENT], row[Seen.URGENT_UNSERVED] = unserved, 10, urgent
    return row


def test_entries_without_a_kit_and_the_worst_hour_are_said_beside_a_met_target():
    """In two surges 3 and 4 got no kit, 1 of 20 urgent ones among them.

    Of 30 due at 3:00, 12 were in time.

    At 5:00 none of 19 was in time: too few to name that hour.
    """
    one, other = ({3: (15, 9), 5: (9, 9), 12: (500, 0)}, {3: (15, 9), 5: (10, 10)})
    result = left(played(one, 3, 1), played(other, 4))
    assert remaining_words(result, FEW) == (
        "3.50 entries per surge get no kit, 0.50 of them urgent (5 % of urgent ones); of all "
        "entries due 03:00-04:00 60 % are late; nobody wipes kits then, and a sizing adds cleaners "
        "only to shifts that the file has: add one there and size again (`surge-sim compare "
        "--usual` tries it)"
    )


def test_a_screen_says_what_stays_bad_but_no_trifles():
    """Of 100 entries due at 3:00, 10 may be late: twice as many as the target allows."""
    assert remaining_words(left(played({3: (100, 11)}, 1, 1)), FEW, brief=True) == (
        "1 entry per surge gets no kit, 1 of 10 urgent ones; 11 % of those due 03:00-"
        "04:00 are late (no cleaner: add a shift)"
    )
    none = played({3: (100, 10)})
    assert remaining_words(left(played({3: (100, 10)}, 1), none, none), FEW, brief=True) == ""
    assert "no kit" in remaining_words(left(played({3: (100, 10)}, 1), none), FEW, brief=True)


@pytest.mark.parametrize("late", [0, 1])
def test_nothing_is_said_where_nothing_stays_bad(late: int):
    """95 % are asked for, and 39 or 40 of 40 are in time in the worst hour."""
    assert remaining_words(left(played({3: (40, late)})), FEW) == ""


def test_cleaners_are_said_as_work_on_each_shift_and_paid_in_each_surge():
    shifts = ((5 * 3600, 14 * 3600 + 1800), (14 * 3600 + 1800, 24 * 3600))
    result = SimpleNamespace(
        owned=Stock(2, 2, 2), shifts=shifts, cleaner_hours=95.0,
        prices=Prices(currency="talers", kit=1400, cleaner=1100),
    )  # fmt: skip
    more = Stock(4, 2, 2, extra_cleaners=2)
    on_shifts = "have 2 more cleaners on each shift (05:00-14:30, 14:30-24:00; 190 hours)"
    assert bought_words(result, more) == (
        f"buy 2 kits for 2,800 talers, and {on_shifts} for 2,200 a surge"
    )
    alone = Stock(2, 2, 2, extra_cleaners=2)
    assert bought_words(result, alone) == f"{on_shifts} for 2,200 talers a surge"
