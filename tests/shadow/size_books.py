"""What a sizing writes, made a second time from raw rows of each surge that a stock met.

Which stocks were tried, in which order and why is taken from what was written; every number about
them is counted again. Nothing of the sizing or of the report is used; the limits follow the
formula of ``columns.txt``.
"""

from __future__ import annotations

import itertools
import math
from typing import Any

import numpy as np
import pandas as pd
from scipy import stats

from surge_sim.equipment.stock import Stock
from surge_sim.randomness import Sample
from surge_sim.scenario.load import Scenario
from tests.shadow.causes import cause_of_waiting
from tests.shadow.cells import Near
from tests.shadow.raw import play_raw
from tests.shadow.run_books import Books, quantile

Rows = list[dict[str, Any]]

#: columns of a stock: the price of one, and its names
#: parts that a sizing looks at, at most
MOST_PARTS = 10_000
THINGS = {
    "kits": ("kit", "kit", "kits"),
    "batteries": ("battery", "battery", "batteries"),
    "bays": ("charger", "bay", "bays"),
    "extra_cleaners": ("cleaner", "cleaner", "cleaners"),
    "extra_hoods": ("hood", "hood", "hoods"),
    "extra_tubes": ("tube", "tube", "tubes"),
    "extra_prefilters": ("prefilter", "prefilter", "prefilters"),
    "extra_he_filters": ("he_filter", "HE filter", "HE filters"),
}
SUPPLIES = ("hoods", "tubes", "prefilters", "he_filters")
#: the first look, and how much more each next one is
FIRST, MORE = 100, 8


