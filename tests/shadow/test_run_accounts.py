"""Every number that ``run`` writes, kept a second time from raw rows."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import timedelta
from functools import cache, reduce
from itertools import combinations
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner

from surge_sim.cli.main import cli
from surge_sim.engine.play import play
from surge_sim.equipment.situation import situation_of as surge_of
from surge_sim.equipment.stock import stock_in_hand
from surge_sim.randomness import Sample
from surge_sim.report import run_figures
from surge_sim.scenario.load import load_scenario, scenario_from_text
from surge_sim.scenario.spread import TimeSpread
from tests.conftest import ROOT
from tests.shadow.causes import cause_of_waiting, longest
from tests.shadow.cells import differences, read_table
from tests.shadow.raw import Raw, play_raw
from tests.shadow.run_books import ALARMS, WORK, Books
from tests.shadow.run_screen import screen_differences
from tests.shadow.run_summary import apart, summary
from tests.shadow.scenes import scene

SHIPPED = sorted((ROOT / "scenarios").glob("*.yaml"))
EVERYTHING = ROOT / "tests" / "everything" / "every_feature.yaml"
#: random scenes; how many of them tell every number from every other; how many are quick
SCENES, TELLING, QUICK = 50, 6, 2
SURGES, SEED = 16, 5
#: scenes in which a visit is never completed, which is refused
ENDLESS = {12}


class Case:
    """One run as it was written, and the raw rows of the same surges."""

    def __init__(self, file: Path, folder: Path, surges: int) -> None:
        out, rows = folder / "out", folder / "entries.csv"
        asked = [str(file), "--surges", str(surges), "--seed", str(SEED), "--out", str(out)]
        with pytest.MonkeyPatch.context() as patched:
            patched.setattr(run_figures, "run_figures", lambda _: ())
            done = CliRunner().invoke(
                cli,
                ["run", *asked, "--processes", "1", "--entries-out", str(rows), "--json"],
                catch_exceptions=False,
            )
        assert done.exit_code == 0, done.output
        self.printed: dict[str, Any] = json.loads(done.stdout)
        self.summary: dict[str, Any] = json.loads((out / "summary.json").read_text("utf-8"))
        self.screen = (out / "answer.txt").read_text("utf-8")
        self.tables = {path.stem: read_table(path) for path in (out / "tables").glob("*.csv")}
        self.entries = pd.read_csv(rows, keep_default_na=False)
        self.scenario = load_scenario(file)
        self.settings = self.scenario.settings
        self.stock = stock_in_hand(self.settings)
        self.raw: Raw = play_raw(self.scenario, self.stock, surges, SEED)
        wipes = self.settings.supplies.wipes_per_clean
        self.books = Books(self.raw, self.settings.target, wipes)
        curve = self.tables["wait_curve"]["wait_min"].to_numpy()
        self.ladder_s: np.ndarray = np.rint(curve * 60).astype(np.int64)


def cases() -> list[Any]:
    named = {path: path.stem for path in (*SHIPPED, EVERYTHING)}
    named |= {n: f"scene {n}" for n in range(SCENES) if n not in ENDLESS}
    quick = {"rule_out_unit", "every_feature", *(f"scene {n}" for n in range(QUICK))}
    return [
        pytest.param(case, id=name, marks=[] if name in quick else pytest.mark.slow)
        for case, name in named.items()
    ]


@cache
def situation_of(which: Path | int) -> Case:
    """Run a file, or a random scene, once."""
    with TemporaryDirectory() as folder:
        if isinstance(which, Path):
            return Case(which, Path(folder), 4)
        file = Path(folder, f"scene_{which}.yaml")
        file.write_text(scene(which), encoding="utf-8")
        return Case(file, Path(folder), SURGES)


@pytest.fixture(params=cases())
def case(request) -> Case:
    return situation_of(request.param)


def none_wrong(found: Iterable[str]) -> None:
    """Fail with the first of what was found."""
    wrong = list(found)
    assert not wrong, "\n".join([f"{len(wrong)} numbers differ", *wrong[:20]])


def date_of(case: Case, day: float | None) -> str | None:
    """Date on which a day of the surge begins; None where there is no such day."""
    if day is None or math.isnan(day):
        return None
    return (case.settings.start + timedelta(days=int(day) - 1)).strftime("%Y-%m-%d")


def inside(value: Any, step: str | int) -> Any:
    """Return a part of the settings by its name in the file, or its number."""
    if isinstance(value, Mapping | Sequence):
        return value[step]
    if isinstance(value, TimeSpread) and step not in type(value).model_fields:
        share = 0.5 if step == "median" else int(str(step)[1:]) / 100
        return next(one.time_s for one in value.quantiles if math.isclose(one.p, share))
    return getattr(value, str(step))


def inputs_of(case: Case, surge: int) -> dict[str, float]:
    """Read the uncertain inputs from the settings that a surge is played with."""
    settings = case.scenario.settings_for(SEED, Sample.RUN, surge)
    units = {"time": ("_min", 60), "rate": ("_per_day", 1), "flow": ("_l_per_min", 1)}
    found = {}
    for one in case.scenario.ranges:
        value = reduce(inside, one.path, settings)
        ending, unit = units.get(one.kind, ("", 1))
        if one.name.endswith(".air_changes"):
            ending, unit = "_per_h", 1
        # a range in the place of a spread is one time for all, in that of a list one for all
        whole = getattr(value, "mean", value)
        found[one.name + ending] = (whole[0] if isinstance(whole, tuple) else whole) / unit
    return found


@cache
def accounts(case: Case) -> dict[str, list[dict[str, Any]]]:
    """Return each table of the folder from the second accounts."""
    books = case.books
    stretch = int(case.tables["use_over_time"]["hours"][0])
    return {
        "surges": [
            row
            | {"worst_day_date": date_of(case, row["worst_day"])}
            | inputs_of(case, int(row["surge"]))
            for row in books.surges.to_dict("records")
        ],
        "spread": books.spread(),
        "waits": books.waits(case.ladder_s),
        "cause_of_waiting": cause_of_waiting(books),
        "wait_curve": books.wait_curve(case.ladder_s),
        "by_urgency": books.group("urgency"),
        "by_class": books.group("class"),
        "by_role": books.group("role"),
        "by_day": [row | {"date": date_of(case, row["day"])} for row in books.group("day")],
        "by_hour": books.group("hour"),
        "use": books.use(),
        "use_over_time": [
            row | {"begins": f"{case.settings.start + timedelta(hours=row['hour']):%Y-%m-%d %H:%M}"}
            for row in books.use_over_time(stretch)
        ],
        "alarms": books.counted(ALARMS, "cause"),
        "consumables": books.consumables(),
        "work": books.counted(books.raw.told(WORK), "what"),
    }


@cache
def second_summary(case: Case) -> dict[str, Any]:
    """Return summary.json from the second accounts."""
    return summary(case.scenario, case.stock, SEED, "compiled", case.books, case.ladder_s)


def test_every_table_is_what_the_raw_rows_add_up_to(case: Case) -> None:
    kept = accounts(case)
    assert set(case.tables) == set(kept), "a table of which nobody keeps a second account"
    none_wrong(
        one for name, rows in kept.items() for one in differences(name, case.tables[name], rows)
    )


def test_every_number_of_the_summary_is_what_the_raw_rows_add_up_to(case: Case) -> None:
    assert case.printed == case.summary
    expected = second_summary(case)
    none_wrong(apart("summary", case.summary, expected))


def screen_wrong(case: Case, text: str) -> list[str]:
    """Return what is not so on a screen of the case."""
    return screen_differences(text, case.books, second_summary(case), case.tables)


def test_every_number_of_the_screen_is_what_the_raw_rows_add_up_to(case: Case) -> None:
    none_wrong(screen_wrong(case, case.screen))


def test_the_rows_of_requests_are_those_of_the_log(case: Case) -> None:
    """Columns of ``--entries-out`` beside the requests as the engine left them."""
    raw, seen = case.raw.needs, case.entries
    expected = pd.DataFrame(
        {
            "surge": raw["surge"],
            "requested_min": (raw["need_s"] / 60).round(4),
            "wait_min": (raw["wait_s"] / 60).round(4),
            "outcome": raw["ended"],
            "role": raw["role"],
            "urgent": raw["urgent"].map({True: "yes", False: "no"}),
            "entry": raw["entry"],
            "visit_part": raw["part"],
            "class": raw["class"],
            "kit_in_hand_min": (raw["in_hand_s"] / 60).round(4).where(raw["in_hand_s"] >= 0, ""),
            "end_min": (raw["end_s"] / 60).round(4).where(raw["end_s"] >= 0, ""),
            "alarm": raw["alarm"].map(
                {0: "", 1: "low battery", 2: "low flow", 3: "blower failure", 4: "battery failure"}
            ),
            "cause_of_waiting": longest(case.books),
            "failed_checks": raw["failed_checks"],
            "kit": raw["blower"],
            "battery": raw["battery"],
            "delay_min": (raw["delay_s"] / 60).round(4),
            "requested_at": raw["clock"].dt.strftime("%Y-%m-%dT%H:%M:%S"),
        }
    )
    assert set(seen.columns) == set(expected.columns)
    for column in expected.columns:
        own = expected[column]
        written = seen[column]
        if column in ("kit_in_hand_min", "end_min"):
            own, written = pd.to_numeric(own), pd.to_numeric(written)
        assert written.tolist() == pytest.approx(own.tolist(), nan_ok=True), column


def test_seconds_by_cause_add_up_in_both_engines_when_a_held_kit_waits_for_a_battery_in_vain() -> (
    None
):
    """Its wearer gives up, keeps it, and hands it in at the end of the shift: counted out once."""
    scenario = scenario_from_text(scene(42))
    case = surge_of(scenario, stock_in_hand(scenario.settings), seed=5, surge=7)
    compiled, reference = (
        play(*case, engine=engine)  # type: ignore[arg-type]
        for engine in ("compiled", "reference")
    )
    np.testing.assert_array_equal(compiled.waited_s, reference.waited_s)
    assert (compiled.waited_s.sum(axis=1) <= compiled.wait_s).all()


# --- that the second accounts can tell numbers apart -------------------------------------------

#: what is the same by its meaning: a kit takes a battery with it
ALWAYS_EQUAL = {frozenset(("kits in use", "batteries in use")),
                frozenset(("kits away", "batteries away")),
                frozenset((".unserved_per_surge", ".unserved.per_surge.estimate"))} | {
    # equal where the target judges by waits, as in all scenes
    frozenset((f".service_level.{end}", f".service_level_by_wait.{end}"))
    for end in ("estimate", "low", "high")
} | {
    frozenset((f".use.kits {state}.{number}", f".use.batteries {state}.{number}"))
    for state in ("in use", "away") for number in ("mean", "peak_mean", "peak_highest")
}  # fmt: skip


def numbers_in(rows: list[dict[str, Any]]) -> dict[str, list[float]]:
    """Return the columns of a table that hold numbers."""
    found = {}
    for column in rows[0]:
        cells = [row[column] for row in rows]
        if all(isinstance(cell, int | float | np.number) or cell is None for cell in cells):
            found[column] = [math.nan if cell is None else float(cell) for cell in cells]
    return found


@pytest.mark.slow
def test_no_two_columns_that_could_be_swapped_are_equal_in_every_scene() -> None:
    """Nor two rows of a table; otherwise the accounts could not tell one from the other."""
    columns: dict[tuple[str, str], list[float]] = {}
    rows: dict[tuple[str, str], list[float]] = {}
    for number in range(TELLING):
        for table, kept in accounts(situation_of(number)).items():
            numbers = numbers_in(kept)
            for column, values in numbers.items():
                columns.setdefault((table, column), []).extend(values)
            for place, row in enumerate(kept):
                name = str(next(iter(row.values()))) if len(kept) < 20 else str(place)
                values = [values[place] for values in numbers.values()]
                rows.setdefault((table, name), []).extend(values)
    none_wrong([*alike(columns), *alike(rows)])


@pytest.mark.slow
def test_no_two_numbers_of_the_summary_are_equal_in_every_scene() -> None:
    leaves: dict[tuple[str, str], list[float]] = {}

    def gather(place: str, value: Any) -> None:
        if isinstance(value, dict):
            for key, one in value.items():
                gather(f"{place}.{key}", one)
        elif isinstance(value, int | float | np.number):
            leaves.setdefault(("summary", place), []).append(float(value))

    for number in range(TELLING):
        gather("", second_summary(situation_of(number)))
    none_wrong(alike(leaves))


def alike(named: dict[tuple[str, str], list[float]]) -> list[str]:
    """Return pairs of one table whose numbers are the same in every scene."""
    return [
        f"{one[0]}: {one[1]} and {other[1]}"
        for (one, values), (other, theirs) in combinations(named.items(), 2)
        if one[0] == other[0]
        and frozenset((one[1], other[1])) not in ALWAYS_EQUAL
        and len(values) == len(theirs)
        and np.allclose(values, theirs, rtol=1e-4, equal_nan=True)
    ]


def test_a_changed_number_of_any_column_is_noticed() -> None:
    """Each column by itself: an estimate a hundredth higher, limits on the wrong sides."""
    case = situation_of(0)
    for table, kept in accounts(case).items():
        seen = case.tables[table]
        assert not differences(table, seen, kept)
        for column in numbers_in(kept):
            if seen[column].abs().sum() > 0:
                wrong = seen.assign(**{column: seen[column] * 1.01})
                assert differences(table, wrong, kept), (table, column)
        for low in (name for name in seen if name.endswith("low")):
            high = low.removesuffix("low") + "high"
            if (seen[high] > seen[low]).any():
                turned = seen.assign(**{low: seen[high], high: seen[low]})
                assert differences(table, turned, kept), (table, low)


def test_a_column_or_a_field_without_a_second_account_is_noticed() -> None:
    case = situation_of(0)
    kept, seen = accounts(case)["use"], case.tables["use"]
    assert "['more']" in differences("use", seen.assign(more=1), kept)[0]
    said = apart("summary", case.summary | {"more": 1}, second_summary(case))
    assert said == ["summary: nobody keeps a second account of more"]


def test_a_changed_number_of_the_screen_is_noticed() -> None:
    """Every number before the caution, one after the other, another figure in its first place."""
    case = situation_of(0)
    # words of their own, and how causes are put together, have their own tests
    passed_over = re.compile(r"\nTimeline.*?(?=\nWait)|95 %|1,000|9 of 10|1 surge in 10", re.DOTALL)
    begin = case.screen.index("With ")
    end = re.search(r"Warning:|Planning aid", case.screen)
    assert end is not None
    left_out = [found.span() for found in passed_over.finditer(case.screen)]
    unnoticed = []
    for found in re.finditer(r"\d[\d,.]*", case.screen[: end.start()]):
        if found.start() < begin or any(a <= found.start() < b for a, b in left_out):
            continue
        other = str((int(found[0][0]) + 3) % 10) + found[0][1:]
        text = case.screen[: found.start()] + other + case.screen[found.end() :]
        if not screen_wrong(case, text):
            unnoticed.append(case.screen[found.start() - 20 : found.end() + 9])
    assert unnoticed == []


@pytest.mark.slow
@pytest.mark.parametrize("number", sorted(ENDLESS))
def test_a_scene_without_accounts_is_one_that_is_refused(number: int, tmp_path: Path) -> None:
    (tmp_path / "scene.yaml").write_text(scene(number), encoding="utf-8")
    asked = ["--surges", str(SURGES), "--seed", str(SEED), "--processes", "1"]
    done = CliRunner().invoke(
        cli, ["run", str(tmp_path / "scene.yaml"), *asked, "--out", str(tmp_path / "out")],
        catch_exceptions=False,
    )  # fmt: skip
    assert done.exit_code == 2
    assert "is never completed" in done.output
