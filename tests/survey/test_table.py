"""Rows to a file and back, unchanged."""

from __future__ import annotations

import csv
import os
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from relearn.errors import ChoiceError
from relearn.survey import table
from relearn.survey.columns import Row, columns, empty
from relearn.survey.questions import Asked, asked
from tests.survey.demo import CAPTURES, settle, sheet

DBC = CAPTURES.parent / "dbc_examples" / "broadcast.dbc"

TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
CELLS = {
    one.name: st.none() | st.floats(allow_nan=False, allow_infinity=False) if one.number else TEXT
    for one in columns("settle")
}
MARKS = settle().marks
ROWS = st.lists(st.fixed_dictionaries({**CELLS, **{name: st.just(mark) for name, mark in MARKS.items()}}), max_size=4)


@pytest.mark.parametrize("suffix", [".csv", ".parquet"])
@settings(max_examples=20, deadline=None)
@given(rows=ROWS)
def test_rows_come_back_as_they_were(rows: list[Row], suffix: str, tmp_path_factory: pytest.TempPathFactory) -> None:
    path = tmp_path_factory.mktemp("table") / f"rows{suffix}"
    table.write(path, rows, "settle")
    assert list(table.read(path, settle())) == rows
    assert [one.name for one in path.parent.iterdir()] == [path.name]


def test_words_that_look_like_something_else_stay_words(tmp_path: Path) -> None:
    row: Row = {**{one.name: None if one.number else "NA" for one in columns("settle")}, **MARKS}
    path = tmp_path / "rows.csv"
    table.write(path, [{**row, "module": "7E8", "sha256": "0012"}], "settle")
    (back,) = table.read(path, settle())
    assert (back["file"], back["module"], back["sha256"], back["mean_rpm"]) == ("NA", "7E8", "0012", None)


@pytest.mark.parametrize("content", [b"", b"a,b\n1,2\n", b"\x00\xff\xfe" * 50, b"PAR1" + bytes(60)])
@pytest.mark.parametrize("suffix", [".csv", ".parquet"])
def test_a_file_of_somebody_else_is_left_alone(content: bytes, suffix: str, tmp_path: Path) -> None:
    path = tmp_path / f"mine{suffix}"
    path.write_bytes(content)
    with pytest.raises(ChoiceError, match="mine"):
        table.read(path, settle())
    assert path.read_bytes() == content


def test_no_text_of_a_car_runs_in_a_spreadsheet_and_numbers_stay_numbers(tmp_path: Path) -> None:
    """The characters that OWASP names (CSV injection)."""
    path = tmp_path / "rows.csv"
    texts = ["=1+1", "+1", "-1", "@A1", "\t=1", "\r=1", "'=1", "plain"]
    rows = [{**empty("settle"), **MARKS, "file": text, "drift_rpm_per_min": -1.5} for text in texts]
    table.write(path, rows, "settle")
    with path.open(encoding="utf-8", newline="") as file:
        written = list(csv.DictReader(file))
    assert [one["file"] for one in written] == [f"'{text}" for text in texts[:-1]] + ["plain"]
    assert {one["drift_rpm_per_min"] for one in written} == {"-1.5"}
    assert [row["file"] for row in table.read(path, settle())] == texts


@pytest.mark.parametrize(
    ("other", "said"),
    [
        (asked("ready", "throttle-closed-position", sheet()), "another relearn"),
        (asked("ready", "idle-air-volume", sheet("generic")), "another sheet"),
        (asked("ready", "idle-air-volume", sheet(), DBC, DBC.with_name("broadcast-map.toml")), "--map"),
        (asked("ready", "idle-air-volume", sheet()), "--dbc"),
        (asked("ready", "idle-air-volume", sheet(), DBC, module="7E9"), "--module"),
        (settle(), "no table of a survey for settle"),
    ],
    ids=["relearn", "sheet", "map", "dbc", "module", "question"],
)
def test_a_survey_in_which_something_else_was_asked_is_not_written_over(
    other: Asked, said: str, tmp_path: Path
) -> None:
    path = tmp_path / "rows.csv"
    table.write(path, [{**empty("ready"), **asked("ready", "idle-air-volume", sheet(), DBC).marks}], "ready")
    with pytest.raises(ChoiceError, match=said):
        table.read(path, other)


