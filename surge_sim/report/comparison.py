"""The answer of a comparison: which alternative does what, what it costs, and what is undecided."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING

from surge_sim.cautions import CAUTION_IN_SHORT, RULES_CAUTION
from surge_sim.report.comparison_tables import (
    BETTER,
    NAMES,
    SHARES,
    WORSE,
    change_of,
    difference_of,
    finding_of,
    hours_words,
    how_to_read,
    how_to_read_short,
    level_tables,
    level_words,
    limit_table,
    money_words,
    quoted,
    short_table,
    shown_in_short,
    size_table,
)
from surge_sim.report.document import (
    Answer,
    Block,
    Document,
    Heading,
    Paragraph,
    Remark,
    Rows,
    document,
)
from surge_sim.report.phrases import counted_plays, per_play, replay_words
from surge_sim.report.rounding import counted
from surge_sim.units import share_text
from surge_sim.whatif.design import AS_IT_IS
from surge_sim.whatif.usual import PURCHASE, STRESS_SORT

if TYPE_CHECKING:
    from surge_sim.whatif.compare import Comparison
    from surge_sim.whatif.design import Alternative


def comparison_answer(result: Comparison, full: bool = True) -> Document:
    """Return the answer as blocks: sentences, tables, what is real, what was assumed.

    Parameters
    ----------
    result : Comparison
        What was compared.
    full : bool
        With all alternatives, their limits and what each assumes, as in the results folder; else
        what fits a screen.
    """
    if not full:
        return document(
            Heading(result.base.scenario.settings.title or result.base.scenario.name, 1),
            Answer(answer_words(result, short=True)),
            short_table(result),
            *size_table(result),
            Rows(tuple(_short_rows(result))),
            *(Remark("warning", text) for text in result.notes),
            *(Remark("caution", text) for text in _time_cautions(result)),
            Remark("caution", CAUTION_IN_SHORT),
        )
    return document(
        Heading(result.base.scenario.settings.title or result.base.scenario.name, 1),
        Answer(answer_words(result)),
        *level_tables(result),
        Paragraph(how_to_read(result)),
        *size_table(result),
        *limit_table(result),
        Rows(tuple(_rows(result))),
        *_relaxed(result),
        *_assumptions(result),
        *(Remark("warning", text) for text in result.notes),
        *(Remark("caution", text) for text in _time_cautions(result)),
        Remark("caution", RULES_CAUTION) if _has_rules(result) else None,
        Remark("caution", CAUTION_IN_SHORT),
    )


#: alternatives without a difference that are named, and those that need permission
_MOST_OPEN, _MOST_ALLOWED = 2, 3

# --- sentences -------------------------------------------------------------------------------

_PERMITTED = "manufacturer's instructions, respiratory protection program and local codes allow it"


def answer_words(result: Comparison, short: bool = False) -> str:
    """Say what saves most without permission, what would with it, what is undecided, what is hard.

    Parameters
    ----------
    result : Comparison
        What was compared.
    short : bool
        With one alternative that needs permission, and without what the table says as well.
    """
    choices = [one for one in _apart(result) if one.sort != STRESS_SORT]
    said = list(_best(result, choices, 1 if short else _MOST_ALLOWED))
    if not short:
        stress = [one for one in _apart(result) if one.sort == STRESS_SORT]
        said += [*_others(result, choices), *_hardest(result, stress)]
    elif not any(one.sort for one in choices):
        said += _others(result, choices)
    if same := result.same_on_every_surge:
        said.append(
            f"{_listed(same[:_MOST_OPEN], len(same) - _MOST_OPEN)}: the same as {quoted(AS_IT_IS)} "
            f"in {_every(result)}."
        )
    if result.assumed_times:
        named = _listed(result.assumed_times)
        said.append(f"Not a choice, but an assumption about the place: {named}.")
    return " ".join(said)


def _apart(result: Comparison) -> list[Alternative]:
    """Return the alternatives that change something, and may be told as choices or stress."""
    aside = {*result.same_on_every_surge, *result.assumed_times}
    return [one for one in result.others if one.name not in aside]


def _every(result: Comparison) -> str:
    """Name all that was simulated: ``each of 20 surges``."""
    if result.replay is not None and result.replay.alike:
        return "the recorded period"
    return f"each of {counted_plays(result.surges, result.replay)}"


def _best(
    result: Comparison, choices: Sequence[Alternative], most: int = _MOST_ALLOWED
) -> Iterator[str]:
    """Tell what saves most hours without permission; then so many that would with it."""
    if not choices:
        return
    saving = [one for one in choices if finding_of(result, one, "hours_waited") == BETTER]
    if result.replay is not None:
        saving = [one for one in choices if (change_of(result, one, "hours_waited") or 0.0) < 0.0]
    if not saving:
        yield from _none_saves(result, choices, most)
        return
    saving.sort(key=lambda one: change_of(result, one, "hours_waited") or 0.0)
    sure = [one for one in saving if one.name not in result.relaxes]
    if sure:
        yield _saves(result, sure[0])
    elif others := [one for one in choices if one.name not in result.relaxes]:
        none = "does not save" if len(others) == 1 else "saves"
        which = (
            quoted(others[0].name)
            if len(others) == 1
            else f"None of {counted(len(others), 'alternative')} that need no permission"
        )
        if result.replay is None:
            none = "is not shown to save" if len(others) == 1 else "is shown to save"
        yield f"{which} {none} hours of waiting."
    allowed = [one for one in saving if one.name in result.relaxes]
    for number, one in enumerate(allowed[:most]):
        hours = hours_words(difference_of(result, one, "hours_waited"))
        of_all = "" if sure or number else f" of {_hours_of_base(result)}"
        name = quoted(one.name)
        begin = f"So would {name}, " if number else f"Where {_PERMITTED}, {name} would save "
        per = "" if sure or number else f" of waiting {per_play(result.replay)}"
        worse = _worse_words(result, one)
        yield f"{begin}{hours}{of_all} h{per}: {result.relaxes[one.name]}{worse}."


def _saves(result: Comparison, best: Alternative) -> str:
    """Say how many hours the best alternative saves, and in how many surges the target is met."""
    hours = hours_words(difference_of(result, best, "hours_waited"))
    per = per_play(result.replay)
    met = result.table.set_index("alternative")["surges_on_target"]
    same = met[best.name] == met[AS_IT_IS]
    instead = ", as before" if same else f" ({met[AS_IT_IS]:,} before"
    shown = result.replay is not None or finding_of(result, best, "share_on_target") == BETTER
    instead += "" if same else ")" if shown else "; may be chance)"
    what = best.assumes.rstrip(".") if best.sort == PURCHASE else ""
    called = f"{quoted(best.name)}{f' ({what[0].lower()}{what[1:]})' if what else ''}"
    return (
        f"{called}{_price_words(result, best)} saves {hours} of "
        f"{_hours_of_base(result)} h of waiting {per}; target met in {met[best.name]:,} of "
        f"{result.surges:,}{instead}{_worse_words(result, best)}."
    )


def _hours_of_base(result: Comparison) -> str:
    return level_words(result, result.base, "hours_waited")


def _none_saves(result: Comparison, choices: Sequence[Alternative], most: int) -> Iterator[str]:
    yield (
        f"For none of {counted(len(choices), 'alternative')} do "
        f"{counted_plays(result.surges, result.replay)} show that hours of waiting are saved."
        if len(choices) > 1
        else f"That {quoted(choices[0].name)} saves hours of waiting is not shown by "
        f"{counted_plays(result.surges, result.replay)}."
    )
    better = [
        one.name
        for one in choices
        if any(found.finding == BETTER for found in result.found[one.name])
    ]
    if result.replay is not None:
        return
    if sure := [name for name in better if name not in result.relaxes]:
        yield (
            f"{_listed(sure[:_MOST_OPEN], len(sure) - _MOST_OPEN)} "
            f"{'are' if len(sure) > 1 else 'is'} shown to be better in another measure."
        )
    allowed = [name for name in better if name in result.relaxes]
    for number, name in enumerate(allowed[:most]):
        begin = "So would" if number else f"Where {_PERMITTED},"
        better_in = "" if number else " would be better in another measure"
        yield f"{begin} {quoted(name)}{better_in}: {result.relaxes[name]}."


def _others(result: Comparison, choices: Sequence[Alternative]) -> Iterator[str]:
    """Tell the choices that cost hours, and those of which nothing is shown."""
    if result.replay is not None:
        return
    longer = [one for one in choices if finding_of(result, one, "hours_waited") == WORSE]
    if longer:
        worst = max(longer, key=lambda one: change_of(result, one, "hours_waited") or 0.0)
        most = hours_words(difference_of(result, worst, "hours_waited"))
        names, up_to = _listed(one.name for one in longer), "up to " if len(longer) > 1 else ""
        yield f"{names} {'add' if len(longer) > 1 else 'adds'} {up_to}{most} h of waiting."
    for one in longer:
        # what it is for
        if finding_of(result, one, "urgent_late") == BETTER:
            before, after = (
                level_words(result, each, "urgent_late") for each in (result.base, one)
            )
            relaxes = result.relaxes.get(one.name)
            condition = f", if it is allowed: {relaxes}" if relaxes else ""
            yield (
                f"With {quoted(one.name)} late urgent entries go from {before} to {after}"
                f"{condition}."
            )
    open_ones = [
        one.name
        for one in choices
        if all(found.finding in ("undecided", "none") for found in result.found[one.name])
    ]
    if open_ones and len(open_ones) < len(choices):
        yield (
            f"{_listed(open_ones[:_MOST_OPEN], len(open_ones) - _MOST_OPEN)}: undecided with "
            f"{result.surges:,} surges."
        )


def _hardest(result: Comparison, stress: Sequence[Alternative]) -> Iterator[str]:
    """Tell which stress costs most hours."""
    if not stress:
        return
    worst = max(stress, key=lambda one: change_of(result, one, "hours_waited") or 0.0)
    more = change_of(result, worst, "hours_waited") or 0.0
    shown = result.replay is not None or finding_of(result, worst, "hours_waited") == WORSE
    if more > 0.0 and shown:
        hours = hours_words(difference_of(result, worst, "hours_waited"))
        yield f"The hardest stress is {quoted(worst.name)}: {hours} h more."


def _price_words(result: Comparison, one: Alternative) -> str:
    cost = result.costs[one.name]
    return "" if cost.is_nothing else f" for {money_words(result, cost)}"


def _worse_words(result: Comparison, one: Alternative) -> str:
    """Say in what a better alternative is worse."""
    said = []
    for found in result.found[one.name]:
        if found.finding == WORSE and result.replay is None:
            name = found.measure.name
            before, after = (level_words(result, each, name) for each in (result.base, one))
            unit = " %" if found.measure.name in SHARES else ""
            said.append(f"{NAMES[name]}, from {before} to {after}{unit}")
    return f"; worse in what is counted: {', '.join(said)}" if said else ""


def _rows(result: Comparison) -> Iterator[tuple[str, str]]:
    if result.replay is not None:
        yield "Recorded", replay_words(result.replay, result.surges)
    else:
        error = share_text(round(1.0 - result.confidence, 9))
        yield (
            "Confidence",
            f"the same {result.surges:,} simulated surges for all, those of surge-sim run with "
            f"seed {result.design.seed}. Stars and limits hold together: "
            f"any of them is wrong in at most {error} of such comparisons. Better, worse: in so "
            "many of the six measures, as shown here; the others are undecided. Random variation "
            "only, not wrong inputs.",
        )
    if result.not_tried:
        yield "Not tried", "; ".join(f"{name} ({why})" for name, why in result.not_tried)


def _short_rows(result: Comparison) -> Iterator[tuple[str, str]]:
    """Say on a screen how to read the table and how sure it is; the rest is in the folder."""
    yield "Table", how_to_read_short(result)
    if result.replay is not None:
        yield "Recorded", replay_words(result.replay, result.surges)
    else:
        sure = share_text(result.confidence)
        yield (
            "Confidence",
            (f"* differs from {quoted(AS_IT_IS)} ({sure} for all); without: may be chance"),
        )
    answer = answer_words(result, short=True)
    told = [one for one in shown_in_short(result) if one.name in result.relaxes]
    unsaid = [one.name for one in told if result.relaxes[one.name] not in answer]
    if told and _PERMITTED not in answer:
        relaxed = [f"{quoted(name)}: {result.relaxes[name]}" for name in unsaid]
        yield "If allowed", ". ".join([f"only where {_PERMITTED}", *relaxed])
    else:
        yield from ((name, result.relaxes[name]) for name in unsaid)


def _relaxed(result: Comparison) -> Iterator[Block]:
    if result.relaxes:
        yield Heading("What each relaxes")
        yield Paragraph(f"Each of these needs permission: it is a choice only where {_PERMITTED}.")
        yield Rows(tuple(result.relaxes.items()))


def _assumptions(result: Comparison) -> Iterator[Block]:
    rows = [(one.name, one.assumes) for one in result.others if one.assumes]
    if rows:
        yield Heading("What each assumes")
        yield Rows(tuple(rows))


def _has_rules(result: Comparison) -> bool:
    """Whether anything but stress and purchases is compared: it may not be allowed."""
    return any(one.sort not in (STRESS_SORT, PURCHASE) for one in result.others)


def _time_cautions(result: Comparison) -> Iterator[str]:
    for name, times in result.assumed_times.items():
        yield (
            f"{quoted(name)} assumes another {' and '.join(times)} than the scenario. That is a "
            "question about the place, to be measured there, and not a choice: contact and drying "
            "times are those of the manufacturer's instructions, and no check may be shortened or "
            "left out."
        )


def _listed(names: Iterable[str], more: int = 0) -> str:
    """Return names as a list in a sentence, and how many more there are."""
    said = [quoted(name) for name in names] + ([f"{more} more"] if more > 0 else [])
    return " and ".join([*([", ".join(said[:-1])] if said[:-1] else []), said[-1]])
