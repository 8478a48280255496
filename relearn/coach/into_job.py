"""A coaching goes into a job as what it is: the recording up to the steps shows the readiness, all of it the steps, and
what a person saw is written down with the time at which they said so."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from relearn.coach.standing import Confirmed, Standing
from relearn.errors import ChoiceError, RelearnError
from relearn.jobs.book import usual_path
from relearn.jobs.entry import remember
from relearn.jobs.folder import opened
from relearn.jobs.record import Role
from relearn.jobs.work import add, confirm, look
from relearn.procedures.models import AFTER_WRITE
from relearn.procedures.sheets import Sheet


@dataclass(frozen=True)
class Into:
    """A job folder, who sees what is seen by eye, the job book, and the job's own sheet."""

    folder: Path
    by: str
    book: Path
    sheet: Sheet


def asked_of(folder: Path, relearn: str, by: str, book: Path | None = None) -> Into:
    """The job, before anything is recorded for it. ChoiceError: it asks for no such relearn, or nobody is named who
    confirms what is seen by eye. JobError: no job there."""
    with opened(folder) as held:
        work = look(held)
    known = [one.id for one in work.job.plan.relearns]
    known += [AFTER_WRITE] if work.job.plan.programming is not None else []
    if relearn not in known:
        raise ChoiceError(f"this job asks for no '{relearn}'", path=folder, remedy=f"choose one of {', '.join(known)}")
    who = by or work.file.people.technician
    if not who.strip():
        raise ChoiceError("nobody is named as seeing what is seen by eye", remedy="say who with --by NAME")
    return Into(folder, who, book or usual_path(), work.sheet)


def into_job(job: Into, capture: Path, standing: Standing) -> Iterator[str]:
    """Write everything down; a sentence for each thing that was, or that the job refused, in which case it is not there
    and the capture stays where it is. The reasons for which a person went on are the job's --anyway."""
    begun_s = standing.began_s("steps")
    measured = "getting ready" in standing.stages
    reason = "; ".join(dict.fromkeys(one.reason for one in standing.gone_on)) or None
    if begun_s is None:
        yield _added(job, capture, "ready", standing.relearn, reason)
    elif measured:
        yield _added(job, before(capture, begun_s), "ready", standing.relearn, reason)
    for word in standing.confirmed:
        yield _confirmed(job, word)
    if begun_s is not None:
        yield _added(job, capture, "steps", standing.relearn, reason)


def before(capture: Path, until_s: float) -> Path:
    """What was recorded up to a moment (seconds since 1970), as a file of its own beside the whole: the same lines."""
    path = _free(capture.with_name(f"{capture.stem}-ready{capture.suffix}"))
    with capture.open("rb") as whole, path.open("xb") as part:
        for line in whole:
            if _time_s(line) > until_s:
                break
            part.write(line)
    return path


def _time_s(line: bytes) -> float:
    return float(line[1 : line.index(b")")])


def _free(path: Path) -> Path:
    """The name, or with -2, -3 … where it is taken."""
    names = (path, *(path.with_name(f"{path.stem}-{number}{path.suffix}") for number in range(2, 10_000)))
    return next(one for one in names if not one.exists())


def _added(job: Into, capture: Path, role: Role, relearn: str, reason: str | None) -> str:
    try:
        with opened(job.folder) as held:
            work, line = add(held, capture, role, relearn, job.by, reason)
            remember(job.book, work)
    except RelearnError as wrong:
        return f"not in the job, as {role}: {wrong} The capture stays: {capture}"
    return f"in the job as {line.file} ({role}: {line.verdict})"


def _confirmed(job: Into, word: Confirmed) -> str:
    """What was seen, when it was; an item that the job does not ask for is refused by it."""
    when = datetime.fromtimestamp(word.time_s).astimezone()
    try:
        with opened(job.folder) as held:
            remember(job.book, confirm(held, [word.item], job.by, now=lambda: when))
    except RelearnError as wrong:
        return f"not in the job, {word.item}: {wrong}"
    return f"in the job, confirmed at {when.isoformat(timespec='seconds')}: {word.item}"
