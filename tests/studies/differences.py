"""How often the limits of a comparison hold, and how often it finds what is and is not there.

    python -m tests.studies.differences FOLDER      # some 15 minutes of processor time

Plays the exposure scenario and three alternatives over 20,000 surges, whose rows are kept in the
folder, and takes small comparisons from them at random (without replacement, so that each holds
other surges; a comparison takes at most a twentieth of the pool). The differences over the whole
pool are the truth.

It ends with 1 where a rate is worse than it may be: more than 5 % of comparisons of alike
alternatives find something, or, from 100 surges on, less than 95 % hold the truth everywhere. Each
of these is judged with a chance of `EACH` to fail though the rate is right.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
from scipy import stats

from surge_sim import load_scenario
from surge_sim.engine.surges import workers
from surge_sim.statistics.intervals import ENOUGH_SURGES
from surge_sim.whatif.design import alternative_of, design_of
from surge_sim.whatif.differences import MEASURES, Measure, differences, level
from surge_sim.whatif.outcome import Rows
from surge_sim.whatif.parts import Parts
from surge_sim.whatif.play import play_design
from tests.conftest import ROOT

POOL, REPETITIONS, SEED = 20_000, 1_000, 20_311_127
#: chance that one rate is called too bad though it is not
EACH = 1e-5
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


def found_and_wrong(
    pair: Rows, measure: Measure, surges: int, repetitions: int
) -> dict[str, tuple[float, float]]:
    """Return how often a difference is found, and how often its limits miss the truth.

    Of the limits of a comparison and of Student's paired limits, on the same surges: where
    differences are skewed, limits that miss the truth find more.
    """
    rng = np.random.default_rng(SEED + 3)
    by = measure.x(pair[1]) - measure.x(pair[0])
    truth, counts = by.mean(), {"comparison": [0, 0], "Student": [0, 0]}
    for _ in range(repetitions):
        taken = rng.choice(pair.shape[1], surges, replace=False)
        ((one,),) = differences(pair[0, taken], [pair[1, taken]], measures=[measure])
        reach = stats.t.isf(0.025, surges - 1) * by[taken].std(ddof=1) / np.sqrt(surges)
        mean = by[taken].mean()
        limits = {
            "comparison": (one.by.low, one.by.high),
            "Student": (mean - reach, mean + reach),
        }
        for name, (low, high) in limits.items():
            if low is not None and high is not None:
                counts[name][0] += not low <= 0.0 <= high
                counts[name][1] += not low <= truth <= high
    return {name: (n / repetitions, m / repetitions) for name, (n, m) in counts.items()}


def too_many(share: float, repetitions: int, at_most: float) -> bool:
    """Say whether a share of repetitions is more than chance explains, see `EACH`."""
    return round(share * repetitions) > stats.binom.isf(EACH, repetitions, at_most)


def power_of_t(rows: Rows, measure: Measure, surges: int, alpha: float) -> float:
    """Return the power of Student's paired test by the noncentral t distribution.

    Of a mean per surge; the two-sided error is alpha, mean and deviation are those of the pool.
    """
    pairs = measure.x(rows[-1]) - measure.x(rows[0])
    shift = abs(pairs.mean()) / pairs.std() * np.sqrt(surges)
    reach = stats.t.isf(alpha / 2, surges - 1)
    return float(stats.nct.sf(reach, surges - 1, shift) + stats.nct.cdf(-reach, surges - 1, shift))


def main() -> int:
    """Print the figures that stand in tests/README.md; 1 where a rate is too bad."""
    rows, bad = pool(Path(sys.argv[1])), False
    for surges in (20, 50, 100, 200):
        share = alike_found_different(rows[0], surges, 4, REPETITIONS)
        print(f"alike, 4 alternatives, {surges} surges: something found in {share:.1%}", flush=True)
        bad |= too_many(share, REPETITIONS, 0.05)
    for surges in (20, 50, 100, 200, 500):
        together, each = truth_held(rows, surges, REPETITIONS)
        said = ", ".join(f"{name} {share:.1%}" for name, share in each.items())
        print(f"truth, {surges} surges: all hold in {together:.1%}; {said}", flush=True)
        bad |= surges >= ENOUGH_SURGES and too_many(1 - together, REPETITIONS, 0.05)
    hours = next(one for one in MEASURES if one.name == "hours_waited")
    for name, pair in (("partial charge", rows[:2]), ("one kit more", rows[[0, 2]])):
        print(name, [level(hours, one) for one in pair])
        for surges in (20, 50, 100, 200):
            theory = power_of_t(pair, hours, surges, 0.05)
            seen = found(pair, hours, surges, REPETITIONS)
            print(f"power, {name}, {surges} surges: {seen:.1%}, theory {theory:.1%}", flush=True)
            for limits, (there, wrong) in found_and_wrong(pair, hours, surges, REPETITIONS).items():
                print(f"  {limits}: found {there:.1%}, truth missed {wrong:.1%}", flush=True)
    return int(bad)


if __name__ == "__main__":
    sys.exit(main())
