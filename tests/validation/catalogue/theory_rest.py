"""Formulas of repair, networks, changing rates, stocks, epidemics and air, against print."""

from __future__ import annotations

from functools import cache
from math import inf, log

import numpy as np
from scipy.stats import lognorm, poisson

from tests.validation.catalogue import sources as src
from tests.validation.catalogue.theory_lines import (
    AGAIN,
    COMMON,
    FROM_MEMORY,
    OWN,
    PUBLISHED,
    SECOND,
    Row,
    _numbered,
)
from tests.validation.check import Check
from tests.validation.formulas import epidemics, networks
from tests.validation.formulas.air import clearing_minutes, fan, offered_dust_mg
from tests.validation.formulas.chains import RepairLoop, gyroscopes
from tests.validation.formulas.changing import Pooled, SineUse, changing_line, filling, sine_day
from tests.validation.formulas.queues import Line
from tests.validation.formulas.stocks import backorders, fill_rate, rotation

THREE_MACHINES = RepairLoop(3, 0, 2, 10, 8)
FIVE_CARS = RepairLoop(5, 0, 2, 30, 3)
EIGHT_CARS = RepairLoop(8, 0, 1, 20, 0.75)

REPAIR: list[Row] = [
    ("3 machines, 2 repairers: mean down", "1.40342", src.ROSS, AGAIN,
     lambda: THREE_MACHINES.mean_down),
    ("3 machines, 2 repairers: both busy", "0.441524", src.ROSS, AGAIN,
     lambda: THREE_MACHINES.all_crews_busy),
    ("5 patrol cars: all good", "0.619", src.WINSTON, FROM_MEMORY, lambda: FIVE_CARS.states[0]),
    ("5 patrol cars: mean good", "4.53521", src.WINSTON, AGAIN, lambda: 5 - FIVE_CARS.mean_down),
    ("5 patrol cars: mean time down [d]", "3.07458", src.WINSTON, AGAIN,
     lambda: FIVE_CARS.mean_down_time),
    ("5 patrol cars: a repairer idle", "0.77324", src.WINSTON, AGAIN,
     lambda: 1 - FIVE_CARS.crew_use),
    ("8 patrol cars: mean down", "0.376195", src.PATROL, OWN, lambda: EIGHT_CARS.mean_down),
    ("8 patrol cars: mean time down [h]", "23.6855", src.PATROL, OWN,
     lambda: 24 * EIGHT_CARS.mean_down_time),
    ("8 patrol cars: all good", "0.714107", src.PATROL, OWN, lambda: EIGHT_CARS.states[0]),
]  # fmt: skip

#: spares, crews: share of time without shortage, mean short, use of the crews
SPARES = (
    (6, 4, "0.66215", "0.87016", "0.856"),
    (6, 5, "0.82382", "0.37635", "0.722"),
    (8, 4, "0.74359", "0.66040", "0.876"),
    (4, 6, "0.69647", "0.56914", "0.589"),
)
for _spares, _crews, _good, _short, _use in SPARES:
    _loop = RepairLoop(10, _spares, _crews, 8, 3)
    _case = f"10 in use, {_spares} spare, {_crews} places, 8 h use, 3 h work"
    REPAIR += [
        (f"{_case}: no shortage", _good, src.GROSS, AGAIN, lambda one=_loop: one.not_short),
        (f"{_case}: mean short", _short, src.GROSS, AGAIN, lambda one=_loop: one.mean_short),
        (f"{_case}: use of places", _use, src.GROSS, AGAIN, lambda one=_loop: one.crew_use),
    ]
REPAIR += [
    ("six gyroscopes: crash within 10 years", "0.000504", src.TIJMS, SECOND,
     lambda: gyroscopes(0.1, 100, 5, 10)[0]),
    ("six gyroscopes: no shuttle within 10 years", "0.3901", src.TIJMS, SECOND,
     lambda: gyroscopes(0.1, 100, 5, 10)[1]),
]  # fmt: skip

