"""Formulas of waiting lines against the values that others have printed for them."""

from __future__ import annotations

from collections.abc import Callable

from tests.validation.catalogue import sources as src
from tests.validation.catalogue import unnoticed
from tests.validation.check import By, Check, Kind, plain
from tests.validation.formulas.queues import (
    ConstantService,
    FiniteRoom,
    Line,
    erlang_b,
    erlang_b_load,
    erlang_c,
    mg1_mean_wait,
    nearest_servers,
    square_root_beta,
    square_root_delay,
)

Row = tuple[str, str, str, Kind, Callable[[], float]]
PUBLISHED, ROUNDED, AGAIN = Kind.PUBLISHED, Kind.ROUNDED, Kind.RECOMPUTED
SECOND, FROM_MEMORY, COMMON, OWN = Kind.SECOND, Kind.FROM_MEMORY, Kind.COMMON, Kind.OWN

ERLANG: tuple[Row, ...] = (
    ("load for 1 % lost on 15 lines", "8.108", src.TRAFFIC, COMMON,
     lambda: erlang_b_load(15, 0.01)),
    ("load for 0.01 % lost on 10 lines", "2.3", src.TABLES, COMMON,
     lambda: erlang_b_load(10, 0.0001)),
    ("load for 1 % lost on 10 lines", "4.46", src.TABLES, FROM_MEMORY,
     lambda: erlang_b_load(10, 0.01)),
    ("load for 2 % lost on 10 lines", "5.08", src.TABLES, FROM_MEMORY,
     lambda: erlang_b_load(10, 0.02)),
    ("load for 1 % lost on 20 lines", "12.0", src.TABLES, FROM_MEMORY,
     lambda: erlang_b_load(20, 0.01)),
    ("lines for 33.333 erlang, 1 % lost", "45", src.LOSS_EXERCISE, COMMON,
     lambda: next(n for n in range(1, 99) if erlang_b(n, 100 / 3) <= 0.01)),
    ("share lost, 44 lines, 33.333 erlang", "0.01316", src.RECURSION, AGAIN,
     lambda: erlang_b(44, 100 / 3)),
    ("share lost, 45 lines, 33.333 erlang", "0.00965", src.RECURSION, AGAIN,
     lambda: erlang_b(45, 100 / 3)),
    ("share lost, 10 lines, 5 erlang", "0.018385", src.RECURSION, AGAIN, lambda: erlang_b(10, 5)),
    ("share lost, 5 lines, 3 erlang", "0.110054", src.RECURSION, AGAIN, lambda: erlang_b(5, 3)),
    ("share lost, 100 lines, 90 erlang", "0.026957", src.RECURSION, AGAIN,
     lambda: erlang_b(100, 90)),
    ("share lost, 10 lines, 6 erlang", "0.043142", src.RECURSION, AGAIN, lambda: erlang_b(10, 6)),
    ("share waiting, 120 per h of 3 min, 10 servers", "0.10", src.EXERCISE, COMMON,
     lambda: erlang_c(10, 6)),
    ("share waiting, 10 servers, 6 erlang", "0.101299", src.RECURSION, AGAIN,
     lambda: erlang_c(10, 6)),
    ("mean wait in service times, 10 servers, 6 erlang", "0.025325", src.RECURSION, AGAIN,
     lambda: Line(6, 1, 10).mean_wait),
    ("servers for 90 % not delayed, 30 per h of 5 min", "6", src.RECURSION, AGAIN,
     lambda: next(n for n in range(3, 99) if erlang_c(n, 2.5) <= 0.1)),
    ("share waiting, 5 servers, 2.5 erlang", "0.130371", src.RECURSION, AGAIN,
     lambda: erlang_c(5, 2.5)),
    ("share waiting, 6 servers, 2.5 erlang", "0.047445", src.RECURSION, AGAIN,
     lambda: erlang_c(6, 2.5)),
)  # fmt: skip

#: load, servers: share lost, share waiting, mean wait in service times
ERLANG_POINTS = (
    (2, 3, "0.210526", "0.444444", "0.444444"),
    (4, 5, "0.199067", "0.554113", "0.554113"),
    (5, 7, "0.120519", "0.324150", "0.162075"),
    (8, 10, "0.121661", "0.409180", "0.204590"),
    (10, 12, "0.119739", "0.449388", "0.224694"),
    (20, 24, "0.066097", "0.298072", "0.074518"),
)

TWO, FOUR = Line(9, 5, 2), Line(9, 5, 4)
YEARLY = Line(300, 182.5, 3)
ONE_DOCTOR, TWO_DOCTORS = Line(2, 3, 1), Line(2, 3, 2)
SMALL_ROOM = FiniteRoom(3, 2, 2, 5)

