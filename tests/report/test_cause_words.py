"""What people waited for, said in a sentence."""

import pandas as pd
import pytest

from surge_sim.report.cause_words import waiting_words


def words(*rows: tuple[str, str, float]) -> str:
    table = pd.DataFrame(rows, columns=["missing", "waiting_for", "share"])
    return waiting_words(table.sort_values("share", ascending=False))


def test_what_was_missing_comes_first_then_where_it_was():
    """Batteries 60 and 30, kits 7: a place is named from 5 % of all waiting on."""
    said = words(
        ("battery", "battery waiting for a bay", 0.6),
        ("battery", "battery in use", 0.3),
        ("battery", "battery charging", 0.03),
        ("kit", "kit in use", 0.04),
        ("kit", "kit wet or drying", 0.03),
    )
    assert said == (
        "batteries 93.0 % (waiting for a bay 60.0 %, in use 30.0 %, elsewhere 3.0 %); kits 7.0 %"
    )


def test_one_place_alone_needs_no_brackets():
    assert words(("hood", "hood used up and on order", 1.0)) == "hoods used up and on order 100 %"


def test_what_is_no_thing_is_said_by_its_name():
    said = words(("kit", "kit away", 0.9), ("nothing", "failed check", 0.1))
    assert said == "kits away 90.0 %; failed check 10.0 %"


def test_at_most_four_places_are_named_and_the_rest_is_said_to_be_elsewhere():
    causes = ("in use", "wet or drying", "in wipe-down", "in repair", "away")
    said = words(*(("kit", f"kit {cause}", 0.2) for cause in causes))
    assert said == (
        "kits 100 % (in use 20.0 %, wet or drying 20.0 %, in wipe-down 20.0 %, in repair 20.0 %, "
        "elsewhere 20.0 %)"
    )


def test_a_share_too_small_to_print_is_left_out():
    assert words(("kit", "kit away", 0.9999), ("tube", "tube on order", 0.0001)) == (
        "kits away 99.99 %"
    )


def test_nobody_waited():
    assert words() == "nothing: nobody waited"


@pytest.mark.parametrize("share", [0.5, 0.049])
def test_without_a_place_worth_naming_there_are_no_brackets(share):
    said = words(
        ("kit", "kit in use", 1 - 2 * share),
        ("tube", "tube used up and on order", share),
        ("tube", "tube used up and not on order", share),
    )
    assert ("tubes 9.8 %" in said) == ("on order" not in said)
