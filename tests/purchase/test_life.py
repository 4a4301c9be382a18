"""What it costs to own the stocks: worked by hand, and against closed forms."""

from __future__ import annotations

import json
import random
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from surge_sim.cli.main import exit_code_of
from surge_sim.equipment.stock import Stock
from surge_sim.errors import ScenarioError
from surge_sim.purchase.case import purchase_case
from surge_sim.purchase.life import Life, life_of
from surge_sim.purchase.sized import Sized, read_sized
from surge_sim.purchase.things import Thing, replacements
from surge_sim.purchase.use import USED
from surge_sim.report.case_life import _due_next, life_values, life_words
from surge_sim.report.case_page import case_page
from surge_sim.report.html import text_of
from surge_sim.scenario.life_file import load_life
from tests.purchase.test_case import LIFE, sized_folder

BY_HAND = """
title: By hand (invented)
years: {value: 10 years, source: invented}
surges_per_year: {value: 0.5 per year, source: invented}
ordinary_entries: {value: 1000 per year, source: invented}
interest: {value: 5 %, source: invented}
lasts:
  kits: {years: 4 years, age_in_hand: 1 year, source: invented}
  batteries: {years: 5 years, full_charges: 210, source: invented}
  chargers: {years: 20 years, source: invented}
prices:
  wipe: {value: 0.5, source: invented}
labour:
  cleaning: {value: 20, source: invented}
  waiting: {value: 30, source: invented}
yearly:
  - {name: contract, price: 50, per: kit, source: invented}
  - {name: room, price: 100, per: year, source: invented}
"""


@pytest.fixture(scope="module")
def sized(tmp_path_factory: pytest.TempPathFactory) -> Sized:
    return read_sized(sized_folder(tmp_path_factory.mktemp("sizing")))


def used(**columns: list[float]) -> pd.DataFrame:
    """What two surges use: nothing but what is named."""
    table = pd.DataFrame({"surge": [0, 1], **{name: [0.0, 0.0] for name in USED}})
    return table.assign(**columns)


def life(sized: Sized, place: Path, text: str = BY_HAND) -> Life:
    """Two kits, three batteries and three bays in hand; five kits proposed."""
    (place / "life.yaml").write_text(text)
    stocks = Stock(kits=2, batteries=3, bays=3), Stock(kits=5, batteries=3, bays=3)
    sized = replace(sized, in_hand=stocks[0], proposed=stocks[1])
    mine = used(entries=[80, 120], wipes=[160, 240], wiping_hours=[8, 12], full_charges=[10, 20])
    waited = pd.Series([30.0, 50.0]), pd.Series([2.0, 6.0])
    return life_of(sized, load_life(place / "life.yaml"), (mine, mine), waited)


def test_a_life_worked_by_hand(sized: Sized, tmp_path: Path) -> None:
    """In a year: half a surge of 200 wipes and 10 h of wiping, and 1,000 entries of 2 and 0.1 each:
    2,100 wipes (1,050) and 105 h (2,100); contract 50 a kit and room 100: 3,350, with five 3,500.

    Batteries: 0.5 x 15 + 1,000 x 0.15 = 157.5 full charges a year, 3 x 210 / 157.5 = 4 years: new
    at 4 and 8, 3 x 240 each. Kits in hand are 1 year old and last 4: new at 3 and 7, 2 x 1,400;
    three new ones at 4 and 8. Chargers last 20 years. Waiting: 0.5 x 40 h x 30, and 0.5 x 4 h x 30.
    """
    found = life(sized, tmp_path)
    totals = found.totals.set_index("sum")
    assert totals["in_hand"].drop("present_value").to_dict() == {
        "bought": 0, "replaced": 4 * 1400 + 6 * 240, "capital": 7040, "running_per_year": 3350,
        "running": 33500, "paid": 40540, "waiting_per_year": 600,
        "in_surges_per_year": 150, "in_ordinary_use_per_year": 3000, "agreed_per_year": 200,
    }  # fmt: skip
    assert totals["proposed"].drop("present_value").to_dict() == {
        "bought": 4200, "replaced": 10 * 1400 + 6 * 240, "capital": 19640,
        "running_per_year": 3500, "running": 35000, "paid": 54640, "waiting_per_year": 60,
        "in_surges_per_year": 150, "in_ordinary_use_per_year": 3000, "agreed_per_year": 350,
    }  # fmt: skip
    years = found.years.set_index("year")
    assert years["replaced_in_hand"].loc[[3, 4, 7, 8]].tolist() == [2800, 720, 2800, 720]
    assert years["replaced_proposed"].loc[[3, 4, 7, 8]].tolist() == [2800, 4920, 2800, 4920]
    assert years["bought_proposed"].tolist() == [4200] + 10 * [0]
    # in a surge on average: 200 wipes of 0.5, and 10 h of wiping at 20
    lines = found.lines.set_index("line")
    assert lines["one_surge_proposed"].dropna().to_dict() == {"wipes": 100, "wiping_hours": 200}
    # 80 and 120 entries: 160 and 240 wipes, 8 and 12 h
    assert found.by_surge["proposed"].tolist() == [80 + 160, 120 + 240]


