"""Rows that are there are kept, whatever ends a survey."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from functools import partial
from pathlib import Path

import pytest

from relearn.errors import ChoiceError
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
def test_nothing_is_judged_twice_but_what_could_not_be_read(folder: Path, suffix: str) -> None:
    out = folder.parent / f"rows{suffix}"
    first, rows = surveyed(folder, out)
    again, same = surveyed(folder, out)
    assert len(first) == 3 and again == ["bad.log"]
    assert [{**row, "judged_in_s": 0} for row in same] == [{**row, "judged_in_s": 0} for row in rows]
    assert table.read(out, settle()) == same


def test_another_content_is_judged_again_and_another_name_is_not(folder: Path) -> None:
    out = folder.parent / "rows.csv"
    surveyed(folder, out)
    (folder / "stall.log").rename(folder / "renamed.log")
    (folder / "demo-after.log").write_text("other\n", encoding="ascii")
    again, rows = surveyed(folder, out)
    assert again == ["bad.log", "demo-after.log"]
    assert [row["file"] for row in rows] == ["bad.log", "demo-after.log", "renamed.log"]
    assert table.read(out, settle()) == rows


def test_another_version_judges_all_again(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    out = folder.parent / "rows.csv"
    surveyed(folder, out)
    monkeypatch.setattr(runner, "__version__", "9.9")
    assert len(surveyed(folder, out)[0]) == 3


def test_rows_of_another_sheet_are_not_written_over(folder: Path) -> None:
    out = folder.parent / "rows.csv"
    surveyed(folder, out)
    before = out.read_bytes()
    with pytest.raises(ChoiceError, match=r"another sheet.*name another file with --out"):
        surveyed(folder, out, asked("settle", None, sheet("generic")))
    assert out.read_bytes() == before


def test_a_folder_by_another_name_is_the_same_folder(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    out = folder.parent / "rows.csv"
    surveyed(folder, out)
    monkeypatch.chdir(folder.parent)
    (folder / "stall.log").unlink()
    again, rows = surveyed(Path("./captures/../captures"), out)
    assert again == ["bad.log"] and len(rows) == 2
    assert table.read(out, settle()) == rows


def test_a_folder_of_the_same_name_elsewhere_is_another(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    out = folder.parent / "rows.csv"
    (folder.parent / "elsewhere").mkdir()
    folder_of(folder.parent / "elsewhere" / "captures", "hunting.log")
    for place in (folder.parent, folder.parent / "elsewhere"):
        monkeypatch.chdir(place)
        surveyed(Path("captures"), out)
    assert len(table.read(out, settle())) == 5


def test_rows_move_with_their_folder(folder: Path) -> None:
    out = folder.parent / "rows.csv"
    surveyed(folder, out)
    moved = folder.rename(folder.parent / "moved")
    again, _ = surveyed(moved, out)
    assert again == ["bad.log"]
    assert {row["folder"] for row in table.read(out, settle())} == {str(moved)}


def test_rows_of_other_folders_stay(folder: Path) -> None:
    out = folder.parent / "rows.csv"
    surveyed(folder, out)
    other = folder_of(folder.parent / "other", "hunting.log")
    _, rows = surveyed(other, out)
    assert [row["file"] for row in rows] == ["bad.log", "hunting.log"]
    kept = [(row["folder"], row["file"]) for row in table.read(out, settle())]
    assert len(kept) == 5 and (str(folder), "stall.log") in kept


def test_what_was_done_is_kept_whatever_ends_it(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    out = folder.parent / "rows.csv"
    surveyed(folder, out)
    before = {str(row["file"]): row for row in table.read(out, settle())}
    monkeypatch.setattr(runner, "__version__", "9.9")

    def interrupted(captures: Iterable[Found], *, meanwhile: Callable[[], None]) -> Iterator[tuple[Found, Row]]:
        for found, row in here(list(captures)[:1], settle()):
            yield found, {**row, "version": "9.9"}
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        survey(captures_below([folder]).captures, settle(), interrupted, out, lambda row, was_there: None)
    after = {str(row["file"]): row for row in table.read(out, settle())}
    assert after["bad.log"]["version"] == "9.9"
    assert {name: after[name] for name in NAMES} == {name: before[name] for name in NAMES}


def test_rows_are_kept_as_they_come_and_while_a_slow_one_is_waited_for(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out, seen = folder.parent / "rows.csv", []

    def watched(captures: Iterable[Found], *, meanwhile: Callable[[], None]) -> Iterator[tuple[Found, Row]]:
        first, second, third = here(captures, settle())
        yield first
        yield second
        seen.append(out.exists())
        monkeypatch.setattr(runner, "SAVE_S", 0.0)
        meanwhile()
        seen.append(len(table.read(out, settle())))
        yield third
        seen.append(len(table.read(out, settle())))

    survey(captures_below([folder]).captures, settle(), watched, out, lambda row, was_there: None)
    assert seen == [False, 2, 3]


def test_an_interruption_of_the_saving_itself_loses_nothing(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    out, write, times = folder.parent / "rows.csv", table.write, []

    def interrupted(path: Path, rows: Iterable[Row], question: str) -> None:
        times.append(path)
        if len(times) == 1:
            raise KeyboardInterrupt
        write(path, rows, question)

    monkeypatch.setattr(table, "write", interrupted)
    with pytest.raises(KeyboardInterrupt):
        surveyed(folder, out)
    assert len(table.read(out, settle())) == 3
