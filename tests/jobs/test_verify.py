"""Whatever is done to a job folder is found and named: to any line through the folder, to any file, and to the head."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from relearn.errors import JobError
from relearn.jobs import record
from relearn.jobs.folder import opened, read_raw
from relearn.jobs.record import Head
from relearn.jobs.verify import verify
from tests.cli.run import relearn
from tests.jobs.build import small_job

LINES, FILES = 6, ("job.toml", "captures/before.log", "captures/ready-throttle-closed-position.log",
                   "captures/ready-throttle-closed-position-2.log", "captures/after.log")  # fmt: skip


@pytest.fixture(scope="module")
def untouched(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return small_job(tmp_path_factory.mktemp("verify") / "job")


@pytest.fixture
def folder(untouched: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(untouched, tmp_path / "job"))


def named(folder: Path) -> set[str]:
    return {one.where for one in verify(folder).problems}


def test_an_untouched_folder_is_a_yes(folder: Path) -> None:
    found = verify(folder)
    assert (found.verdict, found.problems, found.notes) == ("yes", (), ())
    assert (found.lines, found.files) == (LINES, len(FILES))


@given(st.data())
@settings(max_examples=60, deadline=None)
def test_any_byte_changed_in_the_record_names_its_line(untouched: Path, data: st.DataObject) -> None:
    path = untouched / record.FILE
    whole = path.read_bytes()
    at = data.draw(st.integers(0, len(whole) - 1))
    byte = data.draw(st.integers(0, 255).filter(lambda value: value != whole[at]))
    path.write_bytes(whole[:at] + bytes([byte]) + whole[at + 1 :])
    try:
        found = verify(untouched)
        assert found.verdict == "no"
        assert f"line {whole[:at].count(10) + 1}" in named(untouched)
        with pytest.raises(JobError, match="was changed"), opened(untouched):
            pytest.fail("a changed record was added to")
    finally:
        path.write_bytes(whole)


@given(st.data())
@settings(max_examples=25, deadline=None)
def test_any_byte_changed_in_any_file_names_it(untouched: Path, data: st.DataObject) -> None:
    name = data.draw(st.sampled_from(FILES))
    whole = (untouched / name).read_bytes()
    at = data.draw(st.integers(0, len(whole) - 1))
    try:
        (untouched / name).write_bytes(whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :])
        assert named(untouched) == {name}
    finally:
        (untouched / name).write_bytes(whole)


@pytest.mark.parametrize("name", FILES)
def test_a_removed_file_is_named(folder: Path, name: str) -> None:
    (folder / name).unlink()
    assert named(folder) == {name}


@pytest.mark.parametrize("name", FILES[1:])
def test_a_renamed_capture_is_named_by_both_its_names(folder: Path, name: str) -> None:
    (folder / name).rename(folder / "captures/other.log")
    assert named(folder) == {name, "captures/other.log"}


def test_exchanged_captures_are_told_from_changed_ones(folder: Path) -> None:
    first, second = folder / FILES[2], folder / FILES[3]
    one, other = first.read_bytes(), second.read_bytes()
    first.write_bytes(other)
    second.write_bytes(one)
    assert {(one.where, one.text) for one in verify(folder).problems} == {
        (FILES[2], f"holds what {FILES[3]} held"),
        (FILES[3], f"holds what {FILES[2]} held"),
    }


@pytest.mark.parametrize("place", range(LINES))
def test_a_removed_line_is_named_even_if_its_capture_goes_too(folder: Path, place: int) -> None:
    lines = (folder / record.FILE).read_bytes().splitlines(keepends=True)
    (folder / record.FILE).write_bytes(b"".join(lines[:place] + lines[place + 1 :]))
    gone = record.parse(lines[place].rstrip())
    assert gone is not None
    for name in gone.files:
        (folder / name).unlink()
    assert f"line {place + 1}" in named(folder)


def test_the_last_line_with_its_capture_and_the_head_is_known_to_the_book(folder: Path) -> None:
    """All of it made to fit: only the job book, which saw it go further, can tell."""
    raw = read_raw(folder / record.FILE)
    (folder / record.FILE).write_bytes(b"".join(line + b"\n" for line in raw.lines[:-1]))
    (folder / "captures/after.log").unlink()
    (folder / record.HEAD).write_bytes(record.head_of(raw.lines[:-1]).model_dump_json().encode())
    assert verify(folder).verdict == "yes"
    found = verify(folder, record.head_of(raw.lines))
    assert [one.text for one in found.problems] == ["is shorter than the job book knows it: 6 lines, now 5"]


def test_a_record_written_anew_is_known_to_the_book(folder: Path) -> None:
    found = verify(folder, Head(lines=3, last="0" * 64))
    assert [one.text for one in found.problems] == ["is not the one the job book knows: its line 3 was another"]


@pytest.mark.parametrize("name", [record.FILE, record.HEAD])
def test_a_missing_record_or_head_is_named(folder: Path, name: str) -> None:
    (folder / name).unlink()
    assert name in named(folder)
    with pytest.raises(JobError), opened(folder):
        pytest.fail("a record without its other half was added to")
    assert not list(folder.glob("*.torn-*"))


def test_an_edited_job_file_is_named_until_a_command_writes_it_down(folder: Path) -> None:
    with (folder / "job.toml").open("a") as file:
        file.write("# a remark\n")
    assert "was changed after line 1" in verify(folder).problems[0].text
    ran = relearn("job", "confirm", "throttle-closed-position", "--by", "D", "--folder", folder, "--book", folder / "b")
    assert ran.code == 0, ran.err
    assert named(folder) == set()
    status = relearn("job", "status", "--folder", folder, "--book", folder / "b")
    assert "job.toml was edited by hand, written down on" in status.out


def test_what_a_system_leaves_in_a_folder_is_no_change(folder: Path) -> None:
    for name in (".DS_Store", "Thumbs.db", "desktop.ini"):
        (folder / "captures" / name).write_bytes(b"x")
    (folder / "report.html").write_bytes(b"x")
    assert named(folder) == set()


def test_nothing_is_changed_by_looking(folder: Path) -> None:
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    verify(folder)
    assert {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()} == before


def test_a_folder_without_a_job_is_no_verdict(tmp_path: Path) -> None:
    ran = relearn("job", "verify", "--folder", tmp_path, "--book", tmp_path / "book")
    assert (ran.code, ran.out) == (2, "")
    assert "there is no job in this folder" in ran.err