def test_what_is_replaced_when_is_told_with_what_falls_due_just_after(
    sized: Sized, tmp_path: Path
) -> None:
    """As above over 8 years: batteries and new kits are due at the very end, kits in hand at 7 and
    11. Neither is counted, and those of the end are told.
    """
    found = life(sized, tmp_path, BY_HAND.replace("value: 10 years", "value: 8 years"))
    table = found.replaced.drop(columns=["replaced", "difference"])
    assert table.to_dict("split")["data"] == [
        ["kits", 3, True, 1400, 2, 2, 2800, 2800],
        ["kits", 4, True, 1400, 0, 3, 0, 4200],
        ["batteries", 4, True, 240, 3, 3, 720, 720],
        ["kits", 7, True, 1400, 2, 2, 2800, 2800],
        ["kits", 9, False, 1400, 0, 3, 0, 4200],
        ["batteries", 9, False, 240, 3, 3, 720, 720],
    ]
    counted, totals = table[table["counted"]], found.totals.set_index("sum")
    for stock in ("in_hand", "proposed"):
        assert counted[f"cost_{stock}"].sum() == totals.loc["replaced", stock]


@pytest.mark.parametrize(("price", "told"), [(1400, "4,200"), (0, "0")])
def test_what_falls_due_just_after_has_its_cost_beside_it_also_where_that_is_nothing(
    sized: Sized, tmp_path: Path, price: int, told: str
) -> None:
    priced = replace(sized, scenario=sized.scenario.changed({"prices.kit": price}))
    found = life(priced, tmp_path, BY_HAND.replace("value: 10 years", "value: 8 years"))
    stocks = {"in_hand": Stock(2, 3, 3), "proposed": Stock(5, 3, 3)}
    case = replace(purchase_case(sized, processes=1), life=found, sized=replace(sized, **stocks))
    assert list(_due_next(case, found)) == [
        "Not in these sums, as due at the end of the 8 years or in the year after: 3 kits "
        f"({told} with the request) and 3 batteries (720)."
    ]


def test_the_life_by_hand_is_told_in_words_and_its_values_stand_on_the_page(
    sized: Sized, tmp_path: Path
) -> None:
    case = replace(purchase_case(sized, processes=1), life=life(sized, tmp_path))
    said = life_words(case)
    assert "costs 14,100 talers more than the stock in hand: 4,200 now, 8,400 more when" in said
    assert "replaced and 1,500 more to run it (150 each year)" in said
    page = case_page(case)
    assert case.life is not None and len(life_values(case.life)) > 10
    for row in life_values(case.life):
        assert all(text_of(cell) in page for cell in row)


