"""How often the tests fail although the program is right, summed over all random checks.

Each file with random checks says its own chance as ``FALSE_ALARM``, computed from the number of
its checks and the rate of each. ``python -m tests.false_alarms`` writes the table into README.md.
"""

from __future__ import annotations

from importlib import import_module
from pathlib import Path

from tests.validation.catalogue import CHECKS
from tests.validation.check import FALSE_ALARM as EACH_OF_CATALOGUE
from tests.validation.check import WHOLE_SUITE, By

README = Path(__file__).with_name("README.md")
BEGIN, END = "<!-- false alarms: begin -->", "<!-- false alarms: end -->"

#: modules that say their FALSE_ALARM, and what they leave to chance
RANDOM = {
    "demand/chance.py": "counts, shares and distributions of drawn patients, entries and times",
    "demand_words/test_demand_words.py": "patients, visits and times of random wards, against the "
    "words of their files",
    "scenario/test_ranges.py": "draws of uncertain inputs",
    "statistics/test_coverage.py": "how often intervals hold the truth",
    "sizing/test_method.py": "sizings whose truth is known",
    "sizing/test_studies.py": "how often intervals of a sizing hold the truth",
    "whatif/test_same_patients.py": "patients and entries of a changed demand",
    "whatif/test_differences.py": "alternatives that are alike, and the power of a comparison",
    "whatif/test_indices.py": "indices of functions whose indices are known",
    "whatif/test_value.py": "what knowing an input is worth, against closed forms",
    "validation/test_degenerate.py": "lines with a known mean",
}
#: two answers of a sizing in the catalogue, each wrong with less than this chance
EACH_ANSWER = 1e-5


def chances() -> dict[str, tuple[str, float]]:
    """Chance of a false alarm by file: what is random there, and how often it errs."""
    found = {}
    for file, words in RANDOM.items():
        module = import_module("tests." + file.removesuffix(".py").replace("/", "."))
        found[file] = (words, float(module.FALSE_ALARM))
    drawn = sum(check.by is By.TOOL and check.sharp > 0 for check in CHECKS)
    words = f"{drawn} simulated values against published ones, two answers of a sizing"
    found["validation/catalogue/"] = (words, drawn * EACH_OF_CATALOGUE + 2 * EACH_ANSWER)
    return found


def table() -> str:
    """The chances as a table, and their sum."""
    rows = chances()
    total = sum(chance for _, chance in rows.values())
    lines = ["| where | what is random | chance |", "| --- | --- | --- |"]
    lines += [f"| `{file}` | {words} | {chance:.1e} |" for file, (words, chance) in rows.items()]
    lines.append(f"| sum | must stay under {WHOLE_SUITE:.0e} | {total:.1e} |")
    return "\n".join(lines)


def with_table(text: str) -> str:
    """Put the table between its marks."""
    before, _, rest = text.partition(BEGIN)
    return f"{before}{BEGIN}\n\n{table()}\n\n{END}{rest.partition(END)[2]}"


if __name__ == "__main__":
    README.write_text(with_table(README.read_text(encoding="utf-8")), encoding="utf-8")
