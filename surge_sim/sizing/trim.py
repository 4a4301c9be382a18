"""Leave lots out of the certified stock, one after the other, as long as the rest passes.

Why this adds at most the chance that was kept for it. Of the chance kept for a candidate, each
stock with one lot less has an equal part, and hands that on, split again, to the stocks below it
when it passes (Bretz, Maurer, Brannath and Posch, "A graphical approach to sequentially rejective
multiple test procedures", Statistics in Medicine 28, 2009). Candidate, parts and order are fixed
before sample B. A wrong stock is recommended only if the first one on the way down that fails in
truth is shown to pass. Stocks that can be that first one lie below stocks that pass in truth and
none below another, so their parts add up to the candidate's at most; and which of several passing
stocks is taken does not matter. With evidence that may be looked at after any surge each part is
the chance of EVER showing its stock wrongly, so the same holds wherever one stops, by the clock
too, and when more surges are added later.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from surge_sim.sizing.anytime import anytime_verdict, play_on
from surge_sim.sizing.certify import until_decided
from surge_sim.sizing.chain import PASSES, Chain
from surge_sim.sizing.items import one_less
from surge_sim.sizing.looks import looks
from surge_sim.statistics.binomial import least_passes

if TYPE_CHECKING:
    from surge_sim.equipment.stock import Stock
    from surge_sim.scenario.goal import Prices
    from surge_sim.sizing.ledger import Ledger


def trim(
    ledger: Ledger,
    chain: Chain,
    certified: Stock,
    prices: Prices,
    ends_s: float | None = None,
) -> tuple[Stock, float]:
    """Leave out what can be shown not to be needed.

    Parameters
    ----------
    ledger : Ledger
        Plays sample B.
    chain : Chain
        Says which items may be left out, by which test, and with which chance of error.
    certified : Stock
        The candidate that the walk ended at.
    prices : Prices
        Of several stocks that pass the cheapest is taken.
    ends_s : float, optional
        Reading of ``time.monotonic`` after which no further look begins [s]; anytime tests
        only, where stopping is honest.

    Returns
    -------
    tuple
        The stock, and the level at which the stocks with one lot less were tested.
    """
    level, stock = chain.kept, certified
    while True:
        level /= max(len(chain.trims), 1)
        less = [other for _, other in one_less(stock, prices, chain.trims)]
        passing = (
            _pass_at_the_last_look(ledger, less, chain, level)
            if chain.look_on is None
            else _pass_at_any_look(ledger, less, chain, level, ends_s)
        )
        if not passing:
            return stock, level
        stock = passing[0]


def _pass_at_the_last_look(
    ledger: Ledger, less: list[Stock], chain: Chain, level: float
) -> list[Stock]:
    """Test at the last look only; the part of the earlier ones is left unspent."""
    needed = least_passes(chain.surges, chain.share, looks(chain.surges)[-1].part * level)
    until_decided(ledger, less, chain, level)
    return [
        other
        for other in less
        if ledger.played(other) >= chain.surges and ledger.passes(other, chain.surges) >= needed
    ]


def _pass_at_any_look(
    ledger: Ledger, less: list[Stock], chain: Chain, level: float, ends_s: float | None
) -> list[Stock]:
    assert chain.look_on is not None
    rule = (chain.share, chain.alpha, chain.look_on, level)
    play_on(ledger, less, *rule, ends_s, "one item less")
    return [other for other in less if anytime_verdict(ledger.kept(other), *rule)[0] == PASSES]
