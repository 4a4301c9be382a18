"""``surge-sim run`` as a person would use it."""

import csv
import json

import pytest

from tests.engine.tiny import PLAIN

SMALL = ("--surges", "2", "--engine", "reference", "--processes", "1")
#: tears that matter to nobody, since there are hoods without end: plays are not all the same
TORN = {"failures": {"hood_damage": "10 %"}}


@pytest.fixture
def two_entries(tmp_path):
    """A log of two entries and one kit: the second, due at minute 5, waits until 10."""
    (tmp_path / "log.csv").write_text("requested,room_minutes,role\n0,10,nurse\n5,10,nurse\n")
    path = tmp_path / "two.yaml"
    path.write_text(json.dumps({**PLAIN, **TORN, "entries": {"from": "log.csv"}}))
    return path


def test_one_run_gives_json_a_folder_and_every_request(program, two_entries, tmp_path):
    """Waits 0 and 5 minutes, for the only blower: it comes back at minute 10."""
    asked = ("--json", "--out", "mine", "--entries-out", "requests.csv", *SMALL)
    done = program("run", two_entries, *asked)
    assert done.returncode == 0, done.stderr
    answer = json.loads(done.stdout)
    assert answer["wait_minutes"]["mean"]["estimate"] == 2.5
    assert answer["wait_minutes"]["max"]["estimate"] == 5.0
    assert answer["service_level"] == {"estimate": 1.0, "low": None, "high": None}
    assert answer["entries_per_surge"] == 2

    mine = tmp_path / "mine"
    assert {path.name for path in mine.iterdir()} == {
        "answer.txt", "columns.txt", "figures", "manifest.json", "scenario", "summary.json",
        "tables",
    }  # fmt: skip
    assert json.loads((mine / "summary.json").read_text()) == answer
    manifest = json.loads((mine / "manifest.json").read_text())
    assert manifest["command"][:2] == ["surge-sim", "run"]
    assert manifest["surges"] == 2

    with (tmp_path / "requests.csv").open(newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert [(row["surge"], row["requested_min"], row["wait_min"]) for row in rows] == [
        ("0", "0.0", "0.0"), ("0", "5.0", "5.0"), ("1", "0.0", "0.0"), ("1", "5.0", "5.0"),
    ]  # fmt: skip
    assert {row["role"] for row in rows} == {"nurse"}

    # the copy in the folder gives the same answer, now as text, in a folder with a name of its own
    again = program("run", "mine/scenario/two.yaml", "--full", *SMALL)
    assert again.stdout == (mine / "answer.txt").read_text()
    (place,) = (tmp_path / "results").iterdir()
    assert place.name.startswith("two_")
    assert (place / "summary.json").read_text() == (mine / "summary.json").read_text()


@pytest.mark.usefixtures("undrawn")
def test_options_replace_the_stock_of_the_scenario(program, two_entries):
    options = ("--kits", "2", "--batteries", "3", "--bays", "0")
    answer = json.loads(program("run", two_entries, "--json", *options, *SMALL).stdout)
    assert answer["stock"] == {"kits": 2, "batteries": 3, "spare_batteries": 1, "bays": 0}
    assert answer["wait_minutes"]["max"]["estimate"] == 0.0


@pytest.mark.usefixtures("undrawn")
def test_the_answer_names_the_timeline_of_the_file(program, two_entries):
    """The only kit is away from minute 2 to 62: the second entry waits 57 minutes, not 5."""
    event = {"what": "kits recalled", "kits": "1", "at": "2 min", "lasts": "1 h"}
    two_entries.write_text(json.dumps(json.loads(two_entries.read_text()) | {"timeline": [event]}))
    done = program("run", two_entries, *SMALL)
    said = "Timeline kits recalled (1 kit) from day 1 (Mon 2031-01-06 00:02), for 1 h"
    assert said in " ".join(done.stdout.split())
    assert "longest 57 min" in done.stdout


@pytest.mark.usefixtures("undrawn")
def test_seed_and_number_of_surges_are_those_asked_for(program, two_entries):
    asked = ("--json", "--seed", "5", "--surges", "4", "--engine", "reference", "--processes", "1")
    answer = json.loads(program("run", two_entries, *asked).stdout)
    assert (answer["seed"], answer["surges"], answer["engine"]) == (5, 4, "reference")


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--kits", "-1"), "--kits"),
        (("--surges", "0"), "--surges"),
        (("--seed", "-1"), "--seed"),
        (("--engine", "fast"), "--engine"),
        (("--out", "two.yaml"), "is a file, not a folder"),
        (("--out", "two.yaml/new/place"), "is below two.yaml, which is a file, not a folder"),
        (("--out", "."), "is there and not empty"),
        (("--entries-out", "no_such_folder/a.csv"), "cannot be written"),
        (("--entries-out", "."), "is a folder"),
    ],
)
def test_what_cannot_be_done_is_said_before_the_work(
    program, two_entries, tmp_path, options, words
):
    before = sorted(path.name for path in tmp_path.iterdir())
    done = program("run", two_entries, *options)
    assert done.returncode == 2
    assert words in done.stderr
    assert "Traceback" not in done.stderr
    assert done.stdout == ""
    assert sorted(path.name for path in tmp_path.iterdir()) == before