JAIN = ([0.125, 0.3, 0.2], [16, 10, 5], 20, 4.0)
SERVER = ([0.02, 0.2, 0.4, 0.6], [1, 0.4, 0.2, 0.1], 6)
MANY = ([0.5, 0.3, 0.4, 1.0], [2, 1, 1, inf], 3)
CLASSES = ([[1, 3], [2, 4]], (1, 1))

NETWORKS: list[Row] = [
    *(
        (f"3 stations and think time: time at station {i + 1}", value, src.JAIN, SECOND,
         lambda i=i: networks.mean_values(*JAIN)[1][i])
        for i, value in enumerate(("0.373", "4.854", "0.300"))
    ),
    *(
        (f"3 stations and think time: mean at station {i + 1}", value, src.JAIN, SECOND,
         lambda i=i: networks.mean_values(*JAIN)[2][i])
        for i, value in enumerate(("1.991", "16.177", "0.500"))
    ),
    ("3 stations and think time: throughput", "0.333247", src.JAIN, AGAIN,
     lambda: networks.mean_values(*JAIN)[0]),
    ("the same by convolution", "0.333247", src.JAIN, AGAIN,
     lambda: networks.convolution([2, 3, 1], 20, 4.0)),
    ("central server: throughput", "9.920", src.BOLCH_3, PUBLISHED,
     lambda: networks.mean_values(*SERVER)[0]),
    *(
        (f"central server: mean at station {i + 1}", value, src.BOLCH_3, PUBLISHED,
         lambda i=i: networks.mean_values(*SERVER)[2][i])
        for i, value in enumerate(("0.244", "2.261", "2.261", "1.234"))
    ),
    ("two-server and ample stations: throughput", "1.217461", src.BOLCH_4, AGAIN,
     lambda: networks.enumerated(*MANY)[0]),
    *(
        (f"two-server and ample stations: mean at station {i + 1}", value, src.BOLCH_4, PUBLISHED,
         lambda i=i: networks.enumerated(*MANY)[1][i])
        for i, value in enumerate(("0.624", "0.473", "0.686", "1.217"))
    ),
    *(
        (f"two classes: mean of class {c + 1} at station {s + 1}", value, src.LAZOWSKA, SECOND,
         lambda c=c, s=s: networks.two_classes(*CLASSES)[2][c, s])
        for c, s, value in ((0, 0, "0.211"), (0, 1, "0.789"), (1, 0, "0.263"), (1, 1, "0.737"))
    ),
]  # fmt: skip


@cache
def headline(servers: int) -> Pooled:
    """Rate 12 + 8 sin(2 pi t / 24) per hour, 30 min of service, a day from empty."""
    return changing_line(sine_day, 2.0, servers, 24.0, 5 / 60)


USE = SineUse(30, 20, 5)
CHANGING: list[Row] = [
    *(
        (f"changing rate, {c} servers: share waiting 5 min or less", value, src.FORWARD, AGAIN,
         lambda c=c: headline(c).in_time)
        for c, value in ((9, "0.511113"), (10, "0.670068"), (11, "0.800073"), (12, "0.888134"),
                         (13, "0.941042"))
    ),
    ("changing rate: expected entries in a day", "288", src.FORWARD, AGAIN,
     lambda: headline(9).arrivals),
    *(
        (f"steady rate, {c} servers: share waiting 5 min or less", value, src.RECURSION, AGAIN,
         lambda c=c: 1 - Line(12, 2, c).later_than(5 / 60))
        for c, value in ((8, "0.74421"), (9, "0.88113"), (10, "0.94799"), (11, "0.97861"))
    ),
    *(
        (f"unlimited pool, sine rate, exponential: mean at {t}", value, src.SINE, AGAIN,
         lambda t=t: USE.exponential(t))
        for t, value in ((0, "26.15385"), (0.2, "28.56920"), (0.4, "32.30002"),
                         (0.6, "33.91622"), (1, "28.17136"))
    ),
    ("unlimited pool, sine rate: swing of the mean (not 20)", "3.92232", src.SINE, AGAIN,
     lambda: USE.amplitude),
    ("unlimited pool, sine rate: lag of the peak", "0.27468", src.SINE, AGAIN, lambda: USE.lag),
    *(
        (f"unlimited pool, sine rate, constant: mean at {t}", value, src.SINE_G, AGAIN,
         lambda t=t: USE.constant(t))
        for t, value in ((0, "27.13465"), (0.2, "25.22422"), (0.4, "27.70462"), (1, "32.86535"))
    ),
    ("unlimited pool 30 min after empty, 12 per h of 30 min", "3.79272", src.AMPLE, OWN,
     lambda: filling(12, 2, 0.5)),
    *(
        (f"Poisson use, mean {mean}: {q} % quantile", value, src.POISSON, AGAIN,
         lambda mean=mean, q=q: poisson.ppf(q / 100, mean))
        for mean, row in ((5, "8 9 11"), (10, "14 15 18"), (20, "26 28 31"), (40, "48 51 55"))
        for q, value in zip((90, 95, 99), row.split(), strict=True)
    ),
]  # fmt: skip

