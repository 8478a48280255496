"""Which files a survey meets."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from relearn.errors import ChoiceError
from relearn.export import write
from relearn.recording import read
from relearn.survey.columns import columns
from relearn.survey.find import captures_below
from tests.survey.demo import CAPTURES


def put(folder: Path, *names: str) -> None:
    for name in names:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text("x", encoding="ascii")


def files(*folders: Path, besides: tuple[Path, ...] = ()) -> list[str]:
    return [one.file for one in captures_below(folders, besides).captures]


def test_by_suffix_sorted_and_below_folders(tmp_path: Path) -> None:
    put(tmp_path, "b.log", "a.LOG.gz", "c.png", "in/d.mf4", "in/e.csv", "in/f.gz", "README")
    assert files(tmp_path) == ["a.LOG.gz", "b.log", "in/d.mf4", "in/e.csv"]


def test_what_no_ending_names_is_counted(tmp_path: Path) -> None:
    """A log by another name must not be missed in silence."""
    put(tmp_path, "a.log", "b.candump", "in/c.CANDUMP", "in/README", "d.log.bak")
    told = "left out, since the name's ending is that of no format of captures: 1 .bak, 2 .candump, 1 without one"
    assert captures_below([tmp_path]).notes == (told,)
    put(tmp_path, "rows.parquet")
    assert captures_below([tmp_path], [tmp_path / "rows.parquet"]).notes == (told,)


def test_links_that_lead_back_are_harmless(tmp_path: Path) -> None:
    put(tmp_path, "in/a.log")
    try:
        (tmp_path / "in" / "back").symlink_to(tmp_path, target_is_directory=True)
        (tmp_path / "in" / "again.log").symlink_to(tmp_path / "in" / "a.log")
        (tmp_path / "self.log").symlink_to(tmp_path / "self.log")
    except OSError:
        pytest.skip("this system lets nobody make links")
    assert files(tmp_path) == ["self.log", "in/a.log"]


def test_a_folder_named_twice_is_surveyed_once(tmp_path: Path) -> None:
    put(tmp_path, "in/a.log", "b.log")
    assert files(tmp_path / "in", tmp_path, tmp_path) == ["a.log", "b.log"]


def test_the_table_itself_and_what_relearn_wrote_are_no_captures(tmp_path: Path) -> None:
    put(tmp_path, "a.log", "own.csv")
    header = [one.name for one in columns("ready")]
    for name, begin in (("other.csv", ",".join(header)), ("saved.csv", '";"'.join(header))):
        (tmp_path / name).write_text(f"{begin}\n", encoding="ascii")
    for suffix in ("csv", "mf4"):
        write(read(CAPTURES / "two-modules.log"), tmp_path / f"samples.{suffix}")
    listing = captures_below([tmp_path], [tmp_path / "own.csv"])
    assert [one.file for one in listing.captures] == ["a.log"]
    (note,) = listing.notes
    assert "written by relearn itself" in note and ": 4 files (the first: " in note and "other.csv" in note


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with names there")
def test_a_pipe_is_left_out_and_not_waited_for(tmp_path: Path) -> None:
    put(tmp_path, "a.log")
    os.mkfifo(tmp_path / "pipe.csv")
    listing = captures_below([tmp_path])
    assert [one.file for one in listing.captures] == ["a.log"]
    assert "pipe.csv" in listing.notes[0] and "no regular file" in listing.notes[0]


def test_a_file_is_known_by_its_real_name_however_its_folder_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    put(tmp_path, "captures/in/a.log")
    monkeypatch.chdir(tmp_path)
    folders = [Path("captures"), Path("./captures/../captures"), tmp_path / "captures"]
    try:
        (tmp_path / "link").symlink_to(tmp_path / "captures", target_is_directory=True)
        folders.append(Path("link"))
    except OSError:
        assert os.name == "nt"
    known = {(one.folder, one.file, one.real) for folder in folders for one in captures_below([folder]).captures}
    place = tmp_path.resolve() / "captures"
    assert known == {(str(place), "in/a.log", str(place / "in" / "a.log"))}


@pytest.mark.parametrize("name", ["nowhere", "a.log"])
def test_what_is_no_folder(name: str, tmp_path: Path) -> None:
    put(tmp_path, "a.log")
    with pytest.raises(ChoiceError, match=name):
        captures_below([tmp_path / name])


@pytest.mark.skipif(os.name == "nt" or not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may open anything")
def test_a_closed_folder_is_a_note(tmp_path: Path) -> None:
    put(tmp_path, "in/a.log", "b.log")
    (tmp_path / "in").chmod(0)
    listing = captures_below([tmp_path])
    (tmp_path / "in").chmod(0o700)
    assert [one.file for one in listing.captures] == ["b.log"]
    assert "nothing below it was judged" in listing.notes[0]
