"""What people read on a screen: no private words, and nothing to be read as unsafe advice."""

from __future__ import annotations

import re

import pytest

from tests.approved.cases import TEXTS

#: screens whose words are those of this test; a sizing's have their own
COMMANDS = ("check", "check_full", "run", "matters", "verify", "explain_entry", "explain_kit",
            "explain_battery")  # fmt: skip
SCREENS = sorted(path for name in COMMANDS for path in TEXTS.glob(f"*/{name}.txt"))

#: private words, and the trade's in their place
PRIVATE = {
    r"promise": "service target",
    r"luck\w*": "random variation",
    r"kept? the target|target is (?:NOT )?kept": "met",
    r"gives? up|gave up|never give up": "maximum wait",
    r"patience": "maximum wait",
    r"unserved": "unserved",
    r"fleet": "batteries",
    r"least run\b": "minimum run time at issue",
    r"arithmetic knows": "averages ignore",
    r"half at most": "median",
    r"look at": "warning",
    r"run-off": "run-out period",
    r"hand(?:ed|s) out": "reissue",
    r"disruptions?": "event",
    r"knee": "then slower",
}
#: what could be read as advice to go in unprotected, to shorten a time or to skip a check, or as
#: an approval of a stock
UNSAFE = (
    r"without (?:a )?(?:kit|respirator|protection|check)", r"goes? in\b",
    r"nobody goes in", r"certif\w+", r"approved", r"\bsafe\w*", r"is protected", r"would protect",
    r"skip\w*", r"shorten\w*", r"shorter (?:contact|drying|wipe)", r"less (?:contact|drying)",
    r"reuse\w*",
)  # fmt: skip


def found(text: str, patterns: tuple[str, ...]) -> list[str]:
    """Words that fit a pattern, but for those of the sources, which quote titles."""
    said = " ".join(text.partition("\nSources\n")[0].split())
    return [one[0] for pattern in patterns for one in re.finditer(pattern, said, re.IGNORECASE)]


@pytest.mark.parametrize("path", SCREENS, ids=lambda path: f"{path.parent.name}/{path.stem}")
def test_no_screen_has_a_private_word_or_unsafe_advice(path) -> None:
    text = path.read_text(encoding="utf-8")
    assert found(text, tuple(rf"\b(?:{words})\b" for words in PRIVATE)) == []
    assert found(text, UNSAFE) == []


def test_every_kind_of_screen_is_looked_at() -> None:
    assert {path.stem for path in SCREENS} == set(COMMANDS)
    assert len(SCREENS) >= 30


@pytest.mark.parametrize(
    "text",
    [
        "the visit goes on without a kit", "Nobody goes in with a kit", "this stock is certified",
        "skip the check to save time", "a shorter drying time needs fewer kits",
    ],
)  # fmt: skip
def test_unsafe_advice_is_found(text: str) -> None:
    assert found(text, UNSAFE)
