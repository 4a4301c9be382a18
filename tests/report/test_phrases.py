"""What people waited for, said in a sentence."""

import pandas as pd
import pytest

from surge_sim.report.phrases import main_cause, waiting_words


def words(*rows: tuple[str, str, float]) -> str:
    table = pd.DataFrame(rows, columns=["missing", "cause_of_waiting", "share"])
    return waiting_words(table.sort_values("share", ascending=False))


def test_what_was_missing_comes_first_then_where_it_was():
    """Batteries 60 and 30, kits 7: a place is named from a tenth of all waiting on."""
    said = words(
        ("battery", "battery waiting for a bay", 0.6),
        ("battery", "battery in use", 0.3),
        ("battery", "battery charging", 0.03),
        ("kit", "kit in use", 0.04),
        ("kit", "kit in contact or drying time", 0.03),
    )
    assert said == ("batteries 93 % (waiting for a bay 60 %, in use 30 %); kits 7 %")


def test_one_place_alone_needs_no_brackets():
    assert words(("hood", "hood used up and on order", 1.0)) == "hoods used up and on order 100 %"


def test_what_is_no_thing_is_said_by_its_name():
    said = words(("kit", "kit away", 0.9), ("nothing", "failed check", 0.1))
    assert said == "kits away 90 %; failed check 10 %"


def test_at_most_three_places_are_named():
    causes = ("in use", "in contact or drying time", "in wipe-down", "in repair", "away")
    said = words(*(("kit", f"kit {cause}", 0.2) for cause in causes))
    assert said == ("kits 100 % (in use 20 %, in contact or drying time 20 %, in wipe-down 20 %)")


def test_things_that_are_less_than_a_twentieth_of_all_waiting_are_left_to_the_table():
    rare, enough = ("tube", "tube on order", 0.049), ("tube", "tube on order", 0.05)
    assert words(("kit", "kit away", 0.951), rare) == "kits away 95 %"
    assert words(("kit", "kit away", 0.95), enough) == "kits away 95 %; tubes on order 5 %"


def test_nobody_waited():
    assert words() == "nothing: nobody waited"


@pytest.mark.parametrize("share", [0.5, 0.049])
def test_without_a_place_worth_naming_there_are_no_brackets(share):
    said = words(
        ("kit", "kit in use", 1 - 2 * share),
        ("tube", "tube used up and on order", share),
        ("tube", "tube used up and not on order", share),
    )
    assert ("tubes 10 %" in said) == ("on order" not in said)


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ([], "Nobody waited."),
        ([("kit", "kit away", 0.7), ("tube", "tube on order", 0.3)],
         "Most waiting was for kits (70 %)."),
        ([("kit", "kit away", 0.4), ("kit", "kit in use", 0.05), ("tube", "tube on order", 0.3),
          ("nothing", "failed check", 0.25)],
         "The largest part of the waiting was for kits (45 %)."),
        ([("battery", "battery charging", 0.52), ("kit", "kit in use", 0.48)],
         "Waiting was for batteries (52 %) and kits (48 %)."),
        ([("battery", "battery charging", 0.56), ("kit", "kit in use", 0.44)],
         "Most waiting was for batteries (56 %)."),
        ([("nothing", "failed check", 0.8), ("kit", "kit away", 0.2)],
         "80 % of the waiting was not for equipment."),
    ],
)  # fmt: skip
def test_the_main_cause_is_one_sentence(rows, said):
    table = pd.DataFrame(rows, columns=["missing", "cause_of_waiting", "share"])
    assert main_cause(table) == said
