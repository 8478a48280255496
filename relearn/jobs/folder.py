"""A job folder: held by one command at a time, added to so that a kill at any point leaves it whole.

What comes in is first written under a hidden name and synced; then its line goes into the record and is synced; then it
gets its name; then record.head follows. A command that finds a line whose file still has its hidden name gives it the
name; a hidden file that no line speaks of, and a line cut short, belong to a command that never finished.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path, PurePosixPath

from filelock import FileLock, Timeout

from relearn.capture import sha256
from relearn.errors import JobError
from relearn.jobs import durable, record
from relearn.jobs.record import Line, Raw, What

JOB_FILE, CAPTURES, SHEET_FILE = "job.toml", "captures", "sheet.toml"
PART = ".part-"
WAIT_S = 60.0
"""How long a command waits for another one; reading and judging a long capture takes a while."""


@dataclass(frozen=True)
class Opened:
    """A job folder while its lock is held. said: what had to be done after a command that was stopped."""

    path: Path
    raw: tuple[bytes, ...]
    lines: tuple[Line, ...]
    said: tuple[str, ...] = ()

    @property
    def job_file(self) -> Path:
        return self.path / JOB_FILE


@contextmanager
def opened(folder: Path, wait_s: float = WAIT_S) -> Iterator[Opened]:
    """The job in a folder, to read or to add to; whatever a stopped command left is finished or set aside first.

    JobError: no job there, another command is at work in it, or its record was changed.
    """
    if not (folder / record.FILE).is_file():
        raise _no_job(folder)
    with locked(folder, wait_s):
        found = recovered(folder)
        if not found.lines:
            raise JobError("the start of this job was cut short", path=folder, remedy="run relearn job start again")
        yield found


@contextmanager
def locked(folder: Path, wait_s: float = WAIT_S) -> Iterator[None]:
    """Alone in the folder, among the commands of relearn."""
    lock = FileLock(folder / record.LOCK, timeout=wait_s)
    try:
        lock.acquire()
    except Timeout:
        raise JobError(
            f"another command has been at work in it for {wait_s:g} s", path=folder, remedy="wait until it has ended"
        ) from None
    except OSError as wrong:
        raise not_taken(folder, wrong) from None
    try:
        yield
    finally:
        lock.release()


def recovered(folder: Path) -> Opened:
    """The record as it stands, after finishing or setting aside what a stopped command left. The lock is held.

    A record that was changed is a JobError, and nothing is touched.
    """
    path = folder / record.FILE
    try:
        raw, head = read_raw(path), read_head(folder)
        count = standing(folder, raw, head)
        said = _set_aside(path, raw, count)
        lines = tuple(line for line in map(record.parse, raw.lines[:count]) if line is not None)
        said += _finish_parts(folder, lines)
        if lines and head != record.head_of(raw.lines[:count]):
            _write_head(folder, raw.lines[:count])
    except OSError as wrong:
        raise not_taken(folder, wrong) from None
    return Opened(folder, raw.lines[:count], lines, said)


def read_raw(path: Path) -> Raw:
    """The bytes of a record; an empty one where there is no file."""
    return Raw.of(path.read_bytes() if path.is_file() else b"")


def read_head(folder: Path) -> record.Head | None:
    path = folder / record.HEAD
    return record.parse_head(path.read_bytes()) if path.is_file() else None


def standing(folder: Path, raw: Raw, head: record.Head | None) -> int:
    """How many lines stand; JobError naming the first that was changed, removed or put elsewhere."""
    count = record.sealed(raw, head)
    found = record.problems(raw.lines[:count], head)
    if found:
        raise JobError(
            f"the record of this job was changed ({found[0].where} {found[0].text})",
            path=folder / record.FILE,
            remedy="run relearn job verify to see all of it, and bring the folder back from a copy",
        )
    return count


def commit(
    job: Opened,
    what: What,
    now: datetime,
    new: Mapping[str, Iterable[bytes]] | None = None,
    present: Mapping[str, str] | None = None,
) -> Opened:
    """The folder with one more line. new: files that come in, by their names; present: hashes of files in it already.

    JobError where the disk does not take it; the record is whole even then.
    """
    try:
        hashes = {name: _write_part(job.path, name, chunks) for name, chunks in (new or {}).items()}
        line = Line(
            number=len(job.lines) + 1,
            time=now.replace(microsecond=0),
            before=record.hash_of(job.raw[-1]) if job.raw else record.NOTHING_BEFORE,
            files={**(present or {}), **hashes},
            what=what,
        )
        raw = record.to_bytes(line)
        durable.append(job.path / record.FILE, raw + b"\n")
        for name in hashes:
            durable.move(part_of(job.path, name), job.path / name)
        _write_head(job.path, (*job.raw, raw))
    except OSError as wrong:
        raise not_taken(job.path, wrong) from None
    return Opened(job.path, (*job.raw, raw), (*job.lines, line), job.said)


def recorded(lines: Iterable[Line]) -> Mapping[str, str]:
    """The hash of every file the record speaks of: the newest, since job.toml and the sheet may be edited."""
    return {name: digest for line in lines for name, digest in line.files.items()}


def free_name(job: Opened, stem: str, suffix: str) -> str:
    """'captures/STEM.log', or with -2, -3 … where a try of that name stands in the record or in the folder."""
    taken = {*recorded(job.lines), *(f"{CAPTURES}/{path.name}" for path in (job.path / CAPTURES).glob("*"))}
    numbered = (stem, *(f"{stem}-{number}" for number in range(2, len(taken) + 3)))
    free = next(one for one in numbered if not any(name.startswith(f"{CAPTURES}/{one}.") for name in taken))
    return f"{CAPTURES}/{free}{suffix}"


def intact(job: Opened, name: str) -> Path:
    """A recorded file that is as it was recorded; JobError where it is missing or changed."""
    path = job.path / name
    if not path.is_file() or sha256(path) != recorded(job.lines)[name]:
        state = "is not as it was recorded" if path.is_file() else "is missing"
        raise JobError(state, path=path, remedy="bring it back from a copy; relearn job verify tells what else changed")
    return path


def part_of(folder: Path, name: str) -> Path:
    """The hidden name under which a file is written before its line is in the record."""
    path = folder / PurePosixPath(name)
    return path.with_name(f"{PART}{path.name}")


def shown(path: Path) -> str:
    """A path as text that any file can hold: bytes that are no character become '?'."""
    return str(path).encode("utf-8", "replace").decode("utf-8")


def not_taken(folder: Path, wrong: OSError) -> JobError:
    why = wrong.strerror or str(wrong)
    return JobError(
        f"the folder cannot be read or written ({why})", path=folder, remedy="see to the disk and try again"
    )


def _no_job(folder: Path) -> JobError:
    if (folder / JOB_FILE).is_file() and (folder / record.HEAD).is_file():
        return JobError(f"{record.FILE} is missing", path=folder, remedy="bring it back from a copy of the folder")
    return JobError("there is no job in this folder", path=folder, remedy="name one with --folder, or start one")


def _write_part(folder: Path, name: str, chunks: Iterable[bytes]) -> str:
    part = part_of(folder, name)
    part.unlink(missing_ok=True)
    return durable.write_new(part, chunks)


def _write_head(folder: Path, raw: tuple[bytes, ...]) -> None:
    durable.replace(folder / record.HEAD, record.head_of(raw).model_dump_json().encode() + b"\n")


def _set_aside(path: Path, raw: Raw, count: int) -> tuple[str, ...]:
    """What stands behind the standing lines goes into a file of its own, and out of the record."""
    size = sum(len(line) + 1 for line in raw.lines[:count])
    rest = b"\n".join((*raw.lines[count:], raw.torn))
    if not rest:
        return ()
    number = 1
    while (aside := path.with_name(f"{path.name}.torn-{number}")).exists():
        number += 1
    durable.write_new(aside, [rest])
    durable.cut(path, size)
    return (f"the last line of {path.name} had been cut short and was set aside as {aside.name}",)


def _finish_parts(folder: Path, lines: tuple[Line, ...]) -> tuple[str, ...]:
    """Hidden files that a line speaks of get their names; the others never belonged to the job and go."""
    said: list[str] = []
    expected = {part_of(folder, name): (name, digest) for name, digest in recorded(lines).items()}
    for part in (*folder.glob(f"{PART}*"), *(folder / CAPTURES).glob(f"{PART}*")):
        name, digest = expected.get(part, ("", ""))
        if not name or sha256(part) != digest:
            part.unlink()
            said.append(f"an unfinished copy ({part.name.removeprefix(PART)}) was removed")
        elif not (folder / name).exists():  # where it does, somebody put it there: verify tells, and nothing is lost
            durable.move(part, folder / name)
            said.append(f"{name} got its name: the command that brought it in had been stopped")
    return tuple(said)
