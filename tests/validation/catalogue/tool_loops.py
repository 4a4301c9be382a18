"""surge_sim as a closed loop: kits go round between wearers, a crew and drying."""

from __future__ import annotations

from functools import cache
from math import inf

import numpy as np

from surge_sim.engine.log import Use
from tests.validation.catalogue import sources as src
from tests.validation.catalogue import unnoticed
from tests.validation.catalogue.tool_lines import (
    AGAIN,
    FROM_MEMORY,
    OWN,
    Row,
    numbered,
    scaled,
    turned,
)
from tests.validation.check import Check, Found
from tests.validation.formulas.networks import enumerated
from tests.validation.scenes import (
    DAY,
    Played,
    batch_mean,
    generator,
    plain_pool,
    played,
    whole,
)


@cache
def loop(wearers: int, kits: int, crew: int, use: float, work: float, dry: float = 0.0,
         days: int = 3000, unit_s: int = 3600) -> Played:  # fmt: skip
    """Wearers who always want a kit, a crew that works round the clock; times in units.

    Every wearer's visits are due at once, so that the next begins when one ends. The kit in use
    is the machine that runs, the wipe-down is its repair: machine repair with spares.
    """
    visits = int(1.25 * DAY / unit_s * days / use) + 50
    rng = generator(500 + 10 * wearers + kits)
    room_s = np.maximum(whole(rng.exponential(use * unit_s, wearers * visits)), 1)
    scene = plain_pool(
        kits,
        days * DAY,
        run_out="1 s",
        cleaning={
            "by": "crew",
            "wipe_down": {"shape": "exponential", "mean": f"{round(work * unit_s)} s"},
            "drying_time": f"{round(dry * unit_s)} s",
            "crew": [{"start": "00:00", "end": "24:00", "cleaners": crew}],
        },
    )
    names = [f"w{n}" for n in range(wearers)] * visits
    return played(scene, due_s=np.zeros(len(room_s), np.int64), room_s=room_s, wearer=names)


def mean_use(state: Use, *case: float) -> Found:
    """Mean number of items in a state over time, from the hourly areas."""
    log = loop(*case).log  # type: ignore[arg-type]
    return batch_mean(log.use_area[state] / 3600)


