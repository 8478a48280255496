"""What each command does to a job: start it, add a capture, confirm what was seen by eye. Each writes its own lines."""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from relearn import __version__
from relearn.analysis import job_file
from relearn.analysis.job import Clock, answers_of, calibrations, job_sheet, local_now, vin
from relearn.analysis.job_file import JobFile
from relearn.analysis.plan import plan
from relearn.capture import files, sha256
from relearn.disk import sync_folder
from relearn.errors import CaptureError, ChoiceError, JobError
from relearn.findings.answers import ReadyFindings
from relearn.findings.base import Judged, wall_clock
from relearn.jobs import durable, record
from relearn.jobs.folder import (
    CAPTURES,
    JOB_FILE,
    SHEET_FILE,
    Opened,
    commit,
    free_name,
    intact,
    locked,
    not_taken,
    recorded,
    recovered,
)
from relearn.jobs.record import Added, Answered, Confirmed, Edited, Item, Line, Role, Started
from relearn.jobs.refusals import against_adding, against_confirming, against_time
from relearn.jobs.sequence import Job, confirmable
from relearn.jobs.toml import to_toml
from relearn.procedures.models import AFTER_WRITE
from relearn.procedures.sheets import Sheet, generic, load_sheet, sheet_path
from relearn.recording import Recording, read
from relearn.verdict import combine

OWN_FILE_ROLE = {"write": "programming"}
"""What a role is called in a job file, where that is another word."""


@dataclass(frozen=True)
class Work:
    """A job folder that is held, with its job file, its sheet, and plan and record together."""

    opened: Opened
    file: JobFile
    sheet: Sheet
    job: Job


def look(opened: Opened) -> Work:
    """What the folder amounts to. SheetError for a job file or sheet that was edited into something unusable."""
    file = job_file.read(opened.job_file)
    sheet = job_sheet(opened.job_file, file.sheet)
    return Work(opened, file, sheet, Job(plan(file.events, sheet), opened.lines, file.vin))


def start(folder: Path, wanted: JobFile, now: Clock = local_now) -> Work:
    """A new job in a folder that is made if need be. `wanted.sheet` is a packaged name or a path, and a sheet that is a
    file is copied in.

    JobError: a job, or something that would be written over, is there. ChoiceError, SheetError: bad events, VIN, sheet.
    """
    source = _sheet_file(wanted.sheet)
    file = wanted.model_copy(update={"sheet": SHEET_FILE if source is not None else wanted.sheet})
    plan(file.events, load_sheet(sheet_path(wanted.sheet)) if wanted.sheet else generic())
    try:
        texts = {JOB_FILE: to_toml(file)} | ({SHEET_FILE: source.read_bytes().decode()} if source is not None else {})
        (folder / CAPTURES).mkdir(parents=True, exist_ok=True)
        sync_folder(folder)
        with locked(folder):
            opened = recovered(folder)
            _refuse_to_start(opened)
            line = Started(job=secrets.token_hex(8), version=__version__, texts=texts)
            made = commit(opened, line, now(), new={name: [text.encode()] for name, text in texts.items()})
    except OSError as wrong:
        raise not_taken(folder, wrong) from None
    return look(made)


