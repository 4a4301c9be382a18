"""Tables are the same with pandas 2 and 3, which differ in how they keep text and what lacks."""

from __future__ import annotations

import numpy as np
import pandas as pd

from surge_sim.plain import csv_text
from surge_sim.report.folder import ResultFolder
from surge_sim.report.sizing_folder import records
from surge_sim.statistics.tables import without_limits
from tests.statistics.hand_run import run_of_waits

MIXED = pd.DataFrame(
    {
        "name": ["x", None, "NA"],
        "empty": ["", "", ""],
        "number": [1.0, np.nan, 2.5],
        "count": pd.array([1, None, 3], dtype="Int64"),
        "apart": pd.array([True, None, False], dtype="boolean"),
        "kept": [True, False, True],
    }
)


def test_what_lacks_is_an_empty_cell_in_every_sort_of_column(tmp_path):
    ResultFolder(tmp_path, tmp_path).write_table("mixed", MIXED)
    expected = (
        "name,empty,number,count,apart,kept\nx,,1,1,True,True\n,,,,,False\nNA,,2.5,3,False,True\n"
    )
    assert (tmp_path / "tables" / "mixed.csv").read_text() == expected
    assert csv_text(MIXED, header=False).splitlines()[1] == ",,,,,False"


def test_what_lacks_is_null_for_programs_and_text_stays_text():
    assert records(MIXED) == [
        {"name": "x", "empty": "", "number": 1, "count": 1, "apart": True, "kept": True},
        {"name": None, "empty": "", "number": None, "count": None, "apart": None, "kept": False},
        {"name": "NA", "empty": "", "number": 2.5, "count": 3, "apart": False, "kept": True},
    ]


def test_a_column_of_words_of_which_all_or_none_are_empty_is_text():
    for waits, words in {(0, 0): ["", ""], (9, 0): ["wait", ""]}.items():
        missed = run_of_waits(*([wait] for wait in waits)).surges["target_parts_missed"]
        assert missed.tolist() == words
        assert pd.api.types.is_string_dtype(missed)


def test_leaving_limits_out_leaves_the_table_it_is_given_alone():
    """With pandas 3 a table may share its columns with another until one of them is written to."""
    table = pd.DataFrame({"share": [0.5], "share_low": [0.4], "high": [0.6], "highest": [0.9]})
    told = without_limits(table)
    told.loc[0, "share"] = 0.0
    assert table.to_dict("records") == [
        {"share": 0.5, "share_low": 0.4, "high": 0.6, "highest": 0.9}
    ]
    assert told[["share_low", "high"]].isna().all(axis=None)
    assert told["highest"].tolist() == [0.9]
