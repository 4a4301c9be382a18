"""The folder of one run: scenario, manifest, answers, tables, figures; whole or not at all.

It grows under another name beside its place and gets its own name as the last step, so that a
folder which is there is complete. What can be refused is refused before anything is simulated.
"""

from __future__ import annotations

import hashlib
import json
import os
import platform
import re
import stat
import textwrap
import time
import warnings
from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Any

from surge_sim import __version__
from surge_sim.cautions import CAUTION_IN_SHORT
from surge_sim.errors import Fault, ScenarioError
from surge_sim.plain import csv_text, json_text, visible
from surge_sim.report.columns import columns_text
from surge_sim.report.files import PARTIAL, begun, flush_folder, refused, usual_mode
from surge_sim.report.rounding import csv_number

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

    from surge_sim.scenario.load import Scenario

#: where folders go when no other place is asked for
RESULTS = Path("results")

_PACKAGES = (
    "numpy", "scipy", "pandas", "numba", "simpy", "pydantic", "pyyaml", "matplotlib", "pillow",
)  # fmt: skip

#: of figures
_DPI = 150
#: what matplotlib warns of letters without a shape, once for each letter and drawing
_NO_GLYPH = "missing from font"
_RIGHT = "Name a new folder, or an empty one, in a place that you may write to: `--out DIR`."


