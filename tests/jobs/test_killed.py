"""A process killed at every point at which it touches the disk, a write cut at any byte, several commands at once: the
record stays whole, nothing that was in it is lost, and the next command goes on."""

from __future__ import annotations

import multiprocessing
import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from relearn.errors import JobError
from relearn.jobs import record
from relearn.jobs.folder import PART, opened, read_raw
from relearn.jobs.verify import verify
from tests.jobs.build import PEDAL, added, confirmed, started

RELEARN = "throttle-closed-position"
CALLS = ("write", "fsync", "rename", "replace", "unlink", "truncate")
KILLED = 9
MOST_CALLS = 40

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="forks a process for each point")


def die_at(last: int, late: bool) -> None:
    """From now on, this process ends at its `last` call that touches the disk: before the call, or late: a write half
    done, another call done."""
    count = 0

    def dying(name: str, real: Callable[..., Any]) -> Callable[..., Any]:
        def call(*given: Any, **named: Any) -> Any:
            nonlocal count
            count += 1
            if count < last:
                return real(*given, **named)
            if late:
                real(*((given[0], given[1][: len(given[1]) // 2]) if name == "write" else given), **named)
            os._exit(KILLED)

        return call

    for name in CALLS:
        setattr(os, name, dying(name, getattr(os, name)))


def act(deed: Callable[[Path], object], folder: Path, last: int, late: bool) -> None:
    die_at(last, late)
    deed(folder)
    os._exit(0)  # it was done before the point came


def killed_folders(template: Path | None, deed: Callable[[Path], object], scratch: Path) -> Iterator[Path]:
    """A folder for each point at which a process doing the deed in it was killed."""
    for late in (False, True):
        for last in range(1, MOST_CALLS):
            folder = scratch / f"{last}-{late}"
            if template is not None:
                shutil.copytree(template, folder)
            child = multiprocessing.get_context("fork").Process(target=act, args=(deed, folder, last, late))
            child.start()
            child.join()
            if child.exitcode == 0:
                break
            assert child.exitcode == KILLED
            yield folder
        else:
            pytest.fail("the deed never ended")


def leftovers(folder: Path) -> list[str]:
    return [path.name for path in folder.rglob("*") if PART in path.name]


def goes_on(folder: Path, before: int) -> int:
    """The next command does its work and leaves nothing unfinished; how many lines the killed one had written."""
    assert verify(folder).verdict == "yes", verify(folder).reasons
    lines = len(confirmed(folder, RELEARN, anyway="only a test").opened.lines)
    found = verify(folder)
    assert (found.verdict, found.notes, leftovers(folder)) == ("yes", (), [])
    assert found.lines == lines
    return lines - before - 1


def test_killed_while_adding(tmp_path: Path) -> None:
    template, points = started(tmp_path / "template"), 0
    for folder in killed_folders(template, lambda one: added(one, PEDAL, "before"), tmp_path / "killed"):
        written = goes_on(folder, 1)
        assert (folder / "captures/before.log").exists() == bool(written)
        if not written:
            added(folder, PEDAL, "before")
        assert (folder / "captures/before.log").read_bytes() == PEDAL.read_bytes()
        points += 1
    assert points >= 20


def test_killed_while_confirming(tmp_path: Path) -> None:
    template, points = started(tmp_path / "template"), 0
    deed = lambda one: confirmed(one, RELEARN, anyway="only a test")  # noqa: E731
    for folder in killed_folders(template, deed, tmp_path / "killed"):
        assert goes_on(folder, 1) in (0, 1)
        points += 1
    assert points >= 12


def test_killed_while_starting(tmp_path: Path) -> None:
    points = 0
    for folder in killed_folders(None, started, tmp_path / "killed"):
        try:
            with opened(folder):
                pass
        except JobError:
            started(folder)
        assert goes_on(folder, 1) == 0
        assert (folder / "job.toml").is_file()
        points += 1
    assert points >= 20


def test_killed_while_going_on_after_a_kill(tmp_path: Path) -> None:
    """Setting a cut line aside and finishing a capture's name can be cut short as well."""
    template = started(tmp_path / "template")
    added(template, PEDAL, "before")
    named = template / "captures/before.log"
    named.rename(named.with_name(f"{PART}before.log"))
    with (template / record.FILE).open("ab") as file:
        file.write(b'{"number":3,"time":"2026')
    (template / record.HEAD).write_bytes(
        record.head_of(read_raw(template / record.FILE).lines[:1]).model_dump_json().encode()
    )
    points = 0
    for folder in killed_folders(
        template, lambda one: confirmed(one, RELEARN, anyway="only a test"), tmp_path / "killed"
    ):
        assert goes_on(folder, 2) in (0, 1)
        assert (folder / "captures/before.log").read_bytes() == PEDAL.read_bytes()
        torn = [path.read_bytes() for path in folder.glob(f"{record.FILE}.torn-*")]
        assert b'{"number":3,"time":"2026' in torn
        points += 1
    assert points >= 20


@pytest.mark.parametrize("call", range(1, 5))
def test_a_full_disk_is_said_and_leaves_the_record_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, call: int
) -> None:
    """The disk is full at the capture's bytes, in the middle of the line, at the head; the next command goes on."""
    folder, real, count = started(tmp_path / "job"), os.write, 0

    def full(descriptor: int, data: bytes) -> int:
        nonlocal count
        count += 1
        if count < call:
            return real(descriptor, data)
        real(descriptor, data[: len(data) // 3])
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(os, "write", full)
        if call < 4:  # a capture, its line and the head are three writes
            with pytest.raises(JobError, match="No space left on device"):
                added(folder, PEDAL, "before")
        else:
            added(folder, PEDAL, "before")
    assert goes_on(folder, 1) == int(call > 2)


def test_a_file_put_where_a_stopped_command_would_go_on_is_told_and_nothing_is_lost(tmp_path: Path) -> None:
    folder = started(tmp_path / "job")
    added(folder, PEDAL, "before")
    named, part = folder / "captures/before.log", folder / f"captures/{PART}before.log"
    named.rename(part)
    named.write_text("mine")
    with opened(folder):
        pass
    assert [one.where for one in verify(folder).problems] == ["captures/before.log"]
    assert (named.read_text(), part.read_bytes()) == ("mine", PEDAL.read_bytes())


@pytest.fixture(scope="module")
def three_lines(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, bytes, bytes]:
    """A folder, its record with three lines, and the head from before the third."""
    folder = started(tmp_path_factory.mktemp("torn") / "job")
    confirmed(folder, RELEARN, anyway="only a test")
    head = (folder / record.HEAD).read_bytes()
    confirmed(folder, RELEARN, anyway="only a test")
    return folder, (folder / record.FILE).read_bytes(), head


@given(st.data())
@settings(max_examples=40, deadline=None)
def test_a_line_cut_at_any_byte_is_set_aside_and_said(
    three_lines: tuple[Path, bytes, bytes], data: st.DataObject
) -> None:
    folder, whole, head = three_lines
    start = whole[:-1].rindex(b"\n") + 1
    cut = data.draw(st.integers(start + 1, len(whole) - 1))
    (folder / record.FILE).write_bytes(whole[:cut])
    (folder / record.HEAD).write_bytes(head)
    for torn in folder.glob(f"{record.FILE}.torn-*"):
        torn.unlink()
    assert verify(folder).notes[0].startswith("a line cut short stands behind line 2")
    with opened(folder) as job:
        assert len(job.lines) == 2
        assert "was set aside as record.jsonl.torn-1" in job.said[0]
    assert (folder / "record.jsonl.torn-1").read_bytes() == whole[start:cut]
    assert (folder / record.FILE).read_bytes() == whole[:start]


def confirm_thrice(folder: Path) -> None:
    for _ in range(3):
        confirmed(folder, RELEARN, anyway="only a test")


def test_several_commands_at_once_each_write_their_lines(tmp_path: Path) -> None:
    folder = started(tmp_path / "job")
    context = multiprocessing.get_context("fork")
    deeds: list[Callable[[], object]] = [lambda: confirm_thrice(folder)] * 3
    deeds += [lambda: added(folder, PEDAL, "before", anyway="the same, at once")] * 2
    children = [context.Process(target=deed) for deed in deeds]
    for child in children:
        child.start()
    for child in children:
        child.join()
    assert [child.exitcode for child in children] == [0] * 5
    found = verify(folder)
    assert (found.verdict, found.lines, found.files) == ("yes", 1 + 9 + 2, 3)
    assert {path.name for path in (folder / "captures").iterdir()} == {"before.log", "before-2.log"}


def hold(folder: Path, held: Any, free: Any) -> None:
    with opened(folder):
        held.set()
        free.wait(30)


def test_a_command_that_waits_too_long_says_so(tmp_path: Path) -> None:
    folder, context = started(tmp_path / "job"), multiprocessing.get_context("fork")
    held, free = context.Event(), context.Event()
    child = context.Process(target=hold, args=(folder, held, free))
    child.start()
    assert held.wait(30)
    with pytest.raises(JobError, match="another command has been at work in it"), opened(folder, 0.05):
        pytest.fail("two commands held one folder")
    free.set()
    child.join()
