"""Compiled code is kept where nobody else can write; the first compile is announced."""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from surge_sim.engine import surges
from surge_sim.engine.compiled import code_cache
from surge_sim.engine.compiled.code_cache import is_safe
from tests.conftest import ROOT, plain_environment

#: plays a surge and says how often the engine was compiled, and what came of it
PLAY = """
from surge_sim import situation_of, load_scenario, play, stock_in_hand
from surge_sim.engine.surges import compile_engine
scenario = load_scenario("scenarios/rule_out_unit.yaml")
compile_engine()
log = play(*situation_of(scenario, stock_in_hand(scenario.settings)))
from surge_sim.engine.compiled.play import play_through
made = sum(play_through.stats.cache_misses.values())
print(made, int(log.wait_s.sum()), len(log.wait_s))
"""

#: puts a small function in the engine's place, and says how often it was compiled
SMALL = """
import numba
from surge_sim.engine.compiled.code_cache import is_cached
from surge_sim.engine.compiled.compiler import keep
from surge_sim.engine.compiled.code_cache import folders

before = is_cached()

@keep
@numba.njit
def twice(number):
    return 2 * number

print(before, twice(21), sum(twice.stats.cache_misses.values()), is_cached())
"""

FOLDERS = """
from surge_sim.engine.compiled.code_cache import folders
print(*folders(), sep="\\n")
"""


slow = pytest.mark.slow
posix = pytest.mark.skipif(os.name != "posix", reason="owners and modes are others there")


def python(script: str, *words: str | Path, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", script, *map(str, words)],
        cwd=ROOT, env=plain_environment() | environment, capture_output=True, text=True,
        timeout=900, check=True,
    )  # fmt: skip


@pytest.fixture
def nowhere(tmp_path: Path) -> Path:
    """A folder that nobody can make, the administrator included: it lies below a file."""
    (tmp_path / "file").write_text("no folder\n")
    return tmp_path / "file" / "below"


@pytest.fixture
def cache(tmp_path: Path) -> dict[str, str]:
    """Both places for compiled code lie below a folder of the test."""
    (tmp_path / "tmp").mkdir()
    (tmp_path / "cache").mkdir(mode=0o755)
    return {"NUMBA_CACHE_DIR": str(tmp_path / "cache"), "TMPDIR": str(tmp_path / "tmp")}


def kept_files(place: Path) -> list[Path]:
    return [path for path in place.rglob("*") if path.is_file()]


def small(cache: dict[str, str]) -> list[str]:
    """Whether code was kept before, the answer, how often it was compiled, whether it is kept."""
    shown = python(SMALL, **cache)
    assert shown.stderr == ""
    return shown.stdout.split()


