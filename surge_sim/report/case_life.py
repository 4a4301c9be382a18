"""The part of the document on a purchase that tells what it costs over its life."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from surge_sim.purchase.life import USED_UP, YEARLY
from surge_sim.report.case_words import hand_head, hand_words
from surge_sim.report.document import Block, Column, Heading, Paragraph, Table
from surge_sim.report.rounding import NONE, listed, number
from surge_sim.report.sizing_words import money
from surge_sim.scenario.life_file import per_year_text, years_text
from surge_sim.units import share_text

if TYPE_CHECKING:
    from surge_sim.purchase.case import PurchaseCase
    from surge_sim.purchase.life import Life

#: sums over the life, in the order in which they are told
_SUMS = {
    "bought": "bought now",
    "replaced": "replaced within {years}",
    "running_per_year": "running cost, each year",
    "paid": "paid within {years}, in all",
    "present_value": "present value of all payments at {interest}",
    "waiting_per_year": "not paid: value of the time of those who wait, each year",
}
#: lines of cost that have a name of the tool's own
LINES = {
    "wipes": "wipes", "hoods": "hoods", "tubes": "tubes", "prefilters": "prefilters",
    "he_filters": "HE filters", "repairs": "blower repairs",
    "battery_replacements": "batteries that failed", "wiping_hours": "hours of wipe-down work",
    "cleaners": "extra cleaners", "hours_waited": "hours waited",
}  # fmt: skip
NO_LIFE = (
    "Not worked out: no file says how long things last, so the price of the purchase is not what "
    "it costs to own it. The command stands in 'What the planner can add'."
)


def life_parts(case: PurchaseCase) -> Iterator[Block]:
    """Yield what present and proposed stock cost over their life."""
    yield Heading("Over its life")
    life = case.life
    if life is None:
        yield Paragraph(NO_LIFE)
        return
    yield Paragraph(life_words(case))
    interest = life.inputs.file.interest
    of = {
        "years": years_text(life.inputs.file.years.value),
        "interest": "" if interest is None else share_text(interest.value),
    }
    rows = []
    for name, label in _SUMS.items():
        numbers = [case.life_sum(name, column).value for column in _columns(case)]
        if any(numbers):
            told = [NONE if one is None else money(one) for one in numbers]
            rows.append((label.format(**of), *told))
        if name == "running_per_year":
            rows += _running_rows(case)
    for column, words in (("mean", "mean"), ("enough", f"enough in {_share(case)}")):
        # the proposed stock is in the second row
        found = [
            case.of("life_one_surge", place, column).value or 0.0
            for place, _ in enumerate(_stocks(case))
        ]
        change = [found[1] - found[0]] if column == "mean" and len(found) > 1 else []
        told = [money(one) for one in (*found, *change)]
        told += [NONE] * (len(_columns(case)) - len(told))
        rows.append((f"running cost of one surge, {words}", *told))
    heads = {"in_hand": hand_head(case), "proposed": "As requested", "difference": "Change"}
    first = Column(f"In {case.money_unit}", align="left")
    columns = (first, *(Column(heads[one]) for one in _columns(case)))
    yield Table(columns, tuple(rows))
    yield Paragraph(" ".join(_assumed(case, life)))


def _columns(case: PurchaseCase) -> tuple[str, ...]:
    same = case.sized.in_hand == case.sized.proposed
    return ("in_hand",) if same else ("in_hand", "proposed", "difference")


def _stocks(case: PurchaseCase) -> tuple[str, ...]:
    return _columns(case)[:2]


def _share(case: PurchaseCase) -> str:
    return share_text(case.target.share_of_surges)


def life_words(case: PurchaseCase) -> str:
    """Say what the purchase costs over its life, in a sentence or two."""
    assert case.life is not None
    file, currency = case.life.inputs.file, case.money_unit
    years = years_text(file.years.value)
    if len(_columns(case)) == 1:
        paid, each = (
            money(case.life_sum(one, "in_hand").value or 0) for one in ("paid", "running_per_year")
        )
        return (
            f"Over {years} the stock in hand costs {paid} {currency} to keep, of which {each} "
            "each year to run it."
        )
    more = case.life_sum("paid", "difference").value or 0.0
    capital, running = (
        case.life_sum(one, "difference").value or 0.0 for one in ("capital", "running_per_year")
    )
    said = (
        f"Over {years} the stock requested costs {money(abs(more))} {currency} {_word(more)} than "
        f"{hand_words(case)}: {_more(capital)} of capital{_parts_of_capital(case)}, and "
        f"{_more(running)} each year to run it."
    )
    value = case.life_sum("present_value", "difference").value
    if value is not None and file.interest is not None:
        verb = "saves" if value < 0 else "costs"
        said += (
            f" At {share_text(file.interest.value)} interest it {verb} {money(abs(value))} in "
            "today's money."
        )
    return said


def _parts_of_capital(case: PurchaseCase) -> str:
    """Say how much of it is paid now, and how much when things are replaced."""
    now, later = (case.life_sum(one, "difference").value or 0.0 for one in ("bought", "replaced"))
    if not now or not later:
        return ""
    return f" ({money(now)} now, {_more(later)} when things are replaced)"


def _running_rows(case: PurchaseCase) -> list[tuple[str, ...]]:
    """Return what the running cost of a year is made of: surges, ordinary use, what is agreed."""
    assert case.life is not None
    lines, rate = case.life.lines, case.life.inputs.file.surges_per_year.value
    agreed_at = [place for place, kind in enumerate(lines["kind"]) if kind == YEARLY]
    parts: dict[str, list[float]] = {"in surges": [], "in ordinary use": [], "contracts": []}
    for place, stock in enumerate(_stocks(case)):
        whole = case.life_sum("running_per_year", stock).value or 0.0
        surges = rate * (case.of("life_one_surge", place, "mean").value or 0.0)
        agreed = sum(
            (case.of("life_lines", one, f"number_{stock}").value or 0.0)
            * (case.of("life_lines", one, "price").value or 0.0)
            for one in agreed_at
        )
        for name, part in zip(parts, (surges, whole - surges - agreed, agreed), strict=True):
            parts[name].append(round(part, 6))
    words = {"contracts": "contracts and rent, surge or not", "in surges": f"{rate:g} surges"}
    rows = []
    for name, numbers in parts.items():
        if max(map(abs, numbers)) < 0.5:
            continue
        told = [*numbers, *([numbers[1] - numbers[0]] if len(numbers) > 1 else [])]
        rows.append((f"- of it {words.get(name, name)}", *(money(round(one)) for one in told)))
    return rows


def _more(amount: float) -> str:
    return f"{money(abs(amount))} {_word(amount)}"


def _word(amount: float) -> str:
    return "less" if amount < 0 else "more"


def _assumed(case: PurchaseCase, life: Life) -> Iterator[str]:
    """Say what was put in, and what is not counted."""
    file, names = life.inputs.file, life.things["thing"].tolist()
    surges = per_year_text(file.surges_per_year.value)
    lines = life.lines
    used = lines.loc[(lines["kind"] == USED_UP) & lines["price"].notna(), "line"]
    if len(used):
        named = listed([LINES.get(one, one) for one in used])
        yield f"The running cost of one surge is that of {named}."
    ordinary = 0.0 if file.ordinary_entries is None else file.ordinary_entries.value
    yield (
        f"Put in: surges, {surges}; entries outside surges, {number(ordinary)} per year, which use "
        "as much each as those in a surge."
    )
    told, by_age = (
        [case.of("life_things", place, column).value or 0.0 for place, _ in enumerate(names)]
        for column in ("lasts_proposed", "years")
    )
    lasts = [f"{name} {one:.3g} years" for name, one in zip(names, told, strict=True)]
    why = " (batteries by their full charges)" if told < by_age else ""
    yield f"With the stock requested, {listed(lasts)}{why} until they are replaced."
    if life.unpriced:
        without = listed([LINES.get(one, one) for one in life.unpriced])
        yield f"Not counted, as no price is given: {without}."
    invented = sum("invented" in one.lower() for one in sources_of(life))
    yield (
        f"Of {len(sources_of(life))} values in the file, {invented} are called invented. No "
        "residual value is counted, prices do not rise, and costs that the file does not name are "
        "not counted."
    )
    if _columns(case) != ("in_hand",):
        yield (
            "Below 0 is less with the request. The time of those who wait is in no sum and not in "
            "the present value."
        )
        now, then = (case.nothing("unserved", one).value or 0.0 for one in _stocks(case))
        if now > then and (case.life_sum("running_per_year", "difference").value or 0.0) > 0:
            yield "A stock that serves fewer people uses up less."


def sources_of(life: Life) -> list[str]:
    """Return the source of each value of the file."""
    return [source for _, _, source in life_values(life)]


def life_values(life: Life) -> list[tuple[str, str, str]]:
    """Return each value of the file: its dotted name, as it is written, and its source."""
    found: list[tuple[str, str, str]] = []

    def look(value: object, name: str) -> None:
        if isinstance(value, list | tuple):
            for place, inner in enumerate(value):
                look(inner, f"{name}.{place}")
        elif isinstance(value, dict) and "source" in value:
            source = str(value["source"])
            label = f"{name}: {value['name']}" if "name" in value else name
            for key, inner in value.items():
                if key not in ("source", "name", "per") and inner is not None:
                    whole = f"{inner} per {value['per']}" if "per" in value else str(inner)
                    found.append((label if key == "value" else f"{label}.{key}", whole, source))
        elif isinstance(value, dict):
            for key, inner in value.items():
                look(inner, f"{name}.{key}" if name else str(key))

    look(life.inputs.file.model_dump(by_alias=True), "")
    return found