def test_net_present_value_is_that_of_the_closed_forms(sized: Sized, tmp_path: Path) -> None:
    """Equal sums at the end of ten years at 5 %: (1 - 1.05^-10) / 0.05 = 7.7217 times one of them,
    as annuity tables print it (textbooks on finance, from memory); single sums: 1.05^-n.
    """
    annuity = (1 - 1.05**-10) / 0.05
    assert round(annuity, 4) == 7.7217
    worth = life(sized, tmp_path).totals.set_index("sum").loc["present_value"]
    at = {year: 1.05**-year for year in (3, 4, 7, 8)}
    old = 2800 * (at[3] + at[7]) + 720 * (at[4] + at[8])
    assert worth["in_hand"] == pytest.approx(3350 * annuity + old, rel=1e-5)
    new = 4200 * (1 + at[4] + at[8])
    assert worth["proposed"] == pytest.approx(3500 * annuity + old + new, rel=1e-5)
    assert worth["difference"] == pytest.approx(150 * annuity + new, rel=1e-5)


def test_without_interest_there_is_no_present_value_and_at_none_it_is_what_is_paid(
    sized: Sized, tmp_path: Path
) -> None:
    without = life(sized, tmp_path, BY_HAND.replace("interest:", "#")).totals.set_index("sum")
    assert without.loc["present_value"].isna().all() and without.notna().drop("present_value").all(
        axis=None
    )
    none = life(sized, tmp_path, BY_HAND.replace("5 %", "0 %")).totals.set_index("sum")
    assert none.loc["present_value"].tolist() == none.loc["paid"].tolist()


def test_years_lines_and_sums_agree(sized: Sized, tmp_path: Path) -> None:
    found = life(sized, tmp_path)
    totals, lines = found.totals.set_index("sum"), found.lines
    for stock in ("in_hand", "proposed"):
        of_sort = lines.groupby("kind")[f"cost_{stock}"].sum()
        assert of_sort["bought"] + of_sort["replaced"] == totals.loc["capital", stock]
        assert of_sort["used up"] + of_sort["yearly"] == totals.loc["running", stock]
        assert of_sort["waiting"] == 10 * totals.loc["waiting_per_year", stock]
        assert found.years[f"paid_{stock}"].sum() == totals.loc["paid", stock]


def test_things_are_replaced_at_the_moments_that_a_walk_through_the_years_finds() -> None:
    chance = random.Random(21)
    for _ in range(2_000):
        years, lasts = chance.randint(1, 40), chance.choice([0.25, 0.5, 1, 1.5, 3, 7, 10, 40])
        age, owned = chance.choice([0, 0.5, 2, 9, 60]), chance.randint(0, 5)
        more = chance.randint(0, 5)
        thing = Thing("kits", 1.0, "", (owned, owned + more), lasts, None, age, (0.0, 0.0))
        moments = []
        for count, first in ((owned, max(lasts - age, 0)), (more, lasts)):
            moment = first
            while moment < years:
                moments += [moment] * count
                moment += lasts
        for year in range(years + 1):
            expected = sum(moment <= year for moment in moments)
            assert thing.replaced_by(1, year, years) == expected, (years, lasts, age, year)
        table = replacements([thing], years)
        counted = table[table["counted"]]
        assert counted["number_proposed"].sum() == thing.replaced_by(1, years, years)
        after = 0
        for count, first in ((owned, max(lasts - age, 0)), (more, lasts)):
            moment = first
            while moment <= years + 1:
                after += count * (moment >= years)
                moment += lasts
        assert table[table["year"] > years]["number_proposed"].sum() == after


def test_batteries_last_by_age_or_by_use() -> None:
    thing = Thing("batteries", 1.0, "", (4, 8), 5.0, 300, 0.0, (600.0, 400.0))
    assert thing.lasts(0) == 4 * 300 / 600 and thing.lasts(1) == 5.0
    assert replace(thing, full_charges=None).lasts(0) == 5.0
    assert replace(thing, charges=(0.0, 0.0)).lasts(0) == 5.0


