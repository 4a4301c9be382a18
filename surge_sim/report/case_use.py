"""Parts of the document on a purchase: if nothing is done, what is used, what words mean."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from surge_sim.report.case_stages import count
from surge_sim.report.case_words import leaving_words, money_words, short_hand_head
from surge_sim.report.document import Block, Column, Heading, Paragraph, Rows, Table
from surge_sim.report.phrases import (
    counted_plays,
    must_keep,
    per_play,
    plays_name,
    share_of_ten,
    target_words,
)
from surge_sim.report.rounding import number, percent, signed, with_minus
from surge_sim.scenario.life_file import years_text
from surge_sim.units import duration_text, moment_text

if TYPE_CHECKING:
    from surge_sim.purchase.case import PurchaseCase

#: a change that the surges do not show
NOT_SHOWN = "not shown"
_FULL_CHARGES = (
    "hours in use over the shortest run time of a new battery; charges begun are more, as most "
    "batteries are not empty when they are charged"
)
#: measures of the table of doing nothing
_MEASURES = {
    "missed_target": "{plays} that miss the target",
    "late": "late entries",
    "urgent_late": "late urgent entries (beyond {urgent})",
    "unserved": "entries that got no kit",
    "hours_waited": "hours waited by all people together",
    "longest_wait": "longest wait, minutes",
    "worst_day_late": "late entries on the worst day",
}
_SHARES = ("missed_target", "worst_day_late")
#: what is ordered or paid; the workbook tells of all that is used
_USED = {
    "wiping_hours": "hours of wipe-down work",
    "wipes": "wipes",
    "hoods": "hoods",
    "large_hoods": "large hoods",
    "tubes": "tubes",
    "prefilters": "prefilters",
    "he_filters": "HE filters",
    "repairs": "blower repairs",
    "battery_replacements": "batteries that failed",
    "parts_price": "price of these hoods, tubes and filters ({money})",
}


def doing_nothing(case: PurchaseCase) -> Iterator[Block]:
    """Yield what the stock in hand leaves as it is, and what the request changes."""
    if case.sized.in_hand == case.sized.proposed:
        return
    several, told = len(case.same_surges) > 1, list(_told_measures(case))
    yield Heading("If nothing is done")
    hand = short_hand_head(case)
    heads = (hand, "As requested", "Change", "Limits of the change (95 %)")
    # plays of a recorded period have no limits
    known = len(heads) - (case.replay is not None)
    mean = "Measure"
    if several:
        mean = f"Mean of the first {counted_plays(len(case.same_surges), case.replay)}"
    rows = [(_label(case, measure), *_changed(case, measure)[:known]) for measure in told]
    columns = (Column(mean, align="left"), *(Column(head) for head in heads[:known]))
    yield Table(columns, tuple(rows))
    spread = [one for one in told if one != "missed_target" and _some(case, one)]
    if several and spread:
        first = Column(f"In {counted_plays(len(case.same_surges), case.replay)}", align="left")
        kinds = [f"{name}: {kind}" for name in heads[:2] for kind in ("median", "worst")]
        rows = [(_label(case, measure), *_spread(case, measure)) for measure in spread]
        yield Table((first, *(Column(kind) for kind in kinds)), tuple(rows))
    yield Paragraph(" ".join(_how_to_read(case, told)))


def _told_measures(case: PurchaseCase) -> Iterator[str]:
    """Yield the measures that say something: that everybody got a kit in time does, too."""
    for measure in _MEASURES:
        if _some(case, measure) or (measure == "unserved" and leaving_words(case)):
            yield measure


def _some(case: PurchaseCase, measure: str) -> bool:
    return any(case.nothing(measure, kind).value for kind in ("in_hand", "proposed"))


def _label(case: PurchaseCase, measure: str) -> str:
    target = case.target
    wait_s = target.wait if target.urgent is None else target.urgent.wait
    return _MEASURES[measure].format(plays=plays_name(case.replay), urgent=duration_text(wait_s))


def _spread(case: PurchaseCase, measure: str) -> Iterator[str]:
    """Yield the median and the worst surge with either stock."""
    write = percent if measure in _SHARES else number
    for stock in ("in_hand", "proposed"):
        for kind in ("median", "worst"):
            yield write(case.nothing(measure, f"{stock}_{kind}").value)


def _how_to_read(case: PurchaseCase, told: Sequence[str]) -> Iterator[str]:
    plays, surges = plays_name(case.replay), count(case.nothing("late", "surges"))
    yield f"Doing nothing saves the purchase{_paid_all_the_same(case)}."
    what = "replications" if case.replay is not None else "simulated surges"
    if len(case.same_surges) > 1:
        yield (
            f"Both stocks are counted on the same {surges} {what}, so the change is that of the "
            "stock alone."
        )
    else:
        yield "Both stocks meet the same entries, so the change is that of the stock alone."
    if leaving := leaving_words(case):
        yield (
            f"People leave the line {leaving}; whoever has taken a kit by then finishes its check, "
            "so the longest wait can be a little longer."
        )
    if case.replay is not None:
        return
    yield "Limits are of the change of the mean, each by itself."
    if not all(_is_shown(case, measure) for measure in told):
        yield f"A change is {NOT_SHOWN} where 0 lies within them."
    if any(_beyond(case, measure) for measure in told):
        yield (
            f"Limits may lie beyond the mean itself: very bad {plays} are rare, {surges} {plays} "
            "may hold too few of them, and the limits allow for that."
        )
    if any(case.nothing(measure, "difference_low").value is None for measure in told):
        yield f"They are missing where too few {plays} differ to give any."


def _limits(case: PurchaseCase, measure: str) -> tuple[float, float] | None:
    low, high = (case.nothing(measure, f"difference_{end}").value for end in ("low", "high"))
    return None if low is None or high is None else (low, high)


def _is_shown(case: PurchaseCase, measure: str) -> bool:
    """Return whether the limits of a change, if there are any, leave 0 out."""
    limits = _limits(case, measure)
    return limits is None or not limits[0] <= 0 <= limits[1]


def _beyond(case: PurchaseCase, measure: str) -> bool:
    """Return whether a limit says that more would be taken away than there is in the mean."""
    limits, now = _limits(case, measure), case.nothing(measure, "in_hand").value or 0.0
    return limits is not None and now + limits[0] < 0


def _paid_all_the_same(case: PurchaseCase) -> str:
    """Say what the stock in hand costs to keep, where a file says so."""
    if case.life is None:
        return "" if case.sized.new else "; what the stock in hand costs to keep was not worked out"
    years = years_text(case.life.inputs.file.years.value)
    paid = money_words(case, case.life_sum("paid", "in_hand").value)
    return f"; in {years} {paid} are paid all the same"


def _changed(case: PurchaseCase, measure: str) -> tuple[str, ...]:
    now, then, change = (
        case.nothing(measure, name).value for name in ("in_hand", "proposed", "difference")
    )
    limits = _limits(case, measure) or ()
    if measure in _SHARES:
        means = [percent(now), percent(then)]
        changed = f"{_points(change or 0.0)} points"
        told = " to ".join(map(_points, limits))
    else:
        means = [number(now), number(then)]
        changed, told = signed(change or 0.0), " to ".join(map(signed, limits))
    if measure == "late":
        shares = (case.stage(one, "share_late").value for one in (0, case.sized.place))
        means = [f"{mean} ({percent(one)})" for mean, one in zip(means, shares, strict=True)]
    return *means, changed if _is_shown(case, measure) else NOT_SHOWN, told


def _points(value: float) -> str:
    """Write a change of a share in points, with its sign."""
    return with_minus(f"{100 * value:+.1f}")


def used_parts(case: PurchaseCase) -> Iterator[Block]:
    """Yield what is ordered or paid for a surge."""
    yield Heading(f"What is used {per_play(case.replay)}")
    same, rows = case.sized.in_hand == case.sized.proposed, []
    alike = case.replay is not None and case.replay.alike
    share = share_of_ten(case.target.share_of_surges, case.replay)
    for what, label in _USED.items():
        names = ("in_hand_mean", "mean", "most", "enough", "enough_low", "enough_high")
        now, mean, most, enough, low, high = (case.use(what, name).value for name in names)
        if not most:
            continue
        limits = "" if low is None or high is None else f"{number(low)} to {number(high)}"
        sure = () if case.replay is not None else (limits,)
        told = (now,) if same else (now, mean)
        numbers = map(number, told if alike else (*told, enough))
        rows.append((label.format(money=case.money_unit), *numbers, *sure))
    # what is enough is of the stock requested
    hand = short_hand_head(case)
    owner = hand if same else "As requested"
    columns = (
        Column("What", align="left"),
        Column(f"{hand}: mean"),
        *([] if same else [Column("As requested: mean")]),
        *([] if alike else [Column(f"{owner}: no more in {share}")]),
        *([] if case.replay is not None else [Column("Limits of that (95 %)")]),
    )
    yield Table(columns, tuple(rows))
    beside = "" if same else ", not what comes on top of today's use"
    entries = number(case.use("entries", "mean").value)
    yield Paragraph(
        f"This is all that {entries} entries use{beside}; what the scenario leaves out is not "
        "counted. Charges, wipe-downs, hours of batteries, least and most of each stand in "
        "case.xlsx, sheet 'Used per surge'."
    )


def _by_charges(case: PurchaseCase) -> bool:
    """Return whether batteries are replaced by their full charges, which are told of then."""
    if case.life is None:
        return False
    things = case.life.things
    return bool((things["lasts_proposed"] < things["years"]).any())


def words_parts(case: PurchaseCase) -> Iterator[Block]:
    """Yield what the words of the document mean."""
    settings = case.scenario.settings
    long = duration_text(settings.horizon)
    wait = duration_text(case.target.wait)
    left = duration_text(settings.batteries.low_battery_alarm)
    said = f"the warning of a battery with {left} or less left to run; it ends the visit"
    alarm = [("alarm", said)] if settings.batteries.low_battery_alarm else []
    late = f"waited more than {wait}"
    if case.target.late_by == "delay":
        late = f"served more than {wait} later than with ample stock"
    surge = (
        f"one simulated course of {long} from {moment_text(settings.start)}, with patients, "
        "entries and failures of its own; hours and counts are those of these days"
        if case.replay is None
        else f"the recorded period, {long} from {moment_text(settings.start)}, simulated again"
    )
    yield Heading("Words")
    yield Rows(
        (
            (plays_name(case.replay).removesuffix("s"), surge),
            ("kit", "a powered air-purifying respirator, complete and ready to wear"),
            ("bay", "the place in a charger that charges one battery"),
            ("entry", f"one person's visit to an isolation room with a kit; late: {late}"),
            ("target", target_words(case.target, must_keep(case.replay))),
            ("stage", "a step of buying: all that the stage before it has, and more"),
            *alarm,
            *(
                []
                if case.comparison is None
                else [("rules", "what each is stands in 'Alternatives'")]
            ),
            *([("full charges", _FULL_CHARGES)] if _by_charges(case) else []),
            ("HE filter", "the high-efficiency filter of the blower; a prefilter sits before it"),
        )
    )
