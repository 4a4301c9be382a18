"""From what is written to settings: as far as it is right, with every fault."""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from pydantic import ValidationError

from surge_sim.errors import Fault
from surge_sim.scenario.cross import cross_faults
from surge_sim.scenario.faults import faults_of
from surge_sim.scenario.quantities import AS_FAR_AS_KNOWN
from surge_sim.scenario.ranges import Range, with_values
from surge_sim.scenario.schema import Settings
from surge_sim.scenario.tree import Tree

#: draws of the ranges that are tried when a scenario is read
TRIED_DRAWS = 64


def read_settings(
    root: Mapping[str, Any], values: Mapping[Range, float], tree: Tree
) -> tuple[Settings, list[Fault]]:
    """Read settings with a value for each range; with UNKNOWN in them where they are faulty.

    Parameters
    ----------
    root : mapping
        The tree's root with the contents of files in place.
    values : mapping of Range to float
        A value for each range.
    tree : Tree
        What was written, for the places of faults.
    """
    tried = with_values(root, values)
    try:
        settings, faults = Settings.model_validate(tried), []
    except ValidationError as error:
        faults = faults_of(error, tree, tried)
        settings = Settings.model_validate(tried, context=AS_FAR_AS_KNOWN)
    return settings, faults + cross_faults(settings, tree)


def faults_of_draws(
    root: Mapping[str, Any], ranges: list[Range], tree: Tree, known: list[Fault]
) -> list[Fault]:
    """Read the scenario with all low, all high and many drawn values: all must be usable."""
    chance = random.Random(0)  # not a draw of any surge: places at which to look
    trials = [{one: one.at(end) for one in ranges} for end in (0.0, 1.0)]
    if not known:
        trials += [{one: one.at(chance.random()) for one in ranges} for _ in range(TRIED_DRAWS)]
    told = {(fault.line, fault.found.split()[0]) for fault in known}
    faults: list[Fault] = []
    for values in trials if ranges else ():
        for one in read_settings(root, values, tree)[1]:
            place = one.line, one.found.split()[0]
            if place not in told:
                told.add(place)
                right = "\n  This is inside the ranges of the file; narrow them."
                faults.append(replace(one, right=one.right + right))
    return faults
