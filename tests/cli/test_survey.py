"""`relearn survey` as its user meets it. The demo captures' verdicts are those of captures/expected.toml."""

from __future__ import annotations

import csv
import json
import shutil
import tomllib
from pathlib import Path
from xml.etree import ElementTree

import pytest

from relearn.cli.survey import ASKED
from relearn.findings.base import to_json
from relearn.findings.reading import from_json
from relearn.survey.questions import QUESTIONS
from tests.cli.run import CAPTURES, relearn
from tests.survey.demo import folder_of

NAMES = ("demo-after.log", "hunting.log", "stall.log", "open-coolant-circuit.log")


def expected() -> dict[str, str]:
    """What `settle --sheet demo-car` must say of each of these."""
    rows = tomllib.loads((CAPTURES / "expected.toml").read_text(encoding="utf-8"))["expected"]
    return {
        row["files"][0]: row["verdict"]
        for row in rows
        if (row["command"], row["options"]) == ("settle", ["--sheet", "demo-car"]) and row["files"][0] in NAMES
    }


def test_a_folder_from_beginning_to_end(tmp_path: Path) -> None:
    folder, out, drawn = folder_of(tmp_path / "captures", *NAMES), tmp_path / "rows.csv", tmp_path / "all.svg"
    words = ("survey", folder, "--for", "settle", "--sheet", "demo-car", "--out", out, "--workers", 1)
    first = relearn(*words, "--picture", drawn)
    assert (first.code, first.err) == (0, "")
    assert max(map(len, first.out.splitlines())) <= 80
    with out.open(encoding="utf-8", newline="") as file:
        verdicts = {row["file"]: row["verdict"] for row in csv.DictReader(file)}
    assert len(expected()) >= 3 and expected().items() <= verdicts.items()
    assert verdicts["bad.log"] == "unreadable"
    assert ElementTree.parse(drawn).getroot().tag.endswith("svg")
    again = relearn(*words, "--json")
    document = json.loads(again.out)
    assert (document["captures"], document["kept"], document["unreadable"][0]["file"]) == (5, 4, "bad.log")
    assert {one["verdict"]: one["count"] for one in document["verdicts"]}["no"] == list(verdicts.values()).count("no")
    assert to_json(from_json(again.out)) == again.out


def test_the_questions_are_those_that_can_be_asked() -> None:
    assert set(ASKED) == set(QUESTIONS)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), "ready is asked of a relearn"),
        (("--relearn", "oil-change"), "oil-change"),
        (("--relearn", "idle-air-volume", "--out", "rows.xlsx"), ".parquet"),
        (("--relearn", "idle-air-volume", "--picture", "all.pdf"), ".svg"),
        (("--relearn", "idle-air-volume", "--sheet", "nowhere.toml"), "nowhere.toml"),
        (("--relearn", "idle-air-volume", "--workers", 2, "--scheduler", "tcp://x:1"), "exclude"),
        (("--relearn", "idle-air-volume"), "no capture was found"),
    ],
)
def test_bad_usage_is_one_sentence(
    words: tuple[object, ...], said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    ran = relearn("survey", tmp_path, "--for", "ready", *words)
    assert (ran.code, ran.out, ran.err.count("\n")) == (2, "", 1)
    assert said in ran.err
    assert list(tmp_path.iterdir()) == []


def test_nothing_of_somebody_else_is_written_over(tmp_path: Path) -> None:
    folder, mine = folder_of(tmp_path / "captures"), tmp_path / "mine.csv"
    mine.write_text("a,b\n1,2\n", encoding="ascii")
    for option in ("--out", "--picture"):
        ran = relearn("survey", folder, "--for", "settle", option, mine)
        assert (ran.code, ran.out) == (2, "")
    assert mine.read_text(encoding="ascii") == "a,b\n1,2\n"


def test_broadcast_captures_are_judged_with_a_database(tmp_path: Path) -> None:
    folder, examples = tmp_path / "captures", CAPTURES.parent / "dbc_examples"
    folder.mkdir()
    shutil.copyfile(CAPTURES / "passive-broadcast.log", folder / "a.log")
    options = ("--dbc", examples / "broadcast.dbc", "--map", examples / "broadcast-map.toml", "--workers", 1)
    ran = relearn("survey", folder, "--for", "settle", "--sheet", "demo-car", *options, "--json")
    assert json.loads(ran.out)["verdicts"][0] == {"verdict": "yes", "count": 1, "share": 1.0}


def test_tables_beside_broadcast_captures_are_judged_without_the_database(tmp_path: Path) -> None:
    folder, examples = tmp_path / "captures", CAPTURES.parent / "dbc_examples"
    folder.mkdir()
    for name in ("passive-broadcast.log", "sagging-supply.csv"):
        shutil.copyfile(CAPTURES / name, folder / name)
    options = ("--dbc", examples / "broadcast.dbc", "--workers", 1, "--json")
    document = json.loads(relearn("survey", folder, "--for", "supply", *options).out)
    assert document["unreadable"] == []
    assert [one["count"] for one in document["verdicts"] if one["verdict"] == "no"] == [2]