def add(
    opened: Opened,
    capture: Path,
    role: Role,
    relearn: str | None = None,
    by: str = "",
    anyway: str | None = None,
    now: Clock = local_now,
) -> tuple[Work, Added]:
    """Copy a capture in, ask it what its role asks, and write the verdict down.

    JobError: the job's order or a precondition is against it and `anyway` gives no reason. A refusal changes nothing.
    """
    work = look(with_edits(opened, now))
    _refuse_odd_role(work, role, relearn)
    recording = read(capture)
    refused = (
        *against_adding(work.job, role, relearn),
        *against_time(work.job, wall_clock(recording.start_unix_s)),
        *_other_car(work, recording),
        *_same_file(work, recording, role, relearn),
    )
    _refuse(refused, anyway, capture)
    answers = _answers(work, recording, role, relearn)
    name = free_name(work.opened, f"{role}-{relearn}" if relearn else role, _suffix(capture))
    line = Added(
        role=role,
        relearn=relearn,
        file=name,
        original=clean(capture.name),
        recorded=wall_clock(recording.start_unix_s),
        verdict=combine(one.outcome for one in answers).value if answers else None,
        answers=tuple(_answered(one) for one in answers),
        vin=vin(recording),
        calibrations=calibrations(recording, work.file.module if role != "write" else None),
        by_eye=_left_to_the_eye(answers),
        by=clean(by or work.file.people.technician),
        refused=refused,
        anyway=clean(anyway) if anyway is not None and refused else None,
        version=__version__,
    )
    return look(commit(work.opened, line, now(), new={name: _unchanged(capture, recording.sha256)})), line


def confirm(
    opened: Opened, items: Sequence[str], by: str, note: str = "", anyway: str | None = None, now: Clock = local_now
) -> Work:
    """Write down who saw it: one line for each item.

    ChoiceError for an item that this job does not have; JobError where something is against one of them and `anyway`
    gives no reason; then none of them is written.
    """
    work = look(with_edits(opened, now))
    if not clean(by):
        raise ChoiceError("nobody is named as having seen it", remedy="say who with --by NAME")
    lines = _words(work.job, items, by, note, anyway)
    for line in lines:
        work = replace(work, opened=commit(work.opened, line, now()))
    return look(work.opened)


def with_edits(opened: Opened, now: Clock = local_now) -> Opened:
    """The record with one more line where job.toml or the sheet was edited by hand since its last one."""
    edited = edits(opened)
    if not edited:
        return opened
    texts = {name: (opened.path / name).read_bytes().decode("utf-8", "replace") for name in edited}
    return commit(opened, Edited(texts=texts), now(), present=edited)


def edits(opened: Opened) -> dict[str, str]:
    """The job's own texts that are not as the record last had them, with their hashes now. A sheet outside the folder
    is no part of it."""
    known = recorded(opened.lines)
    own = [JOB_FILE, *(name for name in (job_file.read(opened.job_file).sheet,) if name and _inside(opened, name))]
    hashes = {name: sha256(opened.path / name) for name in own}
    return {name: digest for name, digest in hashes.items() if known.get(name) != digest}


def clean(text: str) -> str:
    """A person's text that any file can hold: no lone surrogates, no blanks around it."""
    return text.encode("utf-8", "replace").decode("utf-8").strip()


def _inside(opened: Opened, name: str) -> bool:
    return record.is_inside(name) and (opened.path / name).is_file()


def _sheet_file(name: str | None) -> Path | None:
    """The sheet as a file to copy; None for none and for a packaged one."""
    if name is None:
        return None
    found = sheet_path(name)
    load_sheet(found)
    return None if found != Path(name) else found


def _refuse_to_start(opened: Opened) -> None:
    if opened.lines:
        raise JobError("there is a job in this folder already", path=opened.path, remedy="name another folder")
    taken = [name for name in (JOB_FILE, SHEET_FILE) if (opened.path / name).exists()]
    taken += [f"{CAPTURES}/{path.name}" for path in (opened.path / CAPTURES).iterdir()]
    if taken:
        raise JobError(
            f"{taken[0]} is there, and nothing is written over", path=opened.path, remedy="name another folder"
        )


def _refuse_odd_role(work: Work, role: Role, relearn: str | None) -> None:
    """--relearn belongs to ready and steps, and names one of this job."""
    if role not in ("ready", "steps"):
        if relearn is not None:
            raise ChoiceError(f"a capture taken as '{role}' belongs to no single relearn", remedy="leave --relearn out")
        return
    known = [one.id for one in work.job.plan.relearns if role == "steps" or one.measured]
    known += [AFTER_WRITE] if role == "steps" and work.job.plan.programming is not None else []
    if relearn not in known:
        what = f"this job asks for no '{relearn}' to add a capture to" if relearn else f"'{role}' needs a relearn"
        raise ChoiceError(
            what, remedy=f"choose with --relearn one of {', '.join(known) or 'none: nothing is measured'}"
        )


