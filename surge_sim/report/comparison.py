"""The answer of a comparison: which alternative does what, what it costs, and what is undecided."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING

from surge_sim.cautions import CAUTION_IN_SHORT, RULES_CAUTION
from surge_sim.report.comparison_tables import (
    BETTER,
    NAMES,
    WORSE,
    change_of,
    difference_of,
    finding_of,
    how_to_read,
    how_to_read_short,
    level_tables,
    limit_table,
    money_words,
    quoted,
    short_table,
    size_table,
    value_words,
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
from surge_sim.report.phrases import per_play, plays_name, replay_words
from surge_sim.report.rounding import three_digits
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
            Answer(answer_words(result)),
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
        *_assumptions(result),
        *(Remark("warning", text) for text in result.notes),
        *(Remark("caution", text) for text in _time_cautions(result)),
        Remark("caution", RULES_CAUTION) if _has_rules(result) else None,
        Remark("caution", CAUTION_IN_SHORT),
    )


#: alternatives without a difference that are named
_MOST_OPEN = 2

# --- sentences -------------------------------------------------------------------------------


def answer_words(result: Comparison) -> str:
    """Say the best choice, the best free one, what is undecided and the hardest stress."""
    choices = [one for one in _apart(result) if one.sort != STRESS_SORT]
    stress = [one for one in _apart(result) if one.sort == STRESS_SORT]
    said = [*_best(result, choices), *_others(result, choices), *_hardest(result, stress)]
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
    return f"each of {result.surges:,} {plays_name(result.replay)}"


def _best(result: Comparison, choices: Sequence[Alternative]) -> Iterator[str]:
    """Tell the alternatives that save most hours: the best of all, and the best that is free."""
    if not choices:
        return
    saving = [one for one in choices if finding_of(result, one, "hours_waited") == BETTER]
    if result.replay is not None:
        saving = [one for one in choices if (change_of(result, one, "hours_waited") or 0.0) < 0.0]
    if not saving:
        yield (
            f"For none of {_count(len(choices), 'alternative')} do {result.surges:,} "
            f"{plays_name(result.replay)} show that hours of waiting are saved."
            if len(choices) > 1
            else f"That {quoted(choices[0].name)} saves hours of waiting is not shown by "
            f"{result.surges:,} {plays_name(result.replay)}."
        )
        better = [
            one.name
            for one in choices
            if any(found.finding == BETTER for found in result.found[one.name])
        ]
        if better and result.replay is None:
            yield (
                f"{_listed(better[:_MOST_OPEN], len(better) - _MOST_OPEN)} "
                f"{'are' if len(better) > 1 else 'is'} shown to be better in another measure."
            )
        return
    saving.sort(key=lambda one: change_of(result, one, "hours_waited") or 0.0)
    best = saving[0]
    hours = difference_of(result, best, "hours_waited")
    lost, kept = (three_digits(abs(value or 0.0)) for value in (hours.by.estimate, hours.base))
    plays, per = plays_name(result.replay), per_play(result.replay)
    met = result.table.set_index("alternative")["surges_on_target"]
    share = share_text(result.base.scenario.settings.target.share_of_surges)
    instead = ", as before" if met[best.name] == met[AS_IT_IS] else f" instead of {met[AS_IT_IS]:,}"
    yield (
        f"{quoted(best.name)} saves most: {lost} of {kept} h of waiting {per}, "
        f"{_price_words(result, best)}; the target is met in {met[best.name]:,} of "
        f"{result.surges:,} {plays}{instead} ({share} asked for)"
        f"{_worse_words(result, best)}."
    )
    free = [one for one in saving if result.costs[one.name].is_nothing]
    second = next((one for one in (free or saving) if one is not best), None)
    if second is not None:
        saved = three_digits(abs(change_of(result, second, "hours_waited") or 0.0))
        yield (
            f"{quoted(second.name)} saves {saved} h, {_price_words(result, second)}"
            f"{_worse_words(result, second)}."
        )


def _others(result: Comparison, choices: Sequence[Alternative]) -> Iterator[str]:
    """Tell the choices that cost hours, and those of which nothing is shown."""
    if result.replay is not None:
        return
    longer = [one for one in choices if finding_of(result, one, "hours_waited") == WORSE]
    if longer:
        worst = max(change_of(result, one, "hours_waited") or 0.0 for one in longer)
        hours = f"{'up to ' if len(longer) > 1 else ''}{three_digits(worst)} h"
        names = _listed(one.name for one in longer)
        yield f"{names} {'add' if len(longer) > 1 else 'adds'} {hours} of waiting."
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
        yield f"The hardest stress is {quoted(worst.name)}: {three_digits(more)} h more."


def _price_words(result: Comparison, one: Alternative) -> str:
    cost = result.costs[one.name]
    if cost.is_nothing:
        return "with nothing to buy"
    return f"for {money_words(result, cost)}"


def _worse_words(result: Comparison, one: Alternative) -> str:
    """Say in what a better alternative is worse."""
    said = []
    for found in result.found[one.name]:
        if found.finding == WORSE and result.replay is None:
            before, after = (value_words(found, value) for value in (found.base, found.value))
            said.append(f"{NAMES[found.measure.name]} {before} to {after}")
    return f"; worse: {', '.join(said)}" if said else ""


def _rows(result: Comparison) -> Iterator[tuple[str, str]]:
    if result.replay is not None:
        yield "Recorded", replay_words(result.replay, result.surges)
    else:
        error = share_text(round(1.0 - result.confidence, 9))
        yield (
            "Confidence",
            f"the same {result.surges:,} simulated surges for all. Stars and limits hold together: "
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
        yield "Confidence", f"all stars hold together with {sure}; wrong inputs not covered"
    if _has_rules(result):
        # a line, for a screen has no more to spare
        yield "Permission", "instructions, program and local codes decide, not this table"


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


def _count(count: int, one: str) -> str:
    return f"{count} {one}{'' if count == 1 else 's'}"
