"""Rows to a file and back, unchanged."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from relearn.errors import ChoiceError
from relearn.survey import table
from relearn.survey.columns import Row, columns
from relearn.survey.questions import asked
from tests.survey.demo import settle, sheet

TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
CELLS = {
    one.name: st.none() | st.floats(allow_nan=False, allow_infinity=False) if one.number else TEXT
    for one in columns("settle")
}
ROWS = st.lists(st.fixed_dictionaries({**CELLS, "question": st.just("settle"), "relearn": st.just("")}), max_size=4)


@pytest.mark.parametrize("suffix", [".csv", ".parquet"])
@settings(max_examples=20, deadline=None)
@given(rows=ROWS)
def test_rows_come_back_as_they_were(rows: list[Row], suffix: str, tmp_path_factory: pytest.TempPathFactory) -> None:
    path = tmp_path_factory.mktemp("table") / f"rows{suffix}"
    table.write(path, rows, "settle")
    assert list(table.read(path, settle())) == rows
    assert [one.name for one in path.parent.iterdir()] == [path.name]


def test_words_that_look_like_something_else_stay_words(tmp_path: Path) -> None:
    row: Row = {**{one.name: None if one.number else "NA" for one in columns("settle")}, "question": "settle"}
    path = tmp_path / "rows.csv"
    table.write(path, [{**row, "relearn": "", "module": "7E8", "sha256": "0012"}], "settle")
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


def test_a_survey_of_another_relearn_or_question_is_not_written_over(tmp_path: Path) -> None:
    path = tmp_path / "rows.csv"
    row = {**{one.name: None if one.number else "" for one in columns("ready")}, "question": "ready"}
    table.write(path, [{**row, "relearn": "idle-air-volume"}], "ready")
    with pytest.raises(ChoiceError, match="another relearn"):
        table.read(path, asked("ready", "throttle-closed-position", sheet()))
    with pytest.raises(ChoiceError, match="no table of a survey for settle"):
        table.read(path, settle())


@pytest.mark.parametrize("name", ["rows.xlsx", "rows", "no/rows.csv"])
def test_where_no_table_can_be_written(name: str, tmp_path: Path) -> None:
    with pytest.raises(ChoiceError):
        table.check(tmp_path / name)
