"""How often the limits of a comparison hold, and how often it finds what is and is not there.

    python -m tests.studies.differences FOLDER      # some 20 minutes of processor time

Plays the exposure scenario and three alternatives over 20,000 surges, whose rows are kept in the
folder, and takes small comparisons from them at random (without replacement, so that each holds
other surges; a comparison takes at most a twentieth of the pool). The differences over the whole
pool are the truth.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
from scipy import stats

from surge_sim import load_scenario
from surge_sim.engine.surges import workers
from surge_sim.whatif.design import alternative_of, design_of
from surge_sim.whatif.differences import MEASURES, Measure, differences, level
from surge_sim.whatif.outcome import Rows
from surge_sim.whatif.parts import Parts
from surge_sim.whatif.play import play_design
from tests.conftest import ROOT

POOL, REPETITIONS, SEED = 20_000, 1_000, 20_311_127
CHANGES = {
    "partial charge": {"charging.partial_charge_at_reissue": "yes"},
    "one kit more": {"stock.kits": 33},
    "reserve of 4": {"policy.reserved_for_urgent": 4},
}


def pool(folder: Path, surges: int = POOL) -> Rows:
    """Play the scenario as it is and its alternatives, shape (4, surges)."""
    scenario = load_scenario(ROOT / "scenarios" / "exposure_cluster.yaml")
    design = design_of(scenario, [alternative_of(scenario, *one) for one in CHANGES.items()])
    with workers() as place:
        return play_design(design, surges, place, Parts(folder)).rows


def alike_found_different(base: Rows, surges: int, alternatives: int, repetitions: int) -> float:
    """Return how often anything is found where all alternatives are alike, with other surges."""
    rng = np.random.default_rng(SEED)
    found = 0
    for _ in range(repetitions):
        taken = rng.choice(len(base), (alternatives + 1) * surges, replace=False)
        first, *others = base[taken].reshape(alternatives + 1, surges)
        told = differences(first, others)
        found += any(one.finding in ("better", "worse") for row in told for one in row)
    return found / repetitions


def truth_held(rows: Rows, surges: int, repetitions: int) -> tuple[float, dict[str, float]]:
    """Return how often all limits hold the truth at once, and how often those of a measure do."""
    truth = [[one.by.estimate for one in row] for row in differences(rows[0], list(rows[1:]))]
    rng = np.random.default_rng(SEED + 1)
    all_held, missed = 0, dict.fromkeys((one.name for one in MEASURES), 0)
    for _ in range(repetitions):
        first, *others = rows[:, rng.choice(rows.shape[1], surges, replace=False)]
        missed_here = set()
        for row, true in zip(differences(first, others), truth, strict=True):
            for one, value in zip(row, true, strict=True):
                low, high = one.by.low, one.by.high
                if low is not None and high is not None and not low <= value <= high:
                    missed_here.add(one.measure.name)
        all_held += not missed_here
        for name in missed_here:
            missed[name] += 1
    return all_held / repetitions, {name: 1 - n / repetitions for name, n in missed.items()}


def found(rows: Rows, measure: Measure, surges: int, repetitions: int) -> float:
    """Return how often the last of the alternatives is found different in one measure."""
    rng = np.random.default_rng(SEED + 2)
    count = 0
    for _ in range(repetitions):
        first, *others = rows[:, rng.choice(rows.shape[1], surges, replace=False)]
        (one,) = differences(first, others, measures=[measure])[-1]
        count += one.finding in ("better", "worse")
    return count / repetitions


def power_of_t(rows: Rows, measure: Measure, surges: int, alpha: float) -> float:
    """Return the power of Student's paired test by the noncentral t distribution.

    Of a mean per surge; the two-sided error is alpha, mean and deviation are those of the pool.
    """
    pairs = measure.x(rows[-1]) - measure.x(rows[0])
    shift = abs(pairs.mean()) / pairs.std() * np.sqrt(surges)
    reach = stats.t.isf(alpha / 2, surges - 1)
    return float(stats.nct.sf(reach, surges - 1, shift) + stats.nct.cdf(-reach, surges - 1, shift))


def main() -> None:
    """Print the figures that stand in tests/README.md."""
    rows = pool(Path(sys.argv[1]))
    for surges in (20, 50, 100, 200):
        share = alike_found_different(rows[0], surges, 4, REPETITIONS)
        print(f"alike, 4 alternatives, {surges} surges: something found in {share:.1%}", flush=True)
    for surges in (20, 50, 100, 200, 500):
        together, each = truth_held(rows, surges, REPETITIONS)
        said = ", ".join(f"{name} {share:.1%}" for name, share in each.items())
        print(f"truth, {surges} surges: all hold in {together:.1%}; {said}", flush=True)
    hours = next(one for one in MEASURES if one.name == "hours_waited")
    for name, pair in (("partial charge", rows[:2]), ("one kit more", rows[[0, 2]])):
        print(name, [level(hours, one) for one in pair])
        for surges in (20, 50, 100, 200):
            theory = power_of_t(pair, hours, surges, 0.05)
            seen = found(pair, hours, surges, REPETITIONS)
            print(f"power, {name}, {surges} surges: {seen:.1%}, theory {theory:.1%}", flush=True)


if __name__ == "__main__":
    main()
