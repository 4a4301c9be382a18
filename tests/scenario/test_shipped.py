"""The shipped scenarios and the starter are good, sourced, and say that they are invented."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from surge_sim.demand.draw import draw_demand
from surge_sim.scenario.load import load_scenario, scenario_from_text

ROOT = Path(__file__).parents[2]
SHIPPED = sorted((ROOT / "scenarios").glob("*.yaml"))
STARTER = ROOT / "surge_sim" / "scenario" / "starter.yaml"
ids = {"ids": lambda path: path.stem}


@pytest.mark.parametrize("path", [*SHIPPED, STARTER], **ids)
def test_it_loads_without_a_warning(path):
    assert load_scenario(path).warnings == ()


@pytest.mark.parametrize("path", [*SHIPPED, STARTER], **ids)
def test_its_full_form_reads_back_the_same(path):
    scenario = load_scenario(path)
    again = scenario_from_text(scenario.full_form())
    assert again.settings == scenario.settings
    assert again.full_form() == scenario.full_form()
    assert [one.name for one in again.ranges] == [one.name for one in scenario.ranges]


@pytest.mark.parametrize("path", SHIPPED, **ids)
def test_it_says_that_its_place_is_invented_and_names_a_source_for_every_section(path):
    scenario = load_scenario(path)
    assert "invented" in scenario.settings.note.lower()
    assert "does not exist" in scenario.data.decode()
    no_source = {"title", "question", "note", "start", "horizon", "limits", "sources"}
    assert set(scenario.tree.root) - no_source <= set(scenario.settings.sources)


@pytest.mark.parametrize(
    ("name", "low", "high"),
    [("winter_wave", 15_000, 25_000), ("rule_out_unit", 500, 1_200),
     ("exposure_cluster", 1_000, 2_500)],
)  # fmt: skip
def test_a_surge_has_the_size_that_it_was_made_for(name, low, high):
    """Mean of ten surges, fixed seed: the size of a demonstration, not a check of the model."""
    scenario = load_scenario(ROOT / "scenarios" / f"{name}.yaml")
    entries = [draw_demand(scenario, 1, surge).entries for surge in range(10)]
    assert low < sum(entries) / 10 < high


#: commented lines of the starter that are examples; indented as they will stand
EXAMPLES = (
    "clusters", "daily_counts", "epidemic", "timeline", "urgent", "entries", "rooms_per_round",
)  # fmt: skip


def uncommented(name: str) -> str:
    """The starter with '# ' removed from one example, and from the list below it."""
    lines = STARTER.read_text(encoding="utf-8").splitlines()
    first = next(at for at, line in enumerate(lines) if re.match(rf" *# {name}:", line))
    last = first + 1
    while re.match(r" *#   - ", lines[last]):
        last += 1
    lines[first:last] = [line.replace("# ", "", 1) for line in lines[first:last]]
    return "\n".join(lines) + "\n"


def without(text: str, *sections: str) -> str:
    for section in sections:
        text, cut = re.subn(rf"^{section}:.*\n(?:[ #].*\n|\n)*", "", text, flags=re.MULTILINE)
        assert cut == 1, section
    return text


@pytest.mark.parametrize("name", EXAMPLES)
def test_an_example_of_the_starter_is_good_once_its_comment_sign_is_gone(tmp_path, name):
    (tmp_path / "admissions.csv").write_text(
        "day,patients\n" + "".join(f"{day},2\n" for day in range(1, 29))
    )
    (tmp_path / "log.csv").write_text("requested,room_minutes\n2031-01-06 08:00,5\n")
    text = uncommented(name)
    if name == "entries":
        # the log stands instead of what draws the entries, as its comment says
        line = re.search(r"^entries: .*\n", text, re.MULTILINE).group()
        others = "run_in", "arrivals", "rooms", "classes", "roles"
        text = without(text.replace(line, ""), *others) + line
    path = tmp_path / "unit.yaml"
    path.write_text(text, encoding="utf-8")
    settings = load_scenario(path).settings
    there = {
        "clusters": lambda: settings.arrivals.clusters,
        "daily_counts": lambda: settings.arrivals.daily_counts,
        "epidemic": lambda: settings.arrivals.epidemic,
        "timeline": lambda: settings.timeline,
        "urgent": lambda: settings.target.urgent,
        "entries": lambda: settings.entries,
        "rooms_per_round": lambda: settings.roles["nurse"].rooms_per_round,
    }
    assert there[name]()
