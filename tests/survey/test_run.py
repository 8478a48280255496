"""Rows that are there are kept, whatever ends a survey."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import partial
from pathlib import Path

import pytest

from relearn.survey import run as runner
from relearn.survey import table
from relearn.survey.columns import Row
from relearn.survey.find import Found, captures_below
from relearn.survey.questions import Asked, asked
from relearn.survey.run import survey
from tests.survey.demo import folder_of, here, settle, sheet

NAMES = ("demo-after.log", "stall.log")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return folder_of(tmp_path / "captures", *NAMES)


def surveyed(folder: Path, out: Path | None, ask: Asked | None = None) -> tuple[list[str], tuple[Row, ...]]:
    """The files that were judged, and all rows."""
    judged: list[str] = []

    def step(row: Row, was_there: bool) -> None:
        judged.extend([] if was_there else [str(row["file"])])

    ask = ask or settle()
    return judged, survey(captures_below([folder]).captures, ask, partial(here, ask=ask), out, step)


def test_every_capture_is_a_row_in_order(folder: Path) -> None:
    _, rows = surveyed(folder, None)
    assert [(row["file"], row["verdict"]) for row in rows] == [
        ("bad.log", "unreadable"),
        ("demo-after.log", "yes"),
        ("stall.log", "no"),
    ]


@pytest.mark.parametrize("suffix", [".csv", ".parquet"])
def test_nothing_is_judged_twice(folder: Path, suffix: str) -> None:
    out = folder.parent / f"rows{suffix}"
    first, rows = surveyed(folder, out)
    again, same = surveyed(folder, out)
    assert len(first) == 3 and again == [] and same == rows
    assert table.read(out, settle()) == rows


def test_another_content_is_judged_again_and_another_name_is_not(folder: Path) -> None:
    out = folder.parent / "rows.csv"
    surveyed(folder, out)
    (folder / "stall.log").rename(folder / "renamed.log")
    (folder / "bad.log").write_text("other\n", encoding="ascii")
    again, rows = surveyed(folder, out)
    assert again == ["bad.log"]
    assert [row["file"] for row in rows] == ["bad.log", "demo-after.log", "renamed.log"]
    assert table.read(out, settle()) == rows


def test_another_sheet_or_version_judges_all_again(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    out = folder.parent / "rows.csv"
    surveyed(folder, out)
    assert len(surveyed(folder, out, asked("settle", None, sheet("generic")))[0]) == 3
    monkeypatch.setattr(runner, "__version__", "9.9")
    assert len(surveyed(folder, out, asked("settle", None, sheet("generic")))[0]) == 3


def test_rows_of_other_folders_stay(folder: Path) -> None:
    out = folder.parent / "rows.csv"
    surveyed(folder, out)
    other = folder_of(folder.parent / "other", "hunting.log")
    _, rows = surveyed(other, out)
    assert [row["file"] for row in rows] == ["bad.log", "hunting.log"]
    kept = [(row["folder"], row["file"]) for row in table.read(out, settle())]
    assert len(kept) == 5 and (str(folder), "stall.log") in kept


def test_what_was_done_is_kept_whatever_ends_it(folder: Path) -> None:
    out = folder.parent / "rows.csv"
    surveyed(folder, out)
    before = {str(row["file"]): row for row in table.read(out, settle())}
    ask = asked("settle", None, sheet("generic"))

    def interrupted(captures: Iterable[Found]) -> Iterator[tuple[Found, Row]]:
        yield next(here(list(captures), ask))
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        survey(captures_below([folder]).captures, ask, interrupted, out, lambda row, was_there: None)
    after = {str(row["file"]): row for row in table.read(out, settle())}
    assert after["bad.log"]["sheet_sha256"] == ask.sheet_sha256
    assert {name: after[name] for name in NAMES} == {name: before[name] for name in NAMES}


def test_rows_are_kept_as_they_come(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(runner, "SAVE_S", 0.0)
    out, lengths = folder.parent / "rows.csv", []
    ask = settle()

    def watched(captures: Iterable[Found]) -> Iterator[tuple[Found, Row]]:
        for pair in here(list(captures), ask):
            yield pair
            lengths.append(len(table.read(out, ask)))

    survey(captures_below([folder]).captures, ask, watched, out, lambda row, was_there: None)
    assert lengths == [1, 2, 3]