LINES: tuple[Row, ...] = (
    ("M/M/2, 9 in, 5 out: mean waiting", "7.674", src.MARZOLLA, SECOND,
     lambda: TWO.mean_queue),
    ("M/M/2, 9 in, 5 out: mean time", "1.053", src.MARZOLLA, SECOND, lambda: TWO.mean_time),
    ("M/M/4, 9 in, 5 out: mean waiting", "0.105", src.MARZOLLA, SECOND,
     lambda: FOUR.mean_queue),
    ("M/M/4, 9 in, 5 out: mean time", "0.212", src.MARZOLLA, SECOND, lambda: FOUR.mean_time),
    ("M/M/3, 300 a year of 2 days: empty", "0.17754", src.BRONSON, PUBLISHED,
     lambda: YEARLY.empty),
    ("M/M/3, 300 a year of 2 days: mean waiting", "0.35243", src.BRONSON, PUBLISHED,
     lambda: YEARLY.mean_queue),
    ("M/M/3, 300 a year of 2 days: mean there", "1.99626", src.BRONSON, PUBLISHED,
     lambda: YEARLY.mean_number),
    ("M/M/3, 300 a year of 2 days: mean wait [d]", "0.4288", src.BRONSON, PUBLISHED,
     lambda: 365 * YEARLY.mean_wait),
    ("M/M/3, 300 a year of 2 days: mean time [d]", "2.429", src.BRONSON, PUBLISHED,
     lambda: 365 * YEARLY.mean_time),
    ("emergency room, 1 doctor: mean there", "2", src.HILLIER, FROM_MEMORY,
     lambda: ONE_DOCTOR.mean_number),
    ("emergency room, 1 doctor: mean wait [h]", "0.6667", src.HILLIER, FROM_MEMORY,
     lambda: ONE_DOCTOR.mean_wait),
    ("emergency room, 1 doctor: wait over half an hour", "0.4044", src.HILLIER, FROM_MEMORY,
     lambda: ONE_DOCTOR.later_than(0.5)),
    ("emergency room, 1 doctor: wait over an hour", "0.2453", src.HILLIER, FROM_MEMORY,
     lambda: ONE_DOCTOR.later_than(1)),
    ("emergency room, 2 doctors: empty", "0.5", src.HILLIER, FROM_MEMORY,
     lambda: TWO_DOCTORS.empty),
    ("emergency room, 2 doctors: mean there", "0.75", src.HILLIER, FROM_MEMORY,
     lambda: TWO_DOCTORS.mean_number),
    ("emergency room, 2 doctors: wait over half an hour", "0.0226", src.HILLIER, FROM_MEMORY,
     lambda: TWO_DOCTORS.later_than(0.5)),
    ("M/M/2/5, 3 in, 2 out: empty", "0.179335", src.MARZOLLA_K, PUBLISHED,
     lambda: SMALL_ROOM.states[0]),
    ("M/M/2/5, 3 in, 2 out: full", "0.085114", src.MARZOLLA_K, PUBLISHED,
     lambda: SMALL_ROOM.states[-1]),
    ("M/M/2/5, 3 in, 2 out: mean there", "2.005954", src.MARZOLLA_K, PUBLISHED,
     lambda: SMALL_ROOM.mean_number),
    ("M/M/2/5, 3 in, 2 out: mean wait", "0.230858", src.MARZOLLA_K, PUBLISHED,
     lambda: SMALL_ROOM.mean_wait),
    ("M/D/1 at 80 %: mean wait in service times", "2.0", src.KHINCHINE, AGAIN,
     lambda: mg1_mean_wait(0.8, 1, 0)),
    ("M/M/1 at 80 %, as M/G/1: mean wait in service times", "4.0", src.KHINCHINE, AGAIN,
     lambda: mg1_mean_wait(0.8, 1, 1)),
)  # fmt: skip

#: servers, use: mean wait in service times, share waiting
CONSTANT_POINTS = (
    (1, 0.8, "2.0", "0.8"),
    (2, 0.8, "0.90328", "0.70190"),
    (2, 0.9, "2.14692", None),
    (5, 0.8, "0.28906", "0.53362"),
    (10, 0.8, "0.10983", None),
    (10, 0.9, "0.34458", "0.64686"),
)

SQUARE_ROOT: tuple[Row, ...] = (
    *(
        (f"square-root rule, beta {beta}: share waiting", value, src.HALFIN, FROM_MEMORY,
         lambda beta=beta: square_root_delay(beta))
        for beta, value in ((0.5, "0.5045"), (1.0, "0.2234"), (1.5, "0.0847"), (2.0, "0.0269"))
    ),
    ("exact share waiting at load 100, beta 1 (110 servers)", "0.23701", src.RECURSION, AGAIN,
     lambda: erlang_c(nearest_servers(100, 1), 100)),
    ("beta for half waiting", "0.50605", src.JENNINGS, AGAIN, lambda: square_root_beta(0.5)),
    ("beta for a tenth waiting", "1.42019", src.JENNINGS, AGAIN, lambda: square_root_beta(0.1)),
)  # fmt: skip


def _points() -> list[Row]:
    rows: list[Row] = []
    for load, servers, lost, waits, wait in ERLANG_POINTS:
        case = f"{servers} servers, {load} erlang"
        line = Line(load, 1, servers)
        rows += [
            (f"share lost, {case}", lost, src.RECURSION, AGAIN,
             lambda n=servers, a=load: erlang_b(n, a)),
            (f"share waiting, {case}", waits, src.RECURSION, AGAIN, lambda one=line: one.delayed),
            (f"mean wait in service times, {case}", wait, src.RECURSION, AGAIN,
             lambda one=line: one.mean_wait),
        ]  # fmt: skip
    for servers, use, mean, share in CONSTANT_POINTS:
        line_d = ConstantService(servers * use, servers)
        case = f"M/D/{servers} at {use:.0%}".replace("%", " %")
        rows.append((f"{case}: mean wait in service times", mean, src.CROMMELIN, AGAIN,
                     lambda one=line_d: one.mean_wait))  # fmt: skip
        if share:
            rows.append((f"{case}: share waiting", share, src.CROMMELIN, AGAIN,
                         lambda one=line_d: one.delayed))  # fmt: skip
    return rows


def _numbered(letter: str, group: str, rows: list[Row]) -> list[Check]:
    return [
        Check(f"{letter}{n:02d}", group, quantity, value, source, kind, By.THEORY, plain(compute),
              unnoticed.formula(kind))
        for n, (quantity, value, source, kind, compute) in enumerate(rows, 1)
    ]  # fmt: skip


CHECKS = _numbered("L", "waiting lines: formulas", [*ERLANG, *LINES, *SQUARE_ROOT, *_points()])