@pytest.fixture(scope="module")
def compiled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Code of the small function, kept by a first start."""
    place = tmp_path_factory.mktemp("compiled")
    assert small({"NUMBA_CACHE_DIR": str(place)}) == ["False", "42", "1", "True"]
    return place


@pytest.fixture
def kept(compiled: Path, tmp_path: Path, cache: dict[str, str]) -> Path:
    """The file with that code, where the test keeps its own."""
    shutil.copytree(compiled, tmp_path / "cache", dirs_exist_ok=True)
    (path,) = kept_files(tmp_path / "cache")
    return path


def test_code_is_kept_in_the_folder_that_is_named_and_read_from_there(
    tmp_path: Path, cache: dict[str, str]
):
    assert small(cache) == ["False", "42", "1", "True"]
    assert len(kept_files(tmp_path / "cache")) == 1 and not kept_files(tmp_path / "tmp")
    assert small(cache) == ["True", "42", "0", "True"]


#: writes late what was compiled, so that others begin meanwhile
LATE = """
import time
from surge_sim.engine.compiled import code_cache
at_once = code_cache.write
code_cache.write = lambda code: (time.sleep(3), at_once(code))
"""


@posix
def test_of_processes_that_begin_together_one_compiles_and_the_others_wait(
    tmp_path: Path, cache: dict[str, str]
):
    with ThreadPoolExecutor(3) as pool:
        shown = list(pool.map(lambda _: python(LATE + SMALL, **cache).stdout.split(), range(3)))
    assert [(answer, kept) for _, answer, _, kept in shown] == [("42", "True")] * 3
    assert sum(int(compiled) for _, _, compiled, _ in shown) == 1
    assert len(kept_files(tmp_path / "cache")) == 1


@slow
def test_code_is_kept_among_temporary_files_where_the_users_cache_cannot_be_written(
    tmp_path: Path, nowhere: Path, cache: dict[str, str]
):
    cache["NUMBA_CACHE_DIR"] = str(nowhere)
    assert small(cache) == ["False", "42", "1", "True"]
    assert len(kept_files(tmp_path / "tmp")) == 1


def test_where_nothing_can_be_written_the_answer_is_the_same(nowhere: Path, cache: dict[str, str]):
    cache["NUMBA_CACHE_DIR"] = str(nowhere)
    script = f"import tempfile; tempfile.tempdir = {str(nowhere)!r}\n{SMALL}"
    assert python(script, **cache).stdout.split() == ["False", "42", "1", "False"]


@posix
def test_without_a_home_no_folder_is_named_by_a_tilde(cache: dict[str, str]):
    """As in a container whose user is in no list: the home stays the sign for it."""
    script = f"import os; os.path.expanduser = lambda path: path\n{FOLDERS}"
    del cache["NUMBA_CACHE_DIR"]
    shown = python(script, XDG_CACHE_HOME="", NUMBA_CACHE_DIR="", TMPDIR=cache["TMPDIR"])
    (only,) = shown.stdout.split()
    assert Path(only).parent == Path(cache["TMPDIR"])


@posix
@pytest.mark.parametrize(
    "mode", [0o777, pytest.param(0o775, marks=slow), pytest.param(0o1777, marks=slow)]
)
def test_a_folder_that_others_may_write_is_neither_read_nor_written(
    tmp_path: Path, cache: dict[str, str], kept: Path, mode: int
):
    """Whoever may write there could plant code that this user would then run."""
    planted = kept.read_bytes()
    kept.parent.chmod(mode)
    assert small(cache) == ["False", "42", "1", "True"]
    assert kept.read_bytes() == planted
    assert len(kept_files(tmp_path / "tmp")) == 1


@posix
def test_a_folder_is_as_safe_as_those_above_it(tmp_path: Path):
    """Who may rename a folder can put another in its place."""
    above = tmp_path / "above"
    folder = above / "folder"
    folder.mkdir(parents=True)
    assert is_safe(folder) and is_safe(folder / "not" / "yet" / "there")
    for mode, safe in ((0o777, False), (0o770, False), (0o1777, True), (0o755, True)):
        above.chmod(mode)
        assert is_safe(folder) is safe
        assert is_safe(folder / "not there yet") is safe


@posix
def test_a_link_is_as_safe_as_where_it_lies_and_where_it_leads(tmp_path: Path):
    for name in ("good", "open"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "inside").mkdir()
    (tmp_path / "open").chmod(0o777)
    links = {
        tmp_path / "to good": (tmp_path / "good" / "inside", True),
        tmp_path / "to open": (tmp_path / "open" / "inside", False),
        tmp_path / "open" / "link": (tmp_path / "good" / "inside", False),
        # over another link, and by a name that begins where the link lies
        tmp_path / "far": (Path("to open"), False),
        tmp_path / "near": (Path("to good"), True),
    }
    for link, (target, safe) in links.items():
        link.symlink_to(target)
        assert is_safe(link) is safe, link


@slow
@posix
def test_where_code_is_kept_a_circle_of_links_or_a_pipe_costs_nothing_but_the_time(
    tmp_path: Path, cache: dict[str, str]
):
    """Among temporary files there is room."""
    place = tmp_path / "cache" / "surge_sim"
    place.symlink_to("surge_sim")
    assert not is_safe(place)
    assert small(cache) == ["False", "42", "1", "True"]
    (path,) = kept_files(tmp_path / "tmp")
    place.unlink()
    place.mkdir()
    os.mkfifo(place / path.name)
    assert small(cache) == ["True", "42", "0", "True"]


@posix
def test_what_belongs_to_another_user_is_not_safe(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """Files of one user, seen by another."""
    assert is_safe(tmp_path)
    somebody_else = os.geteuid() + 1
    monkeypatch.setattr(os, "geteuid", lambda: somebody_else)
    owner = (tmp_path / "x").parent.stat().st_uid
    assert is_safe(tmp_path) is (owner == 0)
    if owner == 0:
        os.chown(tmp_path, 12345, -1)
        assert not is_safe(tmp_path)


@pytest.mark.parametrize(
    "left", [20, *(pytest.param(left, marks=slow) for left in (0, 32, 1_000, -1))]
)
def test_a_damaged_file_is_compiled_anew_and_kept_whole(
    cache: dict[str, str], kept: Path, left: int
):
    """Cut after so many bytes, as a crash of the machine leaves it; or one bit is another one."""
    whole = kept.read_bytes()
    kept.write_bytes(
        whole[:left] if left >= 0 else whole[:-9] + bytes([whole[-9] ^ 1]) + whole[-8:]
    )
    assert small(cache) == ["False", "42", "1", "True"]
    assert small(cache) == ["True", "42", "0", "True"]


@slow
def test_what_is_no_code_behind_a_right_checksum_is_compiled_anew(
    cache: dict[str, str], kept: Path
):
    kept.write_bytes(hashlib.sha256(b"abc").digest() + b"abc")
    # whole as it looks, it was there before
    assert small(cache) == ["True", "42", "1", "True"]
    assert small(cache) == ["True", "42", "0", "True"]


@posix
def test_a_full_disk_while_code_is_kept_costs_nothing_but_the_time(
    tmp_path: Path, cache: dict[str, str]
):
    """No file may be longer than 1000 bytes, which ends a write like a full disk does."""
    full = (
        "import resource, signal\n"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (1_000, 1_000))\n"
    )
    shown = python(full + SMALL, **cache)
    assert (shown.stdout.split(), shown.stderr) == (["False", "42", "1", "False"], "")
    assert not kept_files(tmp_path)


@slow
def test_what_a_killed_run_had_begun_to_keep_is_cleared_away(
    tmp_path: Path, cache: dict[str, str], kept: Path
):
    kept.unlink()
    (kept.parent / "tmpx.partial").write_bytes(b"half")
    small(cache)
    assert kept_files(tmp_path / "cache") == [kept]


def test_a_program_that_imports_the_engine_keeps_its_settings_of_the_compiler():
    script = """