def _refuse(refused: Sequence[str], anyway: str | None, path: Path | None = None) -> None:
    if anyway is not None and not clean(anyway):
        raise ChoiceError("going on anyway needs a reason", remedy='give it with --anyway "REASON"')
    if refused and anyway is None:
        raise JobError(
            "; ".join(refused),
            path=path,
            remedy='see to that first, or go on with --anyway "REASON", which the report shows',
        )


def _other_car(work: Work, recording: Recording) -> tuple[str, ...]:
    wanted, found = work.file.vin, vin(recording)
    if wanted is None or found is None or found == wanted:
        return ()
    return (f"it was taken from the car {found}, and this job is for {wanted}",)


def _same_file(work: Work, recording: Recording, role: Role, relearn: str | None) -> tuple[str, ...]:
    """The very same bytes, added for the same thing: most often a command given twice."""
    known = recorded(work.opened.lines)
    twice = [one.file for _, one in work.job.added(role, relearn) if known[one.file] == recording.sha256]
    return (f"this very capture is in the job already, as {twice[0]}",) if twice else ()


def _answers(work: Work, recording: Recording, role: Role, relearn: str | None) -> Sequence[Judged]:
    own = OWN_FILE_ROLE.get(role, role) + (f".{relearn}" if relearn else "")
    recordings = {own: recording}
    if role == "after":
        for _, one in work.job.added("before")[-1:]:
            recordings["before"] = read(intact(work.opened, one.file))
    return answers_of(own, recordings, work.sheet, work.file)


def _answered(answer: Judged) -> Answered:
    return Answered(kind=str(getattr(answer, "kind", "")), verdict=answer.verdict, reason="; ".join(answer.reasons))


def _left_to_the_eye(answers: Sequence[Judged]) -> tuple[Item, ...]:
    return tuple(
        Item(id=one.id, text=one.text)
        for answer in answers
        if isinstance(answer, ReadyFindings)
        for one in answer.by_eye
    )


def _suffix(capture: Path) -> str:
    return files.format_suffix(capture) + (".gz" if files.is_gzipped(capture) else "")


def _unchanged(capture: Path, expected: str) -> Iterator[bytes]:
    """The capture's bytes; a CaptureError at their end where they are not those that were judged."""
    digest = hashlib.sha256()
    for chunk in durable.chunks_of(capture):
        digest.update(chunk)
        yield chunk
    if digest.hexdigest() != expected:
        raise CaptureError("changed while it was read", path=capture, remedy="add it once its recording has ended")


def _words(job: Job, items: Sequence[str], by: str, note: str, anyway: str | None) -> list[Confirmed]:
    """The lines to be written, each judged as if those before it stood already."""
    lines: list[Confirmed] = []
    for item in items:
        known = confirmable(job)
        if item not in known:
            raise ChoiceError(
                f"nothing called '{item}' is to be confirmed in this job", remedy=f"choose from {', '.join(known)}"
            )
        refused = against_confirming(job, item)
        _refuse(refused, anyway)
        reason = clean(anyway) if anyway is not None and refused else None
        word = Confirmed(item=item, by=clean(by), note=clean(note), refused=refused, anyway=reason)
        lines.append(word)
        job = replace(job, lines=(*job.lines, _as_if(word, len(job.lines) + 1, job.lines[-1])))
    return lines


def _as_if(word: Confirmed, number: int, last: Line) -> Line:
    return Line(number=number, time=last.time, before=record.NOTHING_BEFORE, what=word)