def uses(case: tuple[float, ...]) -> Found:
    """Uses that begin per hour."""
    log = loop(*case).log  # type: ignore[arg-type]
    begun = log.in_hand_s[log.in_hand_s >= 0]
    hours = log.use_area.shape[1]
    return batch_mean(np.bincount(begun // 3600, minlength=hours)[:hours])


def never_short(wearers: int, *case: float) -> Found:
    """Share of time with every wearer in a kit, from the moments of hand-over and end."""
    log = loop(wearers, *case).log  # type: ignore[arg-type]
    served = log.in_hand_s >= 0
    moments = np.concatenate([log.in_hand_s[served], log.end_s[served]])
    steps = np.concatenate([np.ones(served.sum()), -np.ones(served.sum())])
    order = np.lexsort((steps, moments))
    at, worn = moments[order], np.cumsum(steps[order])
    last = log.use_area.shape[1] * 3600
    length = np.diff(np.append(at, last)).clip(min=0) * (at < last)
    hour = np.minimum(at // 3600, log.use_area.shape[1] - 1)
    day = hour // 24
    # a stretch is booked on the day on which it begins; lengths of days then differ a little
    good = np.bincount(day, length * (worn >= wearers))
    return batch_mean(good / DAY)


#: wearers, kits, crew, use, work, dry, days and unit of time of machines under repair
THREE = (3, 3, 2, 10, 8, 0, 1500, 600)
FIVE = (5, 5, 2, 30, 3, 0, 1500, 600)
EIGHT = (8, 8, 1, 20, 0.75, 0, 1500, 600)
#: wearers, kits, crew, use, work, dry of a loop with three stations
TOUR = (2, 6, 1, 0.5, 0.2, 0.75, 600)
TOUR_RATE, TOUR_MEANS = enumerated([0.5, 0.2, 0.75], [2, 1, inf], 6)


def spares(number: int, crew: int) -> tuple[float, ...]:
    """Ten wearers, some spare kits, some cleaners, 8 h of use and 3 h of work."""
    return (10, 10 + number, crew, 8, 3)


def down(machines: int, case: tuple[float, ...]) -> Found:
    """Mean machines down: kits that are not in use."""
    return scaled(mean_use(Use.KITS_IN_USE, *case), -1.0, machines)


ROWS: list[Row] = [
    ("3 machines, 2 repairers: mean down", "1.40342", src.ROSS, AGAIN,
     lambda: down(3, THREE), 0.02),
    ("5 patrol cars, 2 repairers: mean good", "4.53521", src.WINSTON, FROM_MEMORY,
     lambda: mean_use(Use.KITS_IN_USE, *FIVE), 0.01),
    ("5 patrol cars: a repairer idle", "0.77324", src.WINSTON, AGAIN,
     lambda: turned(scaled(mean_use(Use.KITS_IN_WIPE_DOWN, *FIVE), 0.5)), 0.02),
    ("8 patrol cars, 1 repairer: mean down", "0.376195", src.PATROL, OWN,
     lambda: down(8, EIGHT), 0.03),
    *(
        (f"10 in use, {s} spare, {c} cleaners: mean short", short, src.GROSS, AGAIN,
         lambda s=s, c=c: mean_use(Use.ENTRIES_WAITING, *spares(s, c)), 0.04)
        for s, c, short in ((6, 4, "0.87016"), (6, 5, "0.37635"), (8, 4, "0.66040"),
                            (4, 6, "0.56914"))
    ),
    *(
        (f"10 in use, {s} spare, {c} cleaners: use of the cleaners", use, src.GROSS, AGAIN,
         lambda s=s, c=c: scaled(mean_use(Use.KITS_IN_WIPE_DOWN, *spares(s, c)), 1 / c), 0.02)
        for s, c, use in ((6, 4, "0.856"), (6, 5, "0.722"), (8, 4, "0.876"), (4, 6, "0.589"))
    ),
    *(
        (f"10 in use, {s} spare, {c} cleaners: no shortage", good, src.GROSS, AGAIN,
         lambda s=s, c=c: never_short(*spares(s, c)), 0.02)
        for s, c, good in ((6, 4, "0.66215"), (6, 5, "0.82382"), (8, 4, "0.74359"),
                           (4, 6, "0.69647"))
    ),
    ("loop of 6 kits, 2 wearers, 1 cleaner, drying: uses per hour", f"{TOUR_RATE:.6f}",
     src.BOLCH_4, AGAIN, lambda: uses(TOUR), 0.01),
    ("loop of 6 kits: mean in use", f"{min(2.0, TOUR_RATE * 0.5):.6f}", src.BOLCH_4, AGAIN,
     lambda: mean_use(Use.KITS_IN_USE, *TOUR), 0.01),
    ("loop of 6 kits: mean drying", f"{TOUR_MEANS[2]:.6f}", src.BOLCH_4, AGAIN,
     lambda: mean_use(Use.KITS_DRYING, *TOUR), 0.01),
    ("loop of 6 kits: mean in or waiting for wipe-down", f"{TOUR_MEANS[1]:.6f}", src.BOLCH_4,
     AGAIN, lambda: batch_mean(at_the_crew()), 0.02),
]  # fmt: skip


def at_the_crew() -> np.ndarray:
    """Kits in wipe-down and waiting for it, by hour."""
    area = loop(*TOUR).log.use_area  # type: ignore[arg-type]
    return (area[Use.KITS_WAITING_FOR_WIPE] + area[Use.KITS_IN_WIPE_DOWN]) / 3600


CHECKS: list[Check] = numbered(
    "K", "surge_sim as a closed loop of kits and a crew", (unnoticed.LOOP, ROWS)
)
