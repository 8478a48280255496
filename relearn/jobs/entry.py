"""A job's row of the book, made from its folder alone, and the book made anew from folders."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from relearn.errors import JobError, RelearnError
from relearn.findings.record import BookRow
from relearn.jobs import record
from relearn.jobs.book import keep_old, put
from relearn.jobs.folder import opened, shown
from relearn.jobs.record import Added, Started
from relearn.jobs.status import status
from relearn.jobs.work import Work, look


def row_of(work: Work) -> BookRow:
    """A job's row, from its folder alone."""
    where, lines = status(work), work.opened.lines
    first = lines[0].what
    people = work.file.people
    return BookRow(
        id=first.job if isinstance(first, Started) else record.hash_of(work.opened.raw[0]),
        folder=shown(work.opened.path.resolve()),
        title=work.file.title,
        vin=where.vin or "",
        workshop=people.workshop,
        technician=people.technician,
        customer=people.customer,
        vehicle=people.vehicle,
        order=people.order,
        events=", ".join(work.file.events),
        calibration_before=_calibrations(work, "before"),
        calibration_after=_calibrations(work, "after"),
        started=where.started,
        changed=where.changed,
        verdict=where.verdict,
        reason=where.reasons[0],
        next=where.next,
        lines=len(lines),
        head=record.hash_of(work.opened.raw[-1]),
    )


def remember(path: Path, work: Work) -> None:
    """This job's row into the book, which is made if need be. JobError where the book does not take it."""
    put(path, [row_of(work)])


def rebuild(path: Path, folders: Iterable[Path]) -> tuple[tuple[BookRow, ...], tuple[str, ...]]:
    """A new book from every job folder in these folders, and what could not be read among them, each in a sentence.

    The book that was there is kept beside the new one, with .old-N behind its name.
    """
    rows, wrong = [], []
    for folder in _job_folders(folders):
        try:
            with opened(folder) as found:
                rows.append(row_of(look(found)))
        except RelearnError as problem:
            wrong.append(str(problem))
    wrong += _twice(rows)
    rows = list({row.id: row for row in rows}.values())
    kept = keep_old(path)
    put(path, rows)
    return tuple(rows), (*wrong, *((f"the old book is kept as {kept}",) if kept is not None else ()))


def _twice(rows: Sequence[BookRow]) -> Iterator[str]:
    """A sentence for each folder that is a copy of another: the book holds the one found last."""
    last = {row.id: row for row in rows}
    for row in rows:
        if last[row.id] is not row:
            yield f"{row.folder} is the same job as {last[row.id].folder}, which is the one in the book."


def _calibrations(work: Work, role: str) -> str:
    """Of the latest capture taken for this."""
    found = [one.what for one in work.opened.lines if isinstance(one.what, Added) and one.what.role == role]
    return ", ".join(found[-1].calibrations) if found else ""


def _job_folders(folders: Iterable[Path]) -> list[Path]:
    """Every folder with a record in it or in a folder below, each once. JobError for one that is not there."""
    found: dict[Path, None] = {}
    for folder in folders:
        if not folder.is_dir():
            raise JobError("is no folder", path=folder, remedy="name the folders that hold the jobs")
        found |= dict.fromkeys(path.parent.resolve() for path in sorted(folder.rglob(record.FILE)))
    return list(found)
