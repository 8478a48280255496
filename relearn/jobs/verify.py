"""Is everything in a job folder as it was written? Every line and file that is not, by its name."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from contextlib import AbstractContextManager, nullcontext
from itertools import pairwise
from pathlib import Path

from relearn.capture import sha256
from relearn.errors import JobError
from relearn.findings.record import ProblemRow, VerifyFindings
from relearn.jobs import record
from relearn.jobs.folder import CAPTURES, JOB_FILE, locked, part_of, read_head, read_raw, recorded, shown
from relearn.jobs.record import Head, Line, Problem, Raw

LEFT_BY_SYSTEMS = ("thumbs.db", "desktop.ini")


def verify(folder: Path, known: Head | None = None) -> VerifyFindings:
    """The verdict on a folder; nothing in it is changed. known: how far the record went when the job book last saw it.

    JobError where the folder holds nothing of a job.
    """
    if not any((folder / name).is_file() for name in (record.FILE, record.HEAD, JOB_FILE)):
        raise JobError("there is no job in this folder", path=folder, remedy="name one with --folder")
    with _alone(folder):
        raw, head = read_raw(folder / record.FILE), read_head(folder)
        count = record.sealed(raw, head)
        standing = raw.lines[:count]
        lines = [line for line in map(record.parse, standing) if line is not None]
        found = (*_of_record(standing, head, known), *_of_files(folder, lines))
        notes = (*_unfinished(folder, raw, head, count, lines), *_clock(lines))
    names = len(recorded(lines))
    return VerifyFindings(
        verdict="no" if found else "yes",
        reasons=tuple(f"{one.where} {one.text}" for one in found)
        or (f"all {count} lines and all {names} files are as they were written",),
        folder=shown(folder),
        lines=count,
        files=names,
        problems=tuple(ProblemRow(where=one.where, text=one.text) for one in found),
        notes=notes,
    )


def _alone(folder: Path) -> AbstractContextManager[None]:
    """Holds the lock, so that no half-done addition is taken for a change. A folder that cannot be written to, such as
    a copy on a disc, holds no other command and is read as it is."""
    lock = folder / record.LOCK
    return locked(folder) if lock.exists() and os.access(lock, os.W_OK) else nullcontext()


def _of_record(standing: Sequence[bytes], head: Head | None, known: Head | None) -> tuple[Problem, ...]:
    if not standing:
        return (Problem(record.FILE, "is missing, or holds no line: the record was removed"),)
    return (*record.problems(standing, head), *_against_book(standing, known))


def _against_book(standing: Sequence[bytes], known: Head | None) -> Iterator[Problem]:
    """The record goes at least as far as the book saw it go, over the same line."""
    if known is None:
        return
    if known.lines > len(standing):
        yield Problem("the record", f"is shorter than the job book knows it: {known.lines} lines, now {len(standing)}")
    elif record.hash_of(standing[known.lines - 1]) != known.last:
        yield Problem("the record", f"is not the one the job book knows: its line {known.lines} was another")


def _of_files(folder: Path, lines: Sequence[Line]) -> Iterator[Problem]:
    """Recorded files that are missing or changed, and captures that no line speaks of."""
    expected = recorded(lines)
    by_hash = {digest: name for name, digest in expected.items()}
    for name, digest in expected.items():
        path = folder / name
        if not path.is_file():
            if not part_of(folder, name).is_file():
                yield Problem(name, "is missing: it was removed or renamed")
        elif (now := sha256(path)) != digest:
            swapped = by_hash.get(now)
            yield Problem(name, f"holds what {swapped} held" if swapped else _changed(name, lines))
    for path in sorted((folder / CAPTURES).glob("*")):
        name = f"{CAPTURES}/{path.name}"
        if name not in expected and not path.name.startswith(".") and path.name.lower() not in LEFT_BY_SYSTEMS:
            yield Problem(name, "stands in no line of the record: it was put there or renamed by hand")


def _changed(name: str, lines: Sequence[Line]) -> str:
    last = max(line.number for line in lines if name in line.files)
    by_hand = "; an edit is written down by the next add or confirm" if not name.startswith(f"{CAPTURES}/") else ""
    return f"was changed after line {last}{by_hand}"


def _unfinished(folder: Path, raw: Raw, head: Head | None, count: int, lines: Sequence[Line]) -> Iterator[str]:
    """What a stopped command left: not a change, and nothing that was in the record is lost."""
    if raw.torn or len(raw.lines) > count:
        yield f"a line cut short stands behind line {count}: a command was stopped, and the next one sets it aside"
    if count and (head is None or head.lines < count):
        yield f"line {count} is whole, but the command that wrote it was stopped before it ended"
    for name in recorded(lines):
        if not (folder / name).exists() and part_of(folder, name).is_file():
            yield f"{name} has not got its name yet: a command was stopped, and the next one goes on from there"


def _clock(lines: Sequence[Line]) -> Iterator[str]:
    for before, after in pairwise(lines):
        if after.time < before.time:
            yield f"line {after.number} was written at an earlier time than line {before.number}: a clock was put back"


def job_of(folder: Path) -> str | None:
    """The identifier that the job was given when it was started; None where its first line cannot be read."""
    raw = read_raw(folder / record.FILE)
    first = record.parse(raw.lines[0]) if raw.lines else None
    return first.what.job if first is not None and isinstance(first.what, record.Started) else None
