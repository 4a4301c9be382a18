"""Parts of the document on a purchase: if nothing is done, what is used, what words mean."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from surge_sim.report.case_stages import count
from surge_sim.report.case_words import hand_head, leaving_words, money_words
from surge_sim.report.document import Block, Column, Heading, Paragraph, Rows, Table
from surge_sim.report.phrases import must_keep, per_play, plays_name, share_of_ten, target_words
from surge_sim.report.rounding import number, percent
from surge_sim.scenario.life_file import years_text
from surge_sim.units import duration_text, moment_text

if TYPE_CHECKING:
    from surge_sim.purchase.case import PurchaseCase

#: measures of the table of doing nothing: label, whether they are shares, and whether median and
#: worst are told besides the mean
_MEASURES: dict[str, tuple[str, bool, bool]] = {
    "missed_target": ("{plays} that miss the target", True, False),
    "late": ("late entries", False, True),
    "urgent_late": ("urgent entries that waited over {urgent}", False, True),
    "unserved": ("entries that got no kit in the maximum wait", False, True),
    "hours_waited": ("hours waited by all people together", False, True),
    "longest_wait": ("longest wait, minutes{leave}", False, True),
    "worst_day_late": ("late entries on the worst day", True, True),
}
_USED = {
    "entries": "entries",
    "battery_hours": "hours that batteries are in use",
    "charges": "charges begun",
    "full_charges": "equivalent full charges, at most",
    "wipe_downs": "wipe-downs",
    "wiping_hours": "hours of wipe-down work",
    "wipes": "wipes",
    "hoods": "hoods used up",
    "tubes": "tubes used up",
    "prefilters": "prefilters",
    "he_filters": "HE filters",
    "repairs": "blower repairs",
    "battery_replacements": "batteries that failed",
    "parts_price": "these hoods, tubes and filters, in {money}",
}


def doing_nothing(case: PurchaseCase) -> Iterator[Block]:
    """Yield what the stock in hand leaves as it is, and what the request changes."""
    if case.sized.in_hand == case.sized.proposed:
        return
    rows, spread, gaps = [], [], False
    several, leaving = len(case.same_surges) > 1, bool(leaving_words(case))
    for measure, (words, is_share, besides) in _MEASURES.items():
        some = any(case.nothing(measure, kind).value for kind in ("in_hand", "proposed"))
        # that everybody got a kit in time is told, too
        if not some and not (measure == "unserved" and leaving):
            continue
        label = words.format(**_names(case))
        rows.append((label, *_changed(case, measure, is_share)))
        gaps = gaps or not rows[-1][-1]
        write = percent if is_share else number
        if besides and several and some:
            told = (
                write(case.nothing(measure, f"{stock}_{kind}").value)
                for stock in ("in_hand", "proposed")
                for kind in ("median", "worst")
            )
            spread.append((label.split(" (")[0], *told))
    yield Heading("If nothing is done")
    heads = (hand_head(case), "As requested", "Change", "Uncertainty (95 %)")
    mean = f"Mean {per_play(case.replay)}" if several else ""
    yield Table((Column(mean, align="left"), *(Column(head) for head in heads)), tuple(rows))
    if spread:
        hand = hand_head(case)
        heads = (f"{hand}, median", "worst", "As requested, median", "worst")
        first = Column(f"Median and worst of the {plays_name(case.replay)}", align="left")
        yield Table((first, *(Column(head) for head in heads)), tuple(spread))
    yield Paragraph(" ".join(_how_to_read(case, gaps)))


def _names(case: PurchaseCase) -> dict[str, str]:
    target, plays = case.target, plays_name(case.replay)
    wait_s = target.wait if target.urgent is None else target.urgent.wait
    leaving = leaving_words(case)
    return {
        "leave": f" (people leave {leaving})" if leaving else "",
        "plays": plays, "play": plays.removesuffix("s"), "per": per_play(case.replay),
        "urgent": duration_text(wait_s),
    }  # fmt: skip


def _how_to_read(case: PurchaseCase, gaps: bool) -> Iterator[str]:
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
    if case.replay is None:
        yield (
            f"Limits are of the change of the mean, each by itself; they are not symmetrical where "
            f"a few {plays} are far worse than the others."
        )
        if gaps:
            yield f"They are missing where too few {plays} differ to give any."


def _paid_all_the_same(case: PurchaseCase) -> str:
    """Say what the stock in hand costs to keep, where a file says so."""
    if case.life is None:
        return "" if case.sized.new else "; what the stock in hand costs to keep was not worked out"
    years = years_text(case.life.inputs.file.years.value)
    paid = money_words(case, case.life_sum("paid", "in_hand").value)
    return f"; in {years} {paid} are paid all the same"


def _changed(case: PurchaseCase, measure: str, is_share: bool) -> tuple[str, ...]:
    now, then, change, low, high = (
        case.nothing(measure, name).value
        for name in ("in_hand", "proposed", "difference", "difference_low", "difference_high")
    )
    if is_share:
        points = f"{_signed(100 * (change or 0.0), 1)} points"
        limits = () if low is None or high is None else (100 * low, 100 * high)
        return percent(now), percent(then), points, " to ".join(_signed(one, 1) for one in limits)
    limits = () if low is None or high is None else (low, high)
    told = " to ".join(map(_with_sign, limits))
    return number(now), number(then), _with_sign(change or 0.0), told


def _with_sign(value: float) -> str:
    return f"{'+' * (value > 0)}{number(value)}".replace("-", "\u2212")


def _signed(value: float, digits: int) -> str:
    return f"{value:+.{digits}f}".replace("-", "\u2212")


def used_parts(case: PurchaseCase) -> Iterator[Block]:
    """Yield what is used in a surge."""
    yield Heading(f"What is used {per_play(case.replay)}")
    same, rows = case.sized.in_hand == case.sized.proposed, []
    for what, label in _USED.items():
        names = ("in_hand_mean", "mean", "most", "enough", "enough_low", "enough_high")
        now, mean, most, enough, low, high = (case.use(what, name).value for name in names)
        if not most:
            continue
        limits = "" if low is None or high is None else f"{number(low)} to {number(high)}"
        sure = () if case.replay is not None else (limits,)
        numbers = map(number, (now, enough) if same else (now, mean, enough))
        rows.append((label.format(money=case.money_unit), *numbers, *sure))
    columns = (
        Column("", align="left"),
        Column(f"{hand_head(case)}, mean"),
        *([] if same else [Column("As requested, mean")]),
        Column(f"No more in {share_of_ten(case.target.share_of_surges, case.replay)}"),
        *([] if case.replay is not None else [Column("Uncertainty of that (95 %)")]),
    )
    yield Table(columns, tuple(rows))
    beside = (
        ", not what comes on top of today's use; what stands behind the means is of the stock "
        "requested"
    )
    yield Paragraph(
        f"This is all that is used{'' if same else beside}; least and most of all stand in "
        "case.xlsx. What the model does not use up, or what the scenario leaves out, is not in the "
        "table."
    )


def words_parts(case: PurchaseCase) -> Iterator[Block]:
    """Yield what the words of the document mean."""
    settings = case.scenario.settings
    long = duration_text(settings.horizon)
    wait = duration_text(case.target.wait)
    left = duration_text(settings.batteries.low_battery_alarm)
    said = f"the warning of a battery that runs for {left} more or less; it ends the visit"
    alarm = [("alarm", said)] if settings.batteries.low_battery_alarm else []
    late = f"waited more than {wait}"
    if case.target.late_by == "delay":
        late = f"delayed by more than {wait} beyond ample stock"
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
            (
                "full charges",
                "hours in use over the shortest run time of a new battery; charges begun are more, "
                "as most batteries are not empty when they are charged",
            ),
            ("HE filter", "the high-efficiency filter of the blower; a prefilter sits before it"),
        )
    )
