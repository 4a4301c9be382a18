"""The part of the document on a purchase that tells what it costs over its life."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from surge_sim.purchase.life import STOCKS, USED_UP
from surge_sim.report.case_words import hand_head, hand_words
from surge_sim.report.document import Block, Column, Heading, Paragraph, Table
from surge_sim.report.rounding import listed, number, with_minus
from surge_sim.report.sizing_words import money
from surge_sim.scenario.life_file import per_year_text, years_text
from surge_sim.units import number_text, share_text

if TYPE_CHECKING:
    from surge_sim.purchase.case import PurchaseCase
    from surge_sim.purchase.life import Life
    from surge_sim.scenario.life_file import YearlyCost

#: parts of the running cost of a year
_IN_A_YEAR = {
    "in_surges_per_year": "of it in surges ({rate})",
    "in_ordinary_use_per_year": "of it in ordinary use",
    "agreed_per_year": "of it contracts and rent, surge or not",
}
#: rows of what is replaced; years that are named where there are more
_MOST_REPLACED, _MOST_YEARS = 6, 3
#: contracts and rents that are named
_MOST_CONTRACTS = 4
_ONE = {"kits": "kit", "batteries": "battery", "chargers": "charger"}
#: lines of cost that have a name of the tool's own
LINES = {
    "wipes": "wipes", "hoods": "hoods", "large_hoods": "large hoods", "tubes": "tubes",
    "prefilters": "prefilters", "he_filters": "HE filters", "repairs": "blower repairs",
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
    yield Paragraph(" ".join([life_words(case), *_due_next(case, life)]))
    file, columns = life.inputs.file, _columns(case)
    years = years_text(file.years.value)
    rate = per_year_text(file.surges_per_year.value)
    rows = [
        ("bought now", *_sums(case, "bought")),
        (f"replaced within {years}", *_sums(case, "replaced")),
        *_replaced_rows(case, life),
        ("running cost, each year", *_sums(case, "running_per_year")),
    ]
    for name, label in _IN_A_YEAR.items():
        told = _sums(case, name)
        if any(one != "0" for one in told):
            rows.append((label.format(rate=rate), *told))
    sums = [len(rows)]
    rows.append((f"paid within {years}, in all", *_sums(case, "paid")))
    if file.interest is not None:
        sums.append(len(rows))
        label = f"present value of all payments at {share_text(file.interest.value)}"
        rows.append((label, *_sums(case, "present_value")))
    groups = [len(rows)]
    rows += [("Beside these sums", *[""] * len(columns)), *_beside_rows(case)]
    heads = {"in_hand": hand_head(case), "proposed": "As requested", "difference": "Change"}
    first = Column(f"In {case.money_unit}", align="left")
    yield Table(
        (first, *(Column(heads[one]) for one in columns)), tuple(rows), tuple(sums), (),
        tuple(groups),
    )  # fmt: skip
    yield Paragraph(" ".join(_assumed(case, life)))


def _whole(amount: float | None) -> str:
    """Write an amount without cents, as sums over years are."""
    return with_minus(money(round(amount or 0.0)))


def _sums(case: PurchaseCase, name: str) -> tuple[str, ...]:
    return tuple(_whole(case.life_sum(name, column).value) for column in _columns(case))


def _replaced_rows(case: PurchaseCase, life: Life) -> Iterator[tuple[str, ...]]:
    """Yield what is replaced in which year; things that are replaced often in one row each."""
    table, columns = life.replaced, _columns(case)
    counted = [place for place, one in enumerate(table["counted"]) if one]
    if len(counted) <= _MOST_REPLACED:
        for place in counted:
            words = _number_words(case, place, " or ")
            label = f"of it {words} in year {table['year'].iloc[place]}"
            told = (_whole(case.of("life_replaced", place, f"cost_{one}").value)
                    if one in STOCKS else _whole(case.of("life_replaced", place, one).value)
                    for one in columns)  # fmt: skip
            yield label, *told
        return
    for thing in life.things["thing"]:
        mine = [place for place in counted if table["thing"].iloc[place] == thing]
        if not mine:
            continue
        years = [str(table["year"].iloc[place]) for place in mine]
        more = len(years) - _MOST_YEARS
        named = listed([*years[:_MOST_YEARS], *([f"{more} more"] if more > 0 else [])])
        at = list(life.lines["line"]).index(f"{thing}_replaced")
        costs = [f"cost_{one}" if one in STOCKS else one for one in columns]
        told = (_whole(case.of("life_lines", at, one).value) for one in costs)
        yield f"of it {thing}, in {'year' if len(years) == 1 else 'years'} {named}", *told


def _number_words(case: PurchaseCase, place: int, between: str) -> str:
    """Say how many of a thing a row replaces: ``28 kits``, ``60 or 65 batteries``."""
    found = [
        case.of("life_replaced", place, f"number_{stock}").value or 0.0 for stock in _stocks(case)
    ]
    counts = [f"{one:,.0f}" for one in dict.fromkeys(found) if one]
    assert case.life is not None
    thing = str(case.life.replaced["thing"].iloc[place])
    return f"{between.join(counts)} {_ONE[thing] if counts == ['1'] else thing}"


def _beside_rows(case: PurchaseCase) -> Iterator[tuple[str, ...]]:
    """Yield what is told beside the sums: a surge, its spread, and the time of those who wait."""
    columns, stocks = _columns(case), _stocks(case)
    for column, words in (
        ("mean", "running cost of one surge, mean"),
        ("enough", f"running cost of one surge, no more in {_share(case)}"),
    ):
        found = [
            case.of("life_one_surge", place, column).value or 0.0 for place in range(len(stocks))
        ]
        # quantiles have no difference
        change = [found[1] - found[0]] if column == "mean" and len(found) > 1 else []
        told = [_whole(one) for one in (*found, *change)]
        yield words, *told, *[""] * (len(columns) - len(told))
    assert case.life is not None
    waiting = case.life.inputs.file.labour.waiting
    if waiting is not None:
        label = f"not paid, each year: hours waited, at {money(waiting.value)} an hour"
        yield label, *_sums(case, "waiting_per_year")


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
    more, now, later, running = (
        case.life_sum(one, "difference").value or 0.0
        for one in ("paid", "bought", "replaced", "running")
    )
    a_year = case.life_sum("running_per_year", "difference").value or 0.0
    parts = [f"{money(round(now))} now"] if now else []
    parts += [f"{_more(later)} when things are replaced"] if later else []
    parts.append(f"{_more(running)} to run it ({money(round(abs(a_year)))} each year)")
    said = (
        f"Over {years} the stock requested costs {money(round(abs(more)))} {currency} "
        f"{'less' if more < 0 else 'more'} than {hand_words(case)}: {listed(parts)}."
    )
    value = case.life_sum("present_value", "difference").value
    if value is not None and file.interest is not None:
        verb = "saves" if value < 0 else "costs"
        said += (
            f" Counted at {share_text(file.interest.value)} interest a year, it {verb} "
            f"{money(round(abs(value)))} in today's money."
        )
    return said


def _more(amount: float) -> str:
    return f"{money(round(abs(amount)))} {'less' if amount < 0 else 'more'}"


def _due_next(case: PurchaseCase, life: Life) -> Iterator[str]:
    """Say what falls due just after the years that are counted."""
    counted = life.replaced["counted"]
    if due := [_due_words(case, place) for place, one in enumerate(counted) if not one]:
        years = years_text(life.inputs.file.years.value)
        yield (
            f"Not in these sums, as due at the end of the {years} or in the year after: "
            f"{listed(due)}."
        )


def _assumed(case: PurchaseCase, life: Life) -> Iterator[str]:
    """Say what was put in, and what is not counted."""
    file = life.inputs.file
    yield from _one_surge(case, life)
    ordinary = 0.0 if file.ordinary_entries is None else file.ordinary_entries.value
    said = f"Put in: {_rate_words(file.surges_per_year.value)}"
    if ordinary:
        both = "; that is the same for both stocks" if len(_stocks(case)) > 1 else ""
        said += (
            f" and {number(ordinary)} entries per year outside surges, each of which uses up "
            f"as much as one in a surge with {_last_stock(case)}{both}"
        )
    yield f"{said}."
    if file.yearly:
        told = [_yearly_words(one) for one in file.yearly[:_MOST_CONTRACTS]]
        more = len(file.yearly) - len(told)
        told += [f"{more} more (case.xlsx, sheet 'Life lines')"] if more > 0 else []
        yield f"Contracts and rent per year: {listed(told)}."
    yield _lasts_words(case, life)
    if life.unpriced:
        without = listed([LINES.get(one, one) for one in life.unpriced])
        yield f"Not counted, as no price is given: {without}."
    yield (
        "A residual value, rising prices, and costs that the file does not name are not counted. "
        "Sums may differ in the last digit by rounding."
    )


def _one_surge(case: PurchaseCase, life: Life) -> Iterator[str]:
    """Yield what the running cost of one surge is made of, the largest part first."""
    stock = _stocks(case)[-1]
    parts = []
    for place, (kind, line) in enumerate(zip(life.lines["kind"], life.lines["line"], strict=True)):
        cost = case.of("life_lines", place, f"one_surge_{stock}").value
        if kind != USED_UP or not cost:
            continue
        name = LINES.get(str(line), str(line))
        if line == "wiping_hours":
            used = case.use("wiping_hours", "mean").value
            price = case.of("life_lines", place, "price").value or 0.0
            name = f"{number(used)} {name} ({money(price)} an hour)"
        parts.append((cost, f"{_whole(cost)} for {name}"))
    if parts:
        told = listed([words for _, words in sorted(parts, reverse=True)])
        whole = _whole(case.of("life_one_surge", len(_stocks(case)) - 1, "mean").value)
        yield f"One surge with {_last_stock(case)} costs {whole} on average: {told}."


def _last_stock(case: PurchaseCase) -> str:
    """Name the stock requested; the one in hand where nothing is."""
    return "the stock requested" if len(_stocks(case)) > 1 else hand_words(case)


def _rate_words(rate: float) -> str:
    """Say how often a surge comes: ``0.75 surges per year (3 in 4 years)``."""
    said = f"{number_text(rate)} {'surge' if rate == 1 else 'surges'} per year"
    if rate == int(rate):
        return said
    several = next((years for years in range(2, 21) if abs(rate * years % 1) < 1e-9), None)
    return said if several is None else f"{said} ({rate * several:.0f} in {several} years)"


def _yearly_words(one: YearlyCost) -> str:
    each = f" per {one.per}" if one.per != "year" else ""
    return f"{one.name} {money(one.price)}{each}"


def _lasts_words(case: PurchaseCase, life: Life) -> str:
    """Say how long things last, and how old those in hand are."""
    told, by_use = [], ""
    for place, name in enumerate(life.things["thing"]):
        lasts, years, age, owned = (
            case.of("life_things", place, column).value or 0.0
            for column in ("lasts_proposed", "years", "age_in_hand", "count_in_hand")
        )
        first = not place
        old = f" ({'those in hand are ' * first}{years_text(age)} old)" if age and owned else ""
        told.append(f"{name}{' last' * first} {lasts:.3g}{' years' * first}{old}")
        if lasts < years:
            by_use = " Batteries are replaced by their full charges."
    return f"With {_last_stock(case)} {listed(told)}.{by_use}"


def _due_words(case: PurchaseCase, place: int) -> str:
    """Say what falls due after the years: ``60 batteries (14,400)``."""
    numbers, costs = (
        [case.of("life_replaced", place, f"{one}_{stock}").value or 0.0 for stock in _stocks(case)]
        for one in ("number", "cost")
    )
    pairs = zip(numbers, costs, strict=True)
    told = " or ".join(dict.fromkeys(_whole(cost) for number, cost in pairs if number))
    only = ""
    if len(numbers) > 1 and not all(numbers):
        only = " with the request" if numbers[1] else f" with {hand_words(case)}"
    return f"{_number_words(case, place, ' or ')} ({told}{only})"


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