import numba
before = {name: getattr(numba.config, name) for name in dir(numba.config) if name.isupper()}
from surge_sim.engine.compiled.play import play_through
after = {name: getattr(numba.config, name) for name in dir(numba.config) if name.isupper()}
print([name for name in before if before[name] != after[name]])
"""
    assert python(script).stdout == "[]\n"


def test_a_change_of_any_source_asks_for_a_new_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    """The digest is of the sources, so code of an older program is never run."""
    package = tmp_path / "surge_sim"
    for source in (ROOT / "surge_sim").rglob("*.py"):
        target = package / source.relative_to(ROOT / "surge_sim")
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(source.read_bytes())
    monkeypatch.setattr(
        code_cache, "__file__", str(package / "engine" / "compiled" / "code_cache.py")
    )
    before = code_cache.digest()
    with open(package / "equipment" / "filters.py", "a", encoding="utf-8") as rules:
        rules.write("\n# another rule\n")
    assert code_cache.digest() != before


@pytest.mark.parametrize(("was_kept", "said"), [(False, True), (True, False)])
def test_compiling_is_announced_and_only_when_it_happens(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], was_kept: bool, said: bool
):
    monkeypatch.setattr(code_cache, "is_cached", lambda: was_kept)
    surges.compile_engine()
    shown = capsys.readouterr()
    assert shown.out == ""
    assert ("Compiling the engine for this machine, once" in shown.err) is said


def test_the_second_start_compiles_nothing():
    """Compiled here, if it was not yet; then in another process it is only read."""
    surges.compile_engine()
    if not code_cache.is_cached():
        pytest.skip("nothing can be written on this machine")
    shown = python(PLAY)
    made, _, needs = shown.stdout.split()
    assert (made, shown.stderr) == ("0", "")
    assert int(needs) > 0


@slow
def test_from_an_empty_cache_the_first_start_compiles_and_the_second_does_not(tmp_path: Path):
    answers = []
    for first in (True, False):
        shown = python(PLAY, NUMBA_CACHE_DIR=str(tmp_path))
        made, *waits = shown.stdout.split()
        answers.append(waits)
        assert ("Compiling the engine" in shown.stderr) is first
        assert (made != "0") is first
    assert answers[0] == answers[1]