def test_what_has_no_price_is_named_and_not_counted(sized: Sized, tmp_path: Path) -> None:
    text = BY_HAND.replace("  cleaning: {value: 20, source: invented}\n", "")
    found = life(sized, tmp_path, text)
    assert found.unpriced == ["wiping_hours"]
    assert found.totals.set_index("sum").loc["running_per_year", "in_hand"] == 1250


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("10 years", "10", ":3: years.value is '10'.\n  It must be a number of years above 0"),
        ("10 years", "10.5 years", ":3: years.value is '10.5 years'.\n  Write whole years"),
        ("{value: 0.5 per year, source: invented}", "0.5 per year", ":4: surges_per_year has no s"),
        ("source: invented}\nprices", "source: ''}\nprices", ":10: lasts.chargers.source is empty"),
        ("per: year", "per: month", ":18: yearly[2].per is 'month'"),
        ("name: room", "name: Contract", ":18: yearly[2].name is 'Contract' again"),
        ("price: 100", "price: -1", ":18: yearly[2].price is '-1'"),
        ("  kits:", "  kit:", ":8: lasts.kit is not known"),
        ("interest: {value: 5 %", "interest: {value: 5", ":6: interest.value is '5'"),
        ("full_charges: 210", "full_charges: 0", ":9: lasts.batteries.full_charges is '0'"),
        ("0.5 per year", "250 per year", ":4: surges_per_year.value come to more than a year"),
    ],
)
def test_a_fault_is_told_with_its_line_and_ends_with_2(
    sized: Sized, tmp_path: Path, capsys: pytest.CaptureFixture[str], old: str, new: str, said: str
) -> None:
    assert old in BY_HAND
    file, out = tmp_path / "life.yaml", tmp_path / "out"
    file.write_text(BY_HAND.replace(old, new, 1))
    typed = ["case", str(sized.folder), "--life", str(file), "--out", str(out)]
    assert exit_code_of(typed) == 2
    assert f"{file}{said}" in capsys.readouterr().err and not out.exists()


def test_all_faults_come_at_once(tmp_path: Path) -> None:
    text = BY_HAND.replace("10 years", "x").replace("per: kit", "per: hat").replace("210", "0")
    (tmp_path / "life.yaml").write_text(text)
    with pytest.raises(ScenarioError) as caught:
        load_life(tmp_path / "life.yaml")
    assert [fault.line for fault in caught.value.faults] == [3, 9, 17]


def test_the_file_to_start_from_is_right_and_calls_every_value_invented(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "life.yaml"
    assert exit_code_of(["new", "--life", str(file)]) == 0
    assert f"case FOLDER --life {file}" in capsys.readouterr().out
    assert file.read_text() == LIFE.read_text()
    assert "invented" in load_life(file).file.title
    assert exit_code_of(["new", "--life", str(file)]) == 2
    assert "is there already" in capsys.readouterr().err
    said = json.loads(load_life(file).file.model_dump_json())
    sources = [one["source"] for one in said["lasts"].values()] + [said["years"]["source"]]
    assert set(sources) == {"invented"}
    assert np.isfinite(load_life(file).file.years.value)


def test_any_file_is_read_or_refused_with_its_faults(tmp_path: Path) -> None:
    """Lines that are gone, doubled or out of place, and signs that are others."""
    chance, lines = random.Random(8), BY_HAND.splitlines()
    signs, refused = "{}[]:,'\"#-%0 9x\t\u202e=", 0
    for _ in range(400):
        changed = list(lines)
        for _ in range(chance.randint(1, 3)):
            at = chance.randrange(len(changed))
            line = changed[at]
            cut = chance.randrange(len(line) + 1)
            changed[at : at + 1] = chance.choice(
                [
                    [], [line, line], [line[:cut] + chance.choice(signs) + line[cut + 1 :]],
                    [line[:cut]], [changed[chance.randrange(len(changed))]], ["  " + line],
                ]
            )  # fmt: skip
            changed = changed or ["title: x"]
        (tmp_path / "life.yaml").write_text("\n".join(changed), encoding="utf-8")
        try:
            load_life(tmp_path / "life.yaml")
        except ScenarioError as error:
            refused += 1
            assert error.faults and all(fault.right for fault in error.faults)
    assert 200 < refused < 400
