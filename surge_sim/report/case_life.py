"""Parts of the document on a purchase: over its life, and if more patients come."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from surge_sim.report.document import Block, Column, Heading, Paragraph, Table
from surge_sim.report.rounding import NONE, counted, listed, number, percent, share_in_limits
from surge_sim.report.sizing_answer import money
from surge_sim.scenario.life_units import per_year_text, years_text
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
    "present_value": "net present value of it at {interest}",
    "waiting_per_year": "time of those who wait, each year (valued, not paid)",
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
    for column, words in (("mean", "mean"), ("enough", f"enough in {_share(case)}")):
        # the proposed stock is in the second row
        found = [
            case.of("life_one_surge", place, column).value or 0.0
            for place, _ in enumerate(_stocks(case))
        ]
        told = [money(one) for one in found] + [NONE] * (len(_columns(case)) - len(found))
        rows.append((f"used up in one surge, {words}", *told))
    heads = {"in_hand": "Stock in hand", "proposed": "As requested", "difference": "Change"}
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
        f"the stock in hand: {_more(capital)} of capital, and {_more(running)} each year to run it."
    )
    value = case.life_sum("present_value", "difference").value
    if value is not None and file.interest is not None:
        said += f" At {share_text(file.interest.value)} interest that is worth {money(value)} now."
    return said


def _more(amount: float) -> str:
    return f"{money(abs(amount))} {_word(amount)}"


def _word(amount: float) -> str:
    return "less" if amount < 0 else "more"


def _assumed(case: PurchaseCase, life: Life) -> Iterator[str]:
    """Say what was put in, and what is not counted."""
    file, names = life.inputs.file, life.things["thing"].tolist()
    surges = per_year_text(file.surges_per_year.value)
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
        "not counted. A stock that serves fewer people uses up less."
    )


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


def demand_parts(case: PurchaseCase) -> Iterator[Block]:
    """Yield how present and proposed stock do if more patients come."""
    yield Heading("If more patients come")
    if case.demand.empty:
        yield Paragraph("Not simulated: entries come from a log, which holds what was.")
        return
    stocks = _stocks(case)
    rows = []
    for place in range(0, len(case.demand), 2):
        more = case.of("higher_demand", place, "more_patients").value
        row = [f"{share_text(more)} more" if more else "as expected"]
        for number_of, _ in enumerate(stocks):
            share, low, high, late = (
                case.of("higher_demand", place + number_of, column).value or 0.0
                for column in ("share_on_target", "low", "high", "share_late")
            )
            asked = case.target.share_of_surges
            row += [share_in_limits(share, low, high, asked), percent(late)]
        rows.append(tuple(row))
    heads = [Column("Patients who arrive", align="left")]
    for words in ("stock in hand", "as requested")[: len(stocks)]:
        heads += [Column(f"Met the target, {words}"), Column(f"Late entries, {words}")]
    yield Table(tuple(heads), tuple(rows))
    yield Paragraph(demand_words(case))


def demand_words(case: PurchaseCase) -> str:
    """Say up to how many more patients the stock still did what the target asks."""
    asked, stock = case.target.share_of_surges, _stocks(case)[-1]
    found: list[tuple[float, bool, str]] = []
    for place in range(_stocks(case).index(stock), len(case.demand), 2):
        more, share, met, surges = (
            case.of("higher_demand", place, column).value or 0.0
            for column in ("more_patients", "share_on_target", "surges_on_target", "surges")
        )
        found.append((more, share >= asked, f"{met:.0f} of {surges:.0f} surges"))
    name = "the stock requested" if stock == "proposed" else "the stock in hand"
    enough = [more for more, is_met, _ in found if is_met]
    short = next(((more, met) for more, is_met, met in found if more and not is_met), None)
    share_words, most = share_text(asked), max(enough, default=0.0)
    if most:
        said = (
            f"With up to {share_text(most)} more patients {name} still met the target in "
            f"{share_words} of surges or more."
        )
    else:
        said = "The request is for the patients that are expected."
    if short is not None:
        said += (
            f" With {share_text(short[0])} more {name} met the target in {short[1]}, where "
            f"{share_words} are asked for."
        )
    played = counted(int(case.demand["surges"].iloc[0]), "surge")
    looked = "No test says which stock would meet the target with them."
    if stock == "proposed" and short is not None:
        looked = f"{looked[:-1]}; how to find one stands in 'What the planner can add'."
    return (
        f"{said} These are the first {played} from above, with more patients besides; in brackets "
        f"the 95 % limits of the share, each for itself. {looked}"
    )