@pytest.mark.parametrize("name", ["rows.xlsx", "rows", "no/rows.csv"])
def test_where_no_table_can_be_written(name: str, tmp_path: Path) -> None:
    with pytest.raises(ChoiceError):
        table.check(tmp_path / name)


def test_a_table_that_can_be_written_leaves_nothing_behind_yet(tmp_path: Path) -> None:
    table.check(tmp_path / "rows.csv")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write anywhere")
def test_a_place_that_cannot_be_written_is_found_before(tmp_path: Path) -> None:
    (tmp_path / "kept.csv").touch(mode=0o444)
    (tmp_path / "closed").mkdir(mode=0o555)
    for path in (tmp_path / "kept.csv", tmp_path / "closed" / "rows.csv"):
        with pytest.raises(ChoiceError, match="cannot be written"):
            table.check(path)


def test_a_name_that_no_disk_takes_is_found_before(tmp_path: Path) -> None:
    """Names of more than 255 bytes are refused by every usual file system; this one is, with .part behind it."""
    with pytest.raises(ChoiceError, match="cannot be written"):
        table.check(tmp_path / f"{'x' * 248}.csv")


def test_a_blank_line_that_an_editor_left_costs_nothing(tmp_path: Path) -> None:
    path = tmp_path / "rows.csv"
    table.write(path, [{**empty("settle"), **MARKS, "file": "a.log"}], "settle")
    rows = table.read(path, settle())
    path.write_bytes(path.read_bytes() + b"\r\n\n")
    assert table.read(path, settle()) == rows


@pytest.mark.parametrize("damage", [lambda text: text[:-6], lambda text: text.rstrip() + b",1\r\n"])
def test_a_damaged_line_is_no_table(damage: Callable[[bytes], bytes], tmp_path: Path) -> None:
    path = tmp_path / "rows.csv"
    table.write(path, [{**empty("settle"), **MARKS, "file": "a.log"}], "settle")
    path.write_bytes(damage(path.read_bytes()))
    with pytest.raises(ChoiceError, match="is no table of a survey"):
        table.read(path, settle())


def test_two_surveys_never_write_one_file(tmp_path: Path) -> None:
    path = tmp_path / "rows.csv"
    with table.alone(path), pytest.raises(ChoiceError, match="another survey is writing this file"), table.alone(path):
        raise AssertionError("both at once")
    with table.alone(path):
        pass
    assert not list(tmp_path.iterdir())


def test_the_file_that_a_link_leads_to_is_written_and_the_link_stays(tmp_path: Path) -> None:
    (tmp_path / "there").mkdir()
    path, real = tmp_path / "rows.csv", tmp_path / "there" / "real.csv"
    try:
        path.symlink_to(real)
    except OSError:
        pytest.skip("this system lets nobody make links")
    for name in ("a.log", "b.log"):  # first the link leads nowhere yet
        table.check(path)
        with table.alone(path), pytest.raises(ChoiceError, match="another survey"), table.alone(real):
            raise AssertionError("both at once")
        table.write(path, [{**empty("settle"), **MARKS, "file": name}], "settle")
        assert path.is_symlink() and [row["file"] for row in table.read(real, settle())] == [name]
    assert [one.name for one in real.parent.iterdir()] == ["real.csv"]


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with names there")
def test_a_pipe_or_device_is_refused_and_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.csv")
    (tmp_path / "device.csv").symlink_to(os.devnull)
    for name in ("pipe.csv", "device.csv"):
        with pytest.raises(ChoiceError, match="is a pipe or a device, and no file; name another with --out"):
            table.check(tmp_path / name)
