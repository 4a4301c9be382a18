"""The committed example is what its own command writes today, byte for byte.

What may differ is listed here and nowhere else: in the manifest when, where and with which
releases it was made; and the bytes of figures where what draws them is of another release, or the
machine of another kind, than the manifest names.
"""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from surge_sim.report.folder import versions
from tests.conftest import ROOT

EXAMPLE = ROOT / "results" / "example"
#: facts of a manifest that say when, where and with what a folder was made
OF_THE_MACHINE = ("started", "seconds", "python", "platform", "packages")
#: what the bytes of a figure depend on beside the numbers that it shows
DRAWING = ("matplotlib", "freetype", "pillow")
AGAIN = (
    "The example is not what its command writes now. If that is meant, look at the differences, "
    "then rebuild it with the command in DEVELOPERS.md (Rebuild the example)."
)


def manifest(folder: Path) -> dict:
    return json.loads((folder / "manifest.json").read_text(encoding="utf-8"))


def drawn_alike(one: dict, other: dict) -> bool:
    """Whether two manifests name the same releases of what draws, on the same kind of machine."""
    alike = all(one["packages"].get(name) == other["packages"].get(name) for name in DRAWING)
    return alike and one["platform"] == other["platform"]


def differences(committed: Path, rebuilt: Path) -> list[str]:
    """Name each file that is not what it must be, with the first line that differs."""
    before, after = manifest(committed), manifest(rebuilt)
    skipped = "" if drawn_alike(before, after) else ".png"
    files = [
        {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()}
        for folder in (committed, rebuilt)
    ]
    found = [f"{name}: is missing" for name in sorted(files[1] - files[0])]
    found += [f"{name}: is written no longer" for name in sorted(files[0] - files[1])]
    for name in sorted(files[0] & files[1]):
        old, new = (folder / name for folder in (committed, rebuilt))
        if name == "manifest.json":
            found += manifest_differences(before, after, skipped)
        elif not (skipped and name.endswith(skipped)) and old.read_bytes() != new.read_bytes():
            found.append(f"{name}: {first_difference(old, new)}")
    return found


def manifest_differences(before: dict, after: dict, skipped: str) -> list[str]:
    found = []
    for fact in sorted(before.keys() | after.keys()):
        old, new = before.get(fact), after.get(fact)
        if fact == "command":
            # the folder that it is written to is another one
            old, new = old[:-1], new[:-1]
        if fact == "sha256":
            old, new = (
                {name: one for name, one in sums.items() if not skipped or skipped not in name}
                for sums in (old, new)
            )
        if fact not in OF_THE_MACHINE and old != new:
            found.append(f"manifest.json: {fact}")
    if before["packages"].keys() != after["packages"].keys():
        found.append("manifest.json: other packages are listed")
    return found


def first_difference(old: Path, new: Path) -> str:
    if old.suffix == ".png":
        return "other bytes, drawn by the same releases"
    pairs = [path.read_text(encoding="utf-8").splitlines() for path in (old, new)]
    for number, (was, now) in enumerate(zip(*pairs, strict=False), start=1):
        if was != now:
            return f"line {number} was {shorten(was)!r}, is {shorten(now)!r}"
    return f"had {len(pairs[0])} lines, has {len(pairs[1])}"


def shorten(text: str, most: int = 60) -> str:
    return text if len(text) <= most else f"{text[:most]} ..."


@pytest.mark.slow
def test_the_example_is_what_its_command_writes_today(process, tmp_path):
    tool, *asked, out, place = manifest(EXAMPLE)["command"]
    assert (tool, out, place) == ("surge-sim", "--out", "results/example")
    done = process(*asked, out, tmp_path / "example", cwd=ROOT)
    assert done.returncode == 0, done.stderr
    found = differences(EXAMPLE, tmp_path / "example")
    assert not found, "\n  ".join([AGAIN, *found])


def test_the_command_of_the_example_is_the_one_in_the_documents():
    command = " ".join(manifest(EXAMPLE)["command"])
    for document in ("README.md", "DEVELOPERS.md"):
        assert command in (ROOT / document).read_text(encoding="utf-8"), document


@pytest.fixture
def copy(tmp_path):
    """A copy of the example, and how to change its manifest."""
    folder = tmp_path / "copy"
    shutil.copytree(EXAMPLE, folder)
    return folder


def change_manifest(folder: Path, **facts) -> None:
    changed = json.dumps(manifest(folder) | facts)
    (folder / "manifest.json").write_text(changed, encoding="utf-8")


def test_a_copy_has_no_differences_wherever_and_whenever_it_was_made(copy):
    assert differences(EXAMPLE, copy) == []
    change_manifest(copy, started="2031-03-03T00:00:00+00:00", seconds=1.0, python="3.13.0")
    assert differences(EXAMPLE, copy) == []


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("answer.txt", "line 1 was 'Rule-out unit"),
        ("summary.json", "line 1 was '{', is 'X'"),
        ("tables/by_day.csv", "line 1 was 'day,date,entries_per_surge"),
        ("columns.txt", "line 1 was"),
        ("figures/wait_curve.png", "other bytes, drawn by the same releases"),
    ],
)
def test_one_changed_byte_is_found_in_any_file(copy, name, says):
    data = (copy / name).read_bytes()
    end = data.index(b"\n") if not name.endswith(".png") else 1
    (copy / name).write_bytes(b"X" + data[end:])
    (found,) = differences(EXAMPLE, copy)
    assert found.startswith(f"{name}: {says}")


def test_missing_and_further_files_are_found(copy):
    (copy / "tables" / "waits.csv").rename(copy / "tables" / "more.csv")
    assert differences(EXAMPLE, copy) == [
        "tables/more.csv: is missing", "tables/waits.csv: is written no longer",
    ]  # fmt: skip


@pytest.mark.parametrize("fact", ["seed", "surges", "engine", "stock", "scenario", "sha256"])
def test_other_facts_of_the_manifest_are_found(copy, fact):
    change_manifest(copy, **{fact: {}})
    assert differences(EXAMPLE, copy) == [f"manifest.json: {fact}"]


@pytest.mark.parametrize("package", DRAWING)
def test_only_figures_may_differ_where_another_release_drew_them(copy, package):
    (copy / "figures" / "wait_curve.png").write_bytes(b"drawn otherwise")
    assert len(differences(EXAMPLE, copy)) == 1
    packages = manifest(copy)["packages"] | {package: "0.0.1"}
    change_manifest(copy, packages=packages)
    assert differences(EXAMPLE, copy) == []
    (copy / "figures" / "wait_curve.csv").write_text("other\n")
    assert len(differences(EXAMPLE, copy)) == 1


def test_what_draws_is_named_in_every_manifest():
    assert set(DRAWING) <= set(versions())