STOCKS: list[Row] = [
    *(
        (f"pipeline {m:g}, stock {s}: backorders", value, src.PALM,
         FROM_MEMORY if m == 1 else AGAIN,
         lambda s=s, m=m: backorders(s, m))
        for m, s, value in ((1, 0, "1"), (1, 1, "0.3679"), (1, 2, "0.1036"), (1, 3, "0.0233"),
                            (2.5, 3, "0.4132"), (2.5, 5, "0.0619"), (5, 5, "0.8773"),
                            (5, 8, "0.1221"))
    ),
    *(
        (f"pipeline {m:g}, stock {s}: fill rate", value, src.PALM, FROM_MEMORY if m == 1 else AGAIN,
         lambda s=s, m=m: fill_rate(s, m))
        for m, s, value in ((1, 1, "0.3679"), (1, 2, "0.7358"), (1, 3, "0.9197"),
                            (2.5, 3, "0.5438"), (2.5, 5, "0.8912"), (5, 5, "0.4405"),
                            (5, 8, "0.8666"))
    ),
    ("8 h use and 8 h charge, 3 wearers: batteries", "6", src.NIOSH_1992, AGAIN,
     lambda: rotation(3, 8, 8)[0]),
    ("8 h use and 8 h charge, 3 wearers: charging places", "3", src.NIOSH_1992, AGAIN,
     lambda: rotation(3, 8, 8)[1]),
]  # fmt: skip

OUTBREAK = (
    *("0.33333", "0.08640", "0.04908", "0.03814", "0.03638"),
    *("0.04079", "0.05256", "0.07614", "0.11862", "0.16854"),
)
EPIDEMICS: list[Row] = [
    *(
        (f"SIR, R0 {r}: share infected in the end", value, src.KERMACK, AGAIN,
         lambda r=r: epidemics.final_share(r))
        for r, value in ((1.5, "0.582812"), (2, "0.796812"), (3, "0.940480"), (5, "0.993023"))
    ),
    *(
        (f"SIR, R0 {r}: greatest share infectious", value, src.KERMACK, AGAIN,
         lambda r=r: epidemics.peak_share(r))
        for r, value in ((1.5, "0.063023"), (2, "0.153426"), (3, "0.300463"), (5, "0.478112"))
    ),
    ("SIR: greatest overshoot", "0.2984", src.OVERSHOOT, PUBLISHED,
     lambda: epidemics.greatest_overshoot()[0]),
    ("SIR: R0 of the greatest overshoot", "2.151", src.OVERSHOOT, PUBLISHED,
     lambda: epidemics.greatest_overshoot()[1]),
    *(
        (f"outbreak in 10 people: {n + 1} infected in all", value, src.BHATIA, OWN,
         lambda n=n: epidemics.outbreak_sizes(10, 2 / 9, 1)[n])
        for n, value in enumerate(OUTBREAK)
    ),
    ("SEIR, R0 2, latent 3 d: share infected in the end", "0.797", src.ARINO, AGAIN,
     lambda: epidemics.seir(2, 3, 5, 1e6, 1, 700)[0]),
]  # fmt: skip


def log_sigma(low: float, high: float) -> float:
    """Sigma of a lognormal from its quartiles."""
    return log(high / low) / (2 * 0.6744897501960817)


