"""What the CSV files mean: patients by day, and a unit's own log of entries."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from surge_sim import units
from surge_sim.errors import Fault
from surge_sim.scenario.entry_log import MOST_ENTRIES, LoggedEntries
from surge_sim.scenario.schema import Settings

if TYPE_CHECKING:
    import pandas as pd

    from surge_sim.scenario.files import FileReader

#: role of entries whose log names none
NO_ROLE = "entry"


def counts_by_day(
    reader: FileReader, table: pd.DataFrame, name: str, column: str, start: Any
) -> tuple[float, ...]:
    """Read patients per day of the horizon [patients], day 0 first; days not there have 0.

    Column ``date`` (2031-01-06) counts from the day of `start`; column ``day`` counts from 1.
    """
    import numpy as np
    import pandas as pd

    nothing = (0.0,)
    patients = reader.column(table, name, column)
    by_date = "date" in table.columns
    days_text = reader.column(table, name, "date" if by_date else "day")
    if patients is None or days_text is None:
        return nothing
    values = reader.numbers(patients, name, column, 1_000_000)
    if by_date:
        dates = pd.to_datetime(days_text, format="%Y-%m-%d", errors="coerce")
        try:
            first = pd.Timestamp(units.parse_moment(start)).normalize()
        except units.QuantityError:
            return nothing  # a fault of `start`, told elsewhere
        wrong = dates.isna().to_numpy()
        reader.rows_wrong(wrong, days_text, name, "date", "Write year-month-day: 2031-01-06.")
        day = (dates - first).dt.days.to_numpy(dtype=float)
    else:
        numbers = reader.numbers(days_text, name, "day", 4_000)
        if numbers is None:
            return nothing
        wrong = (numbers < 1) | (numbers != np.round(numbers))
        reader.rows_wrong(wrong, days_text, name, "day", "Number the days 1, 2, 3 ...")
        day = numbers - 1
    if values is None or wrong.any():
        return nothing
    twice = pd.Series(day).duplicated().to_numpy()
    reader.rows_wrong(twice, days_text, name, "a second row for the day", "Keep one row per day.")
    inside = (day >= 0) & (day < 4_000)
    outside = int((values[~inside] > 0).sum())
    if outside:
        reader.warnings.append(
            f"{name}: {outside} days before the start (or ten years after it) are left out."
        )
    if not inside.any():
        reader.faults.append(
            Fault(
                name,
                2,
                "has no day inside the horizon.",
                "Let `start` be the first day that is to be played.",
            )
        )
        return nothing
    counts = np.zeros(int(day[inside].max()) + 1)
    counts[day[inside].astype(int)] = values[inside]
    return tuple(counts.tolist())


def read_log(
    reader: FileReader, table: pd.DataFrame, name: str, settings: Settings
) -> LoggedEntries | None:
    """Read a log of entries; see :class:`surge_sim.scenario.arrivals.EntryLog` for its columns."""
    import numpy as np

    known = {"need", "room_minutes", "role", "urgent", "wearer"}
    strange = [column for column in table.columns if column not in known]
    if strange:
        reader.warnings.append(f"{name}: not used: {', '.join(strange[:8])}.")
    needs = reader.column(table, name, "need")
    minutes = reader.column(table, name, "room_minutes")
    if needs is None or minutes is None:
        return None
    due_s = _needs(reader, needs, name, settings)
    room = reader.numbers(minutes, name, "room_minutes", 7 * 1_440)
    urgent = _yes_no(reader, table, name)
    roles, role_names = _codes(table, "role")
    wearers, wearer_names = _codes(table, "wearer")
    if len(table) > MOST_ENTRIES:
        reader.faults.append(
            Fault(name, 0, f"has {len(table):,} rows.", f"Use {MOST_ENTRIES:,} at most.")
        )
    if due_s is None or room is None or urgent is None or reader.faults:
        return None
    inside = (due_s >= 0) & (due_s < settings.horizon)
    if not inside.all():
        reader.warnings.append(
            f"{name}: {int((~inside).sum()):,} of {len(table):,} rows lie outside the horizon and "
            "are left out."
        )
    order = np.flatnonzero(inside)
    order = order[np.argsort(due_s[order], kind="stable")]
    columns = {
        "due_s": due_s, "room_s": np.round(room * 60).astype(np.int64), "role": roles,
        "urgent": urgent, "wearer": wearers,
    }  # fmt: skip
    sorted_columns = {key: column[order] for key, column in columns.items()}
    for column in sorted_columns.values():
        column.setflags(write=False)
    strangers = sorted(set(role_names) - {*settings.roles, NO_ROLE})
    if strangers and settings.roles:
        reader.warnings.append(
            f"{name}: roles without a section in `roles`: {', '.join(strangers[:8])}; the kit's "
            "donning and doffing times are used for them."
        )
    return LoggedEntries(role_names=role_names, wearer_names=wearer_names, **sorted_columns)


def _needs(reader: FileReader, needs: pd.Series, name: str, settings: Settings) -> Any:
    """Times of need [s] from the start: all in minutes, or all as dates with time."""
    import numpy as np
    import pandas as pd

    if len(needs) and needs.str.fullmatch(r"[+-]?[\d.]+").mean() > 0.5:
        minutes = reader.numbers(needs, name, "need", units.LONGEST_S / 60)
        return None if minutes is None else np.round(minutes * 60).astype(np.int64)
    zoned = needs.str.contains(r"(?:Z|[+-]\d{2}:?\d{2})$") & needs.str.contains(":")
    right = "Write local time without a zone, such as 2031-01-06T07:35, or minutes from the start."
    moments = pd.to_datetime(needs.where(~zoned, ""), format="ISO8601", errors="coerce")
    wrong = moments.isna().to_numpy()
    reader.rows_wrong(wrong, needs, name, "need", right)
    if wrong.any():
        return None
    apart = moments - pd.Timestamp(settings.start)
    return np.round(apart.dt.total_seconds().to_numpy()).astype(np.int64)


def _yes_no(reader: FileReader, table: pd.DataFrame, name: str) -> Any:
    import numpy as np

    if "urgent" not in table.columns:
        return np.zeros(len(table), dtype=bool)
    words = table["urgent"].str.strip().str.lower()
    yes = words.isin(["yes", "true", "1"]).to_numpy()
    no = words.isin(["no", "false", "0", ""]).to_numpy()
    reader.rows_wrong(~(yes | no), table["urgent"], name, "urgent", "Write yes or no.")
    return yes if (yes | no).all() else None


def _codes(table: pd.DataFrame, column: str) -> tuple[Any, tuple[str, ...]]:
    """Number the names of a column in order of the alphabet.

    An empty wearer is none (-1). An empty role is a role of its own, 'entry'.
    """
    import numpy as np

    if column not in table.columns:
        if column == "wearer":
            return np.full(len(table), -1, dtype=np.int64), ()
        return np.zeros(len(table), dtype=np.int64), (NO_ROLE,)
    words = table[column].str.strip()
    if column == "role":
        words = words.where(words != "", NO_ROLE)
    names, codes = np.unique(words.to_numpy(dtype=str), return_inverse=True)
    codes = codes.astype(np.int64)
    if column == "wearer" and len(names) and names[0] == "":
        return codes - 1, tuple(str(name) for name in names[1:])
    return codes, tuple(str(name) for name in names)