@dataclass
class ResultFolder:
    """A folder that is being filled; `place` is where it will be."""

    place: Path
    #: where it grows until it is whole
    building: Path = field(repr=False)
    #: title of the scenario, for the foot of figures
    title: str = ""
    #: what the numbers cover, where that is less than usual: said with figures and columns
    covers: str = ""
    #: columns of the tables written so far, by their paths without ending
    columns: dict[str, list[str]] = field(default_factory=dict, repr=False)
    #: whether a figure lacks letters, for which its font has no shapes
    lacks_letters: bool = False

    @property
    def result_lines(self) -> str:
        """Where the results are, and what their figures lack."""
        said = f"results: {self.place}"
        if not self.lacks_letters:
            return said
        return f"{said}\nNote: the font of the figures shows some characters as empty boxes."

    def write_bytes(self, name: str, data: bytes) -> None:
        """Write one file; ``name`` may hold folders: ``tables/waits.csv``."""
        path = self.building / name
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("xb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())

    def write_text(self, name: str, text: str) -> None:
        """Write one text file, with a line end at its end."""
        self.write_bytes(name, (visible(text).rstrip("\n") + "\n").encode())

    def write_json(self, name: str, answer: Mapping[str, Any]) -> None:
        """Write one JSON object."""
        self.write_text(name, json_text(answer))

    def write_table(self, name: str, table: pd.DataFrame, folder: str = "tables") -> None:
        """Write one table as ``tables/<name>.csv``; missing numbers are empty."""
        text = csv_text(table, float_format=csv_number)
        self.write_bytes(f"{folder}/{name}.csv", text.encode())
        self.columns[f"{folder}/{name}"] = [str(column) for column in table.columns]

    def write_figure(self, name: str, figure: Figure, table: pd.DataFrame) -> None:
        """Write ``figures/<name>.png`` and the numbers in it as ``figures/<name>.csv``.

        At the foot of the figure stand the title of the scenario, which says so when it is
        invented, and the caution: figures are passed on without the text beside them.
        """
        from io import BytesIO

        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.text import Text

        title = textwrap.shorten(self.title, 110, placeholder=" ...")
        foot = [
            title, *textwrap.wrap(self.covers, 110), *textwrap.wrap(CAUTION_IN_SHORT, 110)
        ]  # fmt: skip
        words = "\n".join(line for line in foot if line)
        figure.supxlabel(visible(words), x=0.01, ha="left", fontsize=7, color="#505050")
        data = BytesIO()
        for text in figure.findobj(Text):
            # a title or a name may hold two dollar signs, which are no formula
            text.set_parse_math(False)
        figure.set_dpi(_DPI)
        # by the canvas, which draws once: `savefig` draws a figure with a layout twice; no release
        # inside, so that the same figure is the same file
        with warnings.catch_warnings(record=True) as found:
            warnings.simplefilter("always")
            FigureCanvasAgg(figure).print_png(data, metadata={"Software": None})  # type: ignore[no-untyped-call]
        for one in found:
            if _NO_GLYPH in str(one.message):
                self.lacks_letters = True
            else:
                warnings.warn_explicit(one.message, one.category, one.filename, one.lineno)
        self.write_bytes(f"figures/{name}.png", data.getvalue())
        self.write_table(name, table, folder="figures")


@contextmanager
def result_folder(
    out: Path | None, scenario: Scenario, command: Sequence[str], facts: Mapping[str, Any]
) -> Iterator[ResultFolder]:
    """Give a folder to fill, and put it in its place when all went well.

    Parameters
    ----------
    out : Path, optional
        The folder; it must not be there yet, or be empty. Without it, a new folder
        ``results/<scenario>_<time>_<short hash>`` is made.
    scenario : Scenario
        Copied with every file that it reads, and written out with every default.
    command : sequence of str
        What was typed; it is kept so that it can be typed again.
    facts : mapping
        What else belongs in the manifest, such as seed, engine, surges, stock: plain values.

    Yields
    ------
    ResultFolder
        Its contents are lost when the block is left by an error or from the keyboard.

    Raises
    ------
    ScenarioError
        At once, when there is no such place.
    """
    started, clock = datetime.now(UTC), time.perf_counter()
    place = out if out is not None else _new_place(scenario, facts, started)
    with ExitStack() as stack:
        try:
            target, mode = _tried(place)
            building = stack.enter_context(begun(target, folder=True, alone=out is not None))
            if out is not None:
                # another run may have ended there meanwhile; from here on none can begin
                _tried(place)
        except OSError as error:
            raise refused(place, error, _RIGHT) from None
        folder = ResultFolder(place, building, scenario.settings.title)
        copies = _write_scenario(folder, scenario)
        yield folder
        if folder.columns:
            folder.write_text("columns.txt", columns_text(folder.columns, folder.covers))
        manifest = {
            "tool": f"surge-sim {__version__}",
            "command": list(command),
            **facts,
            "scenario": {"name": scenario.name, "sha256": scenario.sha256},
            "inputs": dict(scenario.inputs),
            "copies": copies,
            "started": started.isoformat(timespec="seconds"),
            "seconds": round(time.perf_counter() - clock, 2),
            "python": platform.python_version(),
            "platform": f"{platform.system()} {platform.machine()}",
            "packages": versions(),
            "sha256": _checksums(building),
        }
        folder.write_json("manifest.json", manifest)
        if out is None and target.exists():
            # of a run that began in the same second
            folder.place = _new_place(scenario, facts, started)
            target = folder.place.resolve()
        _put_in_place(building, target, mode)


def _new_place(scenario: Scenario, facts: Mapping[str, Any], started: datetime) -> Path:
    said = json.dumps([__version__, scenario.sha256, dict(scenario.inputs), facts], sort_keys=True)
    short = hashlib.sha256(said.encode()).hexdigest()[:8]
    name = re.sub(r"[^\w.-]+", "_", scenario.name).strip("._") or "scenario"
    stem = f"{name}_{started:%Y%m%dT%H%M%SZ}_{short}"
    place, again = RESULTS / stem, 2
    while place.exists():
        place, again = RESULTS / f"{stem}_{again}", again + 1
    return place


def _tried(place: Path) -> tuple[Path, int]:
    """Try whether a folder can be put in a place, as it will be done at the end.

    Returns
    -------
    target : Path
        Where the folder will be, through any link.
    mode : int
        The mode that it will have: that of an empty folder which is there, else the usual one.
    """
    if not place.exists():
        if place.is_symlink():
            raise _unfit(place, "is a link that leads nowhere.")
        above = next(parent for parent in place.parents if parent.exists())
        if not above.is_dir():
            raise _unfit(place, f"is below {above}, which is a file, not a folder.")
        return place.resolve(), usual_mode(folder=True)
    target = place.resolve()
    if not target.is_dir():
        raise _unfit(place, "is a file, not a folder.")
    if any(target.iterdir()):
        raise _unfit(place, "is there and not empty.")
    if target.samefile(Path.cwd()):
        raise _unfit(place, "is the folder that the command is given in; it would be replaced.")
    if target.is_mount():
        raise _unfit(place, "is where a disk is mounted, which cannot be replaced by a folder.")
    mode = stat.S_IMODE(target.stat().st_mode)
    aside = target.with_name(f"{target.name}{PARTIAL}")
    target.rename(aside)
    aside.rename(target)
    return target, mode


def _unfit(place: Path, found: str) -> ScenarioError:
    return ScenarioError([Fault(str(place), 0, found, _RIGHT)])


def _write_scenario(folder: ResultFolder, scenario: Scenario) -> dict[str, str]:
    """Copy what was read into ``scenario/``, so that it can be run from there.

    Beside it stands the same scenario with every default written out.

    Returns
    -------
    dict
        Name as written in the scenario -> copy in the folder.
    """
    own = f"scenario/{scenario.path.name}"
    folder.write_bytes(own, scenario.data)
    full = f"scenario/{scenario.path.stem}_in_full.yaml"
    folder.write_text(full, scenario.full_form())
    copies = {scenario.path.name: own}
    for name, contents in scenario.input_bytes.items():
        inside = PurePosixPath(name.replace("\\", "/"))
        copy = f"scenario/{inside}"
        if inside.is_absolute() or ".." in inside.parts or ":" in name or copy in (own, full):
            # a file from elsewhere cannot be found from the copy of the scenario
            short = hashlib.sha256(name.encode()).hexdigest()[:8]
            copy = f"scenario/from_elsewhere/{short}_{inside.name}"
        if copy not in copies.values():
            folder.write_bytes(copy, contents)
        copies[name] = copy
    return copies


def versions() -> dict[str, str]:
    """Return the releases of the packages that results depend on, and of the maker of letters."""
    from matplotlib.ft2font import __freetype_version__

    found = {}
    for package in _PACKAGES:
        try:
            found[package] = version(package)
        except PackageNotFoundError:
            found[package] = "not installed"
    return found | {"freetype": __freetype_version__}


def _checksums(building: Path) -> dict[str, str]:
    return {
        path.relative_to(building).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(building.rglob("*"))
        if path.is_file()
    }


def _put_in_place(building: Path, place: Path, mode: int) -> None:
    for folder in [building, *(path for path in building.rglob("*") if path.is_dir())]:
        folder.chmod(usual_mode(folder=True))
        flush_folder(folder)
    building.chmod(mode)
    try:
        if place.is_dir():
            place.rmdir()
        building.rename(place)
    except OSError as error:
        raise refused(place, error, _RIGHT) from None
    flush_folder(place.parent)
