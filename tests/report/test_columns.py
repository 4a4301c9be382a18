"""Every column of every table that is written is explained beside it, and nothing else is."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pandas as pd
import pytest

import surge_sim
from surge_sim.engine.log import Use
from surge_sim.purchase.beside import AllBeside
from surge_sim.purchase.case import purchase_case
from surge_sim.purchase.demand import ForMore
from surge_sim.purchase.sized import read_sized
from surge_sim.report import columns
from surge_sim.report.columns import columns_text, meaning
from surge_sim.report.comparison_folder import fill_comparison_folder
from surge_sim.report.folder import ResultFolder, result_folder
from surge_sim.report.matters import matters
from surge_sim.report.matters_folder import fill_matters_folder
from surge_sim.report.run_folder import fill_run_folder
from surge_sim.report.run_folder import recorded_tables as recorded
from surge_sim.report.sizing_folder import fill_size_folder
from surge_sim.scenario.life_file import load_life
from surge_sim.scenario.load import scenario_from_text
from surge_sim.sizing.size import size
from surge_sim.statistics.run import run as run_of
from surge_sim.statistics.tables import use_name
from surge_sim.whatif.compare import compare
from tests.conftest import undrawn
from tests.engine.tiny import PLAIN
from tests.purchase.test_case import LIFE, sized_folder
from tests.scenario.base import BASE
from tests.sizing.test_size_command import PARTS, UNIT
from tests.statistics.hand_run import rich_run

#: a unit in which parts run out, large hoods among them
SIZES = (UNIT + PARTS.replace("{hoods:", "{large_hoods: {spare: 0}, hoods:")).replace(
    "kit:\n", "kit:\n  large_hood_share: 30 %\n"
)
LOG = "requested,room_minutes,wait_minutes\n0,20,0\n5,20,14\n1440,10,1\n"
Columns = dict[str, list[str]]


def recorded_tables(folder: Path) -> dict[str, pd.DataFrame]:
    """Tables of a run of a log that recorded waits."""
    (folder / "log.csv").write_text(LOG)
    text = json.dumps({**PLAIN, "horizon": "48 h", "entries": {"from": "log.csv"}})
    result = run_of(scenario_from_text(text, folder=folder), engine="reference", processes=1)
    return recorded(result)


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> list[Columns]:
    """Columns of the tables of a run, of a sizing in which parts can run out, and of others."""
    with undrawn():
        return list(columns_of_folders(tmp_path_factory))


def columns_of_folders(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Columns]:
    run = ResultFolder(tmp_path_factory.mktemp("run"), tmp_path_factory.mktemp("building"))
    fill_run_folder(run, rich_run())
    yield run.columns
    sizes = scenario_from_text(SIZES)
    yield {"tables/surges": list(run_of(sizes, surges=2, processes=1).surges)}
    for name, table in recorded_tables(tmp_path_factory.mktemp("log")).items():
        yield {f"tables/{name}": list(table.columns)}

    place = tmp_path_factory.mktemp("size")
    folder = ResultFolder(place, place)
    result = size(scenario_from_text(SIZES), choose=20, surges=60, processes=1)
    fill_size_folder(folder, result)
    yield folder.columns

    place = tmp_path_factory.mktemp("compare")
    folder = ResultFolder(place, place)
    unit = scenario_from_text(UNIT)
    fill_comparison_folder(folder, compare(unit, {"a": {"stock.kits": 9}}, 10, processes=1))
    yield folder.columns

    sized = read_sized(sized_folder(tmp_path_factory.mktemp("case")))
    beside = AllBeside(more=ForMore(20, sized))
    case = purchase_case(sized, processes=1, beside=beside, life=load_life(LIFE))
    yield {f"tables/{name}": list(table.columns) for name, table in case.tables.items()}

    place = tmp_path_factory.mktemp("matters")
    folder = ResultFolder(place, place)
    fill_matters_folder(folder, matters(unit, 0.2, surges=10, processes=1))
    yield folder.columns


def test_every_column_that_is_written_is_explained(written: list[Columns]) -> None:
    tables = {table for folder in written for table in folder}
    assert {"tables/waits", "tables/tested", "figures/stages"} <= tables
    for folder in written:
        for table, names in folder.items():
            assert [name for name in names if not meaning(table, name)] == [], table


def test_no_explanation_is_of_a_column_that_is_not_written(written: list[Columns]) -> None:
    everywhere = {name for folder in written for names in folder.values() for name in names}
    assert set(columns._EVERYWHERE) <= everywhere
    for table, own in columns._OF_TABLE.items():
        mine = {
            name
            for folder in written
            for path, names in folder.items()
            if table in (path, path.rsplit("/", 1)[-1])
            for name in names
        }
        assert set(own) <= mine, table


def test_a_column_that_nobody_explained_is_found() -> None:
    assert meaning("tables/waits", "colour") is None
    assert meaning("tables/waits", "colour_low") is None
    assert meaning("tables/use", "mean_low") == (
        "lower limit of mean: of a 95 % interval; empty where too few surges tell of it"
    )


def test_a_share_goes_from_0_to_1_and_a_limit_is_the_lower_or_the_upper_one() -> None:
    checked = 0
    for table, own in columns._OF_TABLE.items():
        for name, words in own.items():
            if name.startswith("share"):
                assert "[0..1]" in words, (table, name)
            for ending, side in (("_low", "lower"), ("_high", "upper")):
                # where an input is low or high, nothing is a limit
                if name.endswith(ending) and "_at_" not in name:
                    assert side in words, (table, name)
                    checked += 1
    assert checked > 5


def test_states_and_comparisons_are_explained() -> None:
    state = meaning("tables/use", "state") or ""
    for use in ("kits out of service", "kits away", "kits drying", "kits ready", "batteries away"):
        assert f"{use}: " in state and use in {use_name(one) for one in Use}


def test_help_names_each_table_and_its_columns_in_lines_that_fit(written: list[Columns]) -> None:
    for folder in written:
        lines = columns_text(folder).splitlines()
        assert max(map(len, lines)) <= 100
        for table, names in folder.items():
            start = lines.index(f"{table}.csv")
            heads = [line.split()[0] for line in lines[start + 1 :] if line[:3].strip()]
            assert heads[: len(names)] == names


def test_a_folder_with_tables_holds_the_help(tmp_path: Path) -> None:
    path = tmp_path / "unit.yaml"
    path.write_text(BASE)
    scenario = surge_sim.load_scenario(path)
    with result_folder(tmp_path / "out", scenario, ["surge-sim"], {}) as folder:
        folder.write_table("use", pd.DataFrame({"state": ["kits in use"], "mean": [1.5]}))
    text = (tmp_path / "out/columns.txt").read_text()
    assert "tables/use.csv\n  state  what is counted" in text
    assert '"columns.txt"' in (tmp_path / "out/manifest.json").read_text()