REST: list[Row] = [
    ("fan at 1.25 times the speed: pressure [in]", "3.13", src.FANS, COMMON,
     lambda: fan(10_000, 2.0, 5.0, 1.25)[1]),
    ("fan at 1.25 times the speed: power [hp]", "9.77", src.FANS, COMMON,
     lambda: fan(10_000, 2.0, 5.0, 1.25)[2]),
    ("dust let through in the loading test, loose hood [%]", "1.04", src.CFR_DUST, AGAIN,
     lambda: 100 * 21.3 / offered_dust_mg(50, 170, 240)),
    ("dust let through in the loading test, tight piece [%]", "1.04", src.CFR_DUST, AGAIN,
     lambda: 100 * 14.4 / offered_dust_mg(50, 115, 240)),
    ("stay of rule-out patients: sigma of the log", "0.5394", src.LIPPINCOTT, AGAIN,
     lambda: log_sigma(47.1, 97.5)),
    ("stay of rule-out patients: mean [h]", "78.65", src.LIPPINCOTT, AGAIN,
     lambda: 68.0 * np.exp(log_sigma(47.1, 97.5) ** 2 / 2)),
    ("stay of rule-out patients: share over 48 h", "0.741", src.LIPPINCOTT, AGAIN,
     lambda: lognorm.sf(48, log_sigma(47.1, 97.5), scale=68.0)),
    ("stay of rule-out patients: share over 72 h", "0.458", src.LIPPINCOTT, AGAIN,
     lambda: lognorm.sf(72, log_sigma(47.1, 97.5), scale=68.0)),
    ("stay on the ward, quartiles 3 and 9 d: sigma of the log", "0.8144", src.REES, AGAIN,
     lambda: log_sigma(3, 9)),
    ("stay in intensive care, quartiles 4 and 11 d: sigma of the log", "0.7499", src.REES, AGAIN,
     lambda: log_sigma(4, 11)),
    ("boarding school: greatest number in bed, SIR fit (763 boys, R0 763/202)", "293",
     src.MURRAY, FROM_MEMORY, lambda: 763 * epidemics.peak_share(763 / 202)),
]  # fmt: skip

#: air changes per hour: minutes to clear 99 % and 99.9 %
CDC_TABLE = {
    2: (138, 207), 4: (69, 104), 6: (46, 69), 8: (35, 52), 10: (28, 41), 12: (23, 35),
    15: (18, 28), 20: (14, 21), 50: (6, 8),
}  # fmt: skip
#: air changes per hour: minutes to clear 90 %, 99 % and 99.9 % (13 is left out: its 99.9 %
#: figure is printed as 3, a misprint; the formula gives 32)
CANADA_TABLE = {
    1: (138, 276, 414), 3: (46, 92, 138), 5: (28, 55, 83), 7: (20, 39, 59), 9: (15, 31, 46),
    11: (13, 25, 38), 14: (10, 20, 30), 16: (9, 17, 26), 17: (8, 16, 24), 18: (8, 15, 23),
    19: (7, 15, 22),
}  # fmt: skip
AIR: list[Row] = [
    (f"minutes to clear {share:.1%} at {changes} air changes".replace(".0%", "%"), str(value),
     source, kind, lambda n=changes, e=share: clearing_minutes(n, e))
    for table, source, kind, shares in (
        (CDC_TABLE, src.CDC_AIR, SECOND, (0.99, 0.999)),
        (CANADA_TABLE, src.CANADA_AIR, PUBLISHED, (0.9, 0.99, 0.999)),
    )
    for changes, row in table.items()
    for share, value in zip(shares, row, strict=True)
]  # fmt: skip

CHECKS: list[Check] = [
    *_numbered("R", "repair and spares: formulas", REPAIR),
    *_numbered("N", "closed networks: formulas", NETWORKS),
    *_numbered("T", "rates that change: formulas", CHANGING),
    *_numbered("S", "stocks: formulas", STOCKS),
    *_numbered("E", "epidemics: formulas", EPIDEMICS),
    *_numbered("A", "clearing the air: formula", AIR),
    *_numbered("F", "fans, filters, stays: formulas", REST),
]
