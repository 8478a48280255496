"""The technician's job book: an SQLite file with one row for each job, kept current by every job command.

It is a convenience and never the record: a book that is missing, locked or broken stops no job, and
`jobs rebuild` makes it anew from the folders alone (entry.py, apart so that listing loads nothing that judges). How far
each record goes is kept here too, for `verify`.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass, fields
from datetime import datetime
from importlib import resources
from pathlib import Path

from relearn.errors import JobError
from relearn.findings.record import BookRow
from relearn.jobs.record import Head

BUSY_S = 2.0
"""How long a job command waits for another that writes the book: short, since the job itself is already safe."""
COLUMNS = tuple(one.name for one in fields(BookRow))


@dataclass(frozen=True)
class Wanted:
    """Which jobs are asked for; None for any. vin, workshop: a part of it, upper or lower case. since: started then or
    later."""

    vin: str | None = None
    since: datetime | None = None
    workshop: str | None = None
    verdict: str | None = None


def usual_path() -> Path:
    """The book in the user's data folder."""
    from platformdirs import user_data_path

    return user_data_path("relearn", appauthor=False) / "jobs.sqlite3"


def listed(path: Path, wanted: Wanted) -> tuple[BookRow, ...]:
    """The jobs asked for, newest first; none from a book that was never written. JobError for one that cannot be
    read."""
    if not path.exists():
        return ()
    conditions, values = _conditions(wanted)
    shown = ", ".join(f'"{name}"' for name in COLUMNS)
    where = f" WHERE {' AND '.join(conditions)}" if conditions else ""
    with _book(path) as book:
        found = book.execute(f"SELECT {shown} FROM job{where} ORDER BY started_unix_s DESC, id", values)
        return tuple(BookRow(*row) for row in found)


def known_head(path: Path, job: str) -> Head | None:
    """How far the record of a job went when the book last saw it; None where it never did. JobError as in `listed`."""
    if not path.exists():
        return None
    with _book(path) as book:
        row = book.execute("SELECT lines, head FROM job WHERE id = ?", (job,)).fetchone()
    return Head(lines=row[0], last=row[1]) if row is not None else None


@contextmanager
def _book(path: Path) -> Iterator[sqlite3.Connection]:
    """The book, brought up to this version's columns. Everything inside is one transaction. JobError for what SQLite or
    the disk refuses."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with closing(sqlite3.connect(path, timeout=BUSY_S, isolation_level=None)) as book:
            book.create_function("folded", 1, str.casefold, deterministic=True)
            _migrate(book, path)
            book.execute("BEGIN")
            yield book
            book.execute("COMMIT")
    except (sqlite3.Error, OSError) as wrong:
        raise JobError(
            f"the job book cannot be used ({wrong})",
            path=path,
            remedy="try again, or make it anew with relearn jobs rebuild FOLDER",
        ) from None


def _migrate(book: sqlite3.Connection, path: Path) -> None:
    """Every migration that this book has not seen, in order, each whole or not at all."""
    steps = migrations()
    if _version(book) == len(steps):
        return
    book.execute("BEGIN IMMEDIATE")  # two commands may find an old book at the same time
    if _version(book) > len(steps):
        raise JobError("the job book was made by a newer relearn", path=path, remedy="bring this one up to date")
    for number, text in enumerate(steps[_version(book) :], start=_version(book) + 1):
        for statement in _statements(text):
            book.execute(statement)
        book.execute(f"PRAGMA user_version = {number}")
    book.execute("COMMIT")


def migrations() -> tuple[str, ...]:
    """The packaged SQL files in the order of their numbers."""
    folder = resources.files("relearn.jobs") / "migrations"
    named = sorted((one.name, one) for one in folder.iterdir() if one.name.endswith(".sql"))
    return tuple(one.read_text("utf-8") for _, one in named)


def _statements(text: str) -> Iterator[str]:
    """One statement after another: executescript would end the transaction that they belong to."""
    waiting = ""
    for line in text.splitlines():
        waiting += f"{line}\n"
        if sqlite3.complete_statement(waiting):
            yield waiting
            waiting = ""


def _version(book: sqlite3.Connection) -> int:
    return int(book.execute("PRAGMA user_version").fetchone()[0])


def put(path: Path, rows: Iterable[BookRow]) -> None:
    """These rows into the book, each in place of one with the same id; the book is made if need be."""
    names = (*COLUMNS, "started_unix_s")
    shown, places = ", ".join(f'"{name}"' for name in names), ", ".join("?" * len(names))
    values = ((*(getattr(row, name) for name in COLUMNS), _unix_s(row.started)) for row in rows)
    with _book(path) as book:
        book.executemany(f"INSERT OR REPLACE INTO job ({shown}) VALUES ({places})", values)


def _conditions(wanted: Wanted) -> tuple[Sequence[str], Sequence[str | float]]:
    asked: list[tuple[str, str | float]] = []
    if wanted.vin is not None:
        asked.append(("instr(upper(vin), ?) > 0", wanted.vin.upper()))
    if wanted.since is not None:
        asked.append(("started_unix_s >= ?", wanted.since.timestamp()))
    if wanted.workshop is not None:
        asked.append(("instr(folded(workshop), ?) > 0", wanted.workshop.casefold()))
    if wanted.verdict is not None:
        asked.append(("verdict = ?", wanted.verdict))
    return [condition for condition, _ in asked], [value for _, value in asked]


def _unix_s(time: str) -> float:
    return datetime.fromisoformat(time).timestamp()


def keep_old(path: Path) -> Path | None:
    """The old book under another name, and a journal of SQLite's with it, which the new one must not find."""
    if not path.exists():
        return None
    number = 1
    while (kept := path.with_name(f"{path.name}.old-{number}")).exists():
        number += 1
    try:
        for journal in ("-journal", "-wal", "-shm", ""):
            beside = path.with_name(f"{path.name}{journal}")
            if beside.exists():
                beside.rename(kept.with_name(f"{kept.name}{journal}"))
    except OSError as wrong:
        why = f"the old job book cannot be put aside ({wrong.strerror})"
        raise JobError(why, path=path, remedy="see whether another command uses it") from None
    return kept