def looks(most: int) -> list[int]:
    """Return after how many surges a test goes on or ends."""
    found = [min(FIRST, most)]
    while found[-1] < most:
        found.append(min(found[-1] + max(found[-1] // MORE, 1), most))
    return found


def in_blocks(kept: np.ndarray) -> list[tuple[int, int, int]]:
    """Return (surges on target, others, end) of each block of the bet."""
    ends = [500.0, 800.0, 2_000.0]
    while ends[-1] < len(kept):
        ends.append(round(2.5 * ends[-1]))
    blocks, begin = [], 0
    for end in map(int, ends):
        part = kept[begin:end]
        if len(part) or not blocks:
            blocks.append((int(part.sum()), len(part) - int(part.sum()), end))
        begin = end
    return blocks


def log_stake(blocks: list[tuple[int, int, int]], p: float, q: float, alpha: float, side: str):  # type: ignore[no-untyped-def]
    """Return the sum over blocks that ``columns.txt`` names, of the lower or the upper limit."""
    total, size = 0.0, 2 * math.log(1 / alpha)
    for s, m, end in blocks:
        if side == "low":
            u = min(0.75, math.sqrt(size * q / ((1 - q) * end)))
            total += s * math.log(1 + u * (1 - p) / p) + m * math.log(1 - u)
        else:
            v = min(0.75, math.sqrt(size * (1 - q) / (q * end)))
            total += m * math.log(1 + v * p / (1 - p)) + s * math.log(1 - v)
    return total


def limit(kept: np.ndarray, q: float, alpha: float, side: str) -> float:
    """Halve the range in which the limit lies until it is known."""
    blocks, bar = in_blocks(kept), math.log(1 / alpha)
    # the stake falls with p for the lower limit and rises with it for the upper one
    low, high = 1e-12, 1 - 1e-12
    ruled_out = lambda p: log_stake(blocks, p, q, alpha, side) >= bar  # noqa: E731
    if not ruled_out(low if side == "low" else high):
        return 0.0 if side == "low" else 1.0
    for _ in range(60):
        middle = (low + high) / 2
        if ruled_out(middle) == (side == "low"):
            low = middle
        else:
            high = middle
    return (low + high) / 2


def decided(kept: np.ndarray, q: float, alpha: float, most: int) -> tuple[int, str]:
    """Return after how many surges a stock is shown to be above or below the share, or all."""
    bar = math.log(1 / alpha)
    for surges in range(min(FIRST, most), len(kept) + 1):
        blocks = in_blocks(kept[:surges])
        if log_stake(blocks, q, q, alpha, "low") >= bar:
            return surges, "above"
        if log_stake(blocks, q, q, alpha, "high") >= bar:
            return surges, "below"
    return len(kept), ""


class SizeBooks:
    """Second accounts of one sizing."""

    def __init__(
        self, scenario: Scenario, tables: dict[str, pd.DataFrame], summary: dict[str, Any]
    ) -> None:
        self.scenario, self.settings, self.summary = scenario, scenario.settings, summary
        self.target, self.prices = self.settings.target, self.settings.prices
        self.tested, self.stages_seen = tables["tested"], tables["stages"]
        self.most, self.choose = summary["most_new_surges"], summary["surges_choosing"]
        self.first = min(FIRST, self.most)
        self.seed, self.alike = summary["seed"], self.most == 1
        self.share = self.target.share_of_surges
        self.alpha = 1 - self.confidence
        self.owned = self.stock_of(self.stages_seen.iloc[0])
        self._books: dict[tuple[Stock, int, int], Books] = {}
        chain = self.tested.dropna(subset="order_of_test").sort_values("order_of_test")
        self.chain = [self.stock_of(row) for row in chain.to_dict("records")]
        self.known = {
            self.stock_of(row): self._evidence(row) for row in self.tested.to_dict("records")
        }
        confirmed = []
        for stock in self.chain:
            if self.known[stock]["side"] != "above":
                break
            confirmed.append(stock)
        self.recommended = confirmed[-1]
        for stock, cells in self.known.items():
            below = "not met" if cells["side"] == "below" else "undecided"
            cells["verdict"] = "confirmed" if stock in confirmed else below

    @property
    def confidence(self) -> float:
        """That of the sizing; a recorded period has none."""
        found = self.summary["confidence"]
        return 1 - float(self.tested["alpha"].iloc[0]) if found is None else found

    @staticmethod
    def stock_of(row: Any) -> Stock:
        return Stock(**{name: int(row[name]) for name in THINGS})

    def books(self, stock: Stock, surges: int, sample: int = Sample.CONFIRM) -> Books:
        """Return the accounts of the first surges of a sample with a stock."""
        key = (stock, surges, int(sample))
        if key not in self._books:
            raw = play_raw(self.scenario, stock, surges, self.seed, sample)
            self._books[key] = Books(raw, self.target, self.settings.supplies.wipes_per_clean)
        return self._books[key]

    def kept(self, stock: Stock, surges: int, sample: int = Sample.CONFIRM) -> np.ndarray:
        """Return which of the first surges were on target."""
        return self.books(stock, surges, sample).surges["on_target"].to_numpy(dtype=bool)

    # --- money -------------------------------------------------------------------------------

    def more(self, stock: Stock, before: Stock) -> dict[str, int]:
        """Return what a stock has more of."""
        found = {name: getattr(stock, name) - getattr(before, name) for name in THINGS}
        return {name: number for name, number in found.items() if number}

    def money(self, stock: Stock) -> dict[str, float]:
        """Return what is paid once and for each surge; bays are sold by the charger."""
        once = each = 0.0
        for name, number in self.more(stock, self.owned).items():
            lots = math.ceil(number / self.prices.bays_per_charger) if name == "bays" else number
            paid = lots * getattr(self.prices, THINGS[name][0])
            once, each = (once, each + paid) if name == "extra_cleaners" else (once + paid, each)
        return {"cost": once + each, "purchase": once, "paid_per_surge": each}

    def words(self, stock: Stock, before: Stock) -> str:
        """Say what is added."""
        said = [
            f"{number:,} {THINGS[name][1 if number == 1 else 2]}"
            for name, number in self.more(stock, before).items()
        ]
        return " and ".join([*([", ".join(said[:-1])] if said[1:] else []), said[-1]]) or "nothing"

    # --- tables ------------------------------------------------------------------------------

    def _evidence(self, row: dict[str, Any]) -> dict[str, Any]:
        """Play as many surges as were counted; they must end where the test was decided."""
        kept = self.kept(self.stock_of(row), int(row["surges"]))
        if self.alike:
            side, low = ("above" if kept[0] else "below"), float(kept[0])
            surges, high = 1, low
        else:
            surges, side = decided(kept, self.share, self.alpha, self.most)
            low, high = (limit(kept, self.share, self.alpha, end) for end in ("low", "high"))
            last = row["test"] in ("candidate", "least cost")
            allowed = looks(self.most) if last else [self.first]
            surges = surges if side or len(kept) in allowed else -1
        blocks = in_blocks(kept)
        return {
            "surges": surges,
            "surges_on_target": int(kept.sum()),
            "on_target_by_block": "; ".join(f"{s} of {s + m}" for s, m, _ in blocks),
            "low": low,
            "high": high,
            "side": side,
        }

    def evidence(self, stock: Stock) -> dict[str, Any]:
        """Return what is known of a stock, as columns."""
        return {key: cell for key, cell in self.known[stock].items() if key != "side"}

    def tested_rows(self) -> Rows:
        """Return ``tested.csv``, by money, then by fewer things, then by their counts."""
        chosen = {stock: self.kept(stock, self.choose, Sample.CHOOSE) for stock in self.chain}
        # what a richer stock missed though a poorer one met it may have been taken as met
        doubt = np.zeros(self.choose, dtype=bool)
        for less, more in itertools.permutations(self.chain, 2):
            if all(getattr(less, name) <= getattr(more, name) for name in THINGS):
                doubt |= chosen[less] & ~chosen[more]
        # and so may one surge for a poorer stock that was looked at and stands in no table
        unseen = 1 / self.choose
        rows = []
        for seen in self.tested.to_dict("records"):
            stock = self.stock_of(seen)
            share = chosen[stock].mean() if stock in chosen else None
            rows.append(
                {name: getattr(stock, name) for name in THINGS}
                | self.money(stock)
                | {"test": seen["test"], "order_of_test": seen["order_of_test"]}
                | {"share_on_target_choosing": None if share is None else
                   Near(share - doubt.mean(), share + doubt.mean() + unseen)}
                | {"required_share": self.share, "alpha": self.alpha}
                | self.evidence(stock)
            )  # fmt: skip
        names = tuple(THINGS)
        return sorted(
            rows,
            key=lambda row: (row["cost"], sum(row[n] for n in names), [row[n] for n in names]),
        )

    def stage_rows(self) -> Rows:
        """Return ``stages.csv``: all on the same first surges."""
        rows, before = [], self.owned
        for number, seen in enumerate(self.stages_seen.to_dict("records")):
            stock = self.stock_of(seen)
            played = self.books(stock, self.first).surges
            late = played["entries"] - played["in_time"]
            rows.append(
                {"stage": number, "bought": self.words(stock, before) if number else "nothing"}
                | {"recommended": stock == self.recommended}
                | {name: getattr(stock, name) for name in THINGS}
                | self.money(stock)
                | self.evidence(stock)
                | {
                    "same_surges": self.first,
                    "same_surges_on_target": int(played["on_target"].sum()),
                    "entries": played["entries"].mean(),
                    "late": late.mean(),
                    "share_late": late.sum() / max(played["entries"].sum(), 1),
                    "hours_waited": played["hours_waited"].mean(),
                    # a surge without entries has no worst day
                    "worst_day_share_late": (
                        1 - played["worst_day_service_level"].fillna(1)
                    ).mean(),
                }
                | self.remaining(stock)
            )
            before = stock
        return rows

    def remaining(self, stock: Stock) -> dict[str, Any]:
        """Return what stays bad: entries without a kit, and the worst hour with 20 entries."""
        books = self.books(stock, self.first)
        urgent = books.entries[books.entries["urgent"]]
        hours = books.entries.groupby("hour")["in_time"].agg(["size", "mean"])
        hours = hours[hours["size"] >= 20]
        worst = hours["mean"].astype(float).idxmin() if len(hours) else None
        return {
            "unserved": books.surges["unserved"].mean(),
            "urgent_entries": len(urgent) / self.first,
            "urgent_unserved": urgent["unserved"].sum() / self.first,
            "worst_hour": None if worst is None else int(worst),
            "worst_hour_share_late": None if worst is None else 1 - float(hours.loc[worst, "mean"]),
        }

    def waiting_rows(self) -> Rows:
        """Return ``cause_of_waiting_in_hand.csv`` with what would mend each cause."""
        rows = cause_of_waiting(self.books(self.owned, self.first))
        for row in rows:
            row["reduced_by"] = self._mended_by(row["cause_of_waiting"])
        return sorted(rows, key=lambda row: (-row["hours_per_surge"], row["cause_of_waiting"]))

    def _mended_by(self, words: str) -> str | None:
        parts = {"prefilter": "prefilters", "HE filter": "he_filters"}
        named = {"kit": "kits", "battery": "batteries", "hood": "hoods", "tube": "tubes"}
        if words == "battery waiting for a bay":
            return "bays"
        if words == "kit waiting for a wipe-down" and self.settings.cleaning.by == "crew":
            return "cleaners"
        for part, several in parts.items():
            if words == f"kit waiting for a {part}":
                return several
        return None if "too weak" in words else named.get(words.split()[0])

    def part_rows(self) -> Rows:
        """Return ``parts.csv``."""
        rows, tail = [], (1 - self.confidence) / 2
        hand, best = (self.books(one, self.first) for one in (self.owned, self.recommended))
        for name in SUPPLIES:
            part = getattr(self.settings.supplies, name)
            if part is None:
                continue
            extra = getattr(self.recommended, f"extra_{name}")
            extra -= getattr(self.owned, f"extra_{name}")
            used = np.sort(best.raw.counts[f"{name.upper()}_USED"].to_numpy())
            below = int(stats.binom.ppf(tail, len(used), self.share))
            above = int(stats.binom.isf(tail, len(used), self.share))
            short = f"STOCK_OUTS_{name.upper()}"
            limits = (None, None)
            if not self.alike:
                limits = (
                    used[below - 1] if below >= 1 else None,
                    used[above] if above < len(used) else None,
                )
            rows.append(
                {
                    "part": name, "on_shelf": part.spare, "to_buy": extra,
                    "on_shelf_recommended": part.spare + extra,
                    "reorder_point": None if part.reorder_point is None
                    else part.reorder_point + extra,
                    "order_quantity": part.order_quantity,
                    "lead_time_days": part.lead_time / 86_400,
                    "price_of_more": extra * getattr(self.prices, THINGS[f"extra_{name}"][0]),
                    "share_of_surges": self.share, "used": quantile(used, self.share),
                    "used_low": limits[0], "used_high": limits[1], "surges": self.first,
                    "surges_short_in_hand": int((hand.raw.counts[short] > 0).sum()),
                    "surges_short": int((best.raw.counts[short] > 0).sum()),
                }
            )  # fmt: skip
        return rows

    # --- summary -----------------------------------------------------------------------------

    def about(self, stock: Stock) -> dict[str, Any]:
        """Return what the summary says of a stock."""
        cells = {name: getattr(stock, name) for name in THINGS} | self.money(stock)
        return cells | {k: v for k, v in self.evidence(stock).items() if k != "on_target_by_block"}

    def least_cost(self) -> dict[str, Any]:
        """Return the price of the cheapest stock that is within none of those ruled out."""
        out = [self.stock_of(row) for row in self.summary["least_cost"]["ruled_out"]]
        names = [{"kits": "kits", "batteries": "batteries", "bays": "bays"}.get(one, f"extra_{one}")
                 for one in self.summary["searched"]]  # fmt: skip
        counts = []
        for name in names:
            lot = self.prices.bays_per_charger if name == "bays" else 1
            owned = getattr(self.owned, name)
            beyond = {owned + lot * max((getattr(one, name) - owned) // lot + 1, 0) for one in out}
            # nothing is looked for beyond the limits of the file
            most = getattr(self.settings.limits, name.removeprefix("extra_"), MOST_PARTS)
            counts.append(sorted({owned, *(count for count in beyond if count <= most)}))
        high = self.money(self.recommended)["cost"]
        left = [high]
        for numbers in itertools.product(*counts):
            stock = Stock(**{**{n: getattr(self.owned, n) for n in THINGS},
                             **dict(zip(names, numbers, strict=True))})  # fmt: skip
            if not any(all(getattr(stock, n) <= getattr(one, n) for n in THINGS) for one in out):
                left.append(self.money(stock)["cost"])
        low = min(left)
        proof = "exact" if low >= high - 1e-9 else "strong" if low >= 0.8 * high else "weak"
        return {"low": low, "high": high, "strength": proof}

    def monotonicity_violations(self) -> dict[str, int]:
        """Count the surges in which more stock missed what less kept, of those compared."""
        played = {}
        for stock, cells in self.known.items():
            surges = next(look for look in looks(self.most) if look >= cells["surges"])
            played[stock] = self.kept(stock, surges)
        compared, hurt = np.zeros(self.most, dtype=bool), np.zeros(self.most, dtype=bool)
        for less, more in itertools.permutations(played, 2):
            if all(getattr(less, name) <= getattr(more, name) for name in THINGS):
                both = min(len(played[less]), len(played[more]))
                compared[:both] = True
                hurt[:both] |= played[less][:both] & ~played[more][:both]
        return {"surges": int(compared.sum()), "worsened": int(hurt.sum())}
