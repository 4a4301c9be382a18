"""What people waited for, said in a sentence."""

import pandas as pd

from surge_sim.report.phrases import folded, waiting_words


def words(*rows: tuple[str, str, float]) -> str:
    table = pd.DataFrame(rows, columns=["missing", "cause_of_waiting", "share"])
    return waiting_words(table.sort_values("share", ascending=False))


def test_the_largest_causes_are_named_and_the_rest_is_one():
    """From a tenth of all waiting on; 9, 4 and 3 % are left."""
    said = words(
        ("battery", "battery waiting for a bay", 0.6),
        ("battery", "battery in use", 0.14),
        ("kit", "kit in contact or drying time", 0.1),
        ("kit", "kit away", 0.09),
        ("battery", "battery charging", 0.03),
        ("kit", "kit in use", 0.04),
    )
    assert said == (
        "battery waiting for a bay 60 %, battery in use 14 %, "
        "kit in contact or drying time (fixed) 10 %, other 16 %"
    )


def test_one_cause_alone_has_no_rest():
    assert words(("hood", "hood used up and on order", 1.0)) == "hood used up and on order 100 %"


def test_at_most_four_causes_are_named():
    causes = ("in use", "in contact or drying time", "in wipe-down", "in repair", "away")
    said = words(*(("kit", f"kit {cause}", 0.2) for cause in causes))
    assert said.count("20 %") == 5 and said.endswith("kit in repair 20 %, other 20 %")


def test_the_largest_is_named_however_small():
    said = words(*(("kit", f"kit {number}", 0.04) for number in range(25)))
    assert said == "kit 0 4 %, other 96 %"


def test_nobody_waited():
    assert words() == "nothing: nobody waited"


def test_a_long_command_is_broken_before_options_and_where_that_is_not_enough_before_its_file():
    short = f"surge-sim compare {'x' * 40}.yaml --usual"
    assert folded(short, 100) == short
    assert folded(short, 64).splitlines() == [f"surge-sim compare {'x' * 40}.yaml \\", "--usual"]
    file = f"{'x' * 60}.yaml"
    told = folded(f"surge-sim compare {file} --usual --out found", 70)
    assert told.splitlines() == ["surge-sim compare \\", f"{file} \\", "--usual --out found"]
    assert folded("a" * 200, 70) == "a" * 200
