"""From a file to a checked scenario: every fault at once, with its line."""

from __future__ import annotations

from pathlib import Path

from surge_sim.errors import Fault, ScenarioError
from surge_sim.scenario.limits import MOST_SCENARIO
from surge_sim.scenario.scenario import Scenario, checked_scenario
from surge_sim.scenario.text_file import cleaned_text, read_bytes, text_of, why_unreadable
from surge_sim.scenario.yaml_text import read_tree


def load_scenario(path: str | Path) -> Scenario:
    """Read a scenario file.

    Parameters
    ----------
    path : str or Path
        A YAML file; other files that it names are looked for beside it.

    Returns
    -------
    Scenario
        Checked, with every default filled in.

    Raises
    ------
    ScenarioError
        With every fault that was found.
    """
    try:
        data = read_bytes(Path(path), 4 * MOST_SCENARIO)
    except OSError as error:
        found = f"cannot be read: {why_unreadable(error)}."
        right = "Give the path of a scenario file; `surge-sim new FILE` writes one."
        raise ScenarioError([Fault(str(path), 0, found, right)]) from None
    text, faults = text_of(data, str(path))
    return _scenario(text, faults, Path(path), str(path), data)


def scenario_from_text(
    text: str, name: str = "scenario", folder: str | Path = Path(".")
) -> Scenario:
    """Read a scenario from text; files that it names are looked for in `folder`."""
    path = Path(folder) / f"{name}.yaml"
    cleaned, faults = cleaned_text(text, path.name)
    return _scenario(cleaned, faults, path, path.name, text.encode("utf-8", "replace"))


def _scenario(
    text: str | None, faults: list[Fault], path: Path, file: str, data: bytes
) -> Scenario:
    if text is None:
        raise ScenarioError(faults)
    tree, form_faults = read_tree(text, file)
    return checked_scenario(tree, faults + form_faults, path, data, {})
