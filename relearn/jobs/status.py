"""Where a job stands, as documents: its status, the report of it, and what the record tells besides."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from pathlib import PurePosixPath

from relearn.analysis.job import Clock, judge, local_now
from relearn.analysis.job_file import AnywayFile, CapturesFile, ConfirmedFile, EarlierFile, JobFile
from relearn.findings.job import AnywayDoc, JobFindings, Proof
from relearn.findings.record import AddedFindings, AnswerLine, StageRow, StatusFindings, TryRow
from relearn.jobs.folder import intact, shown
from relearn.jobs.next import next_thing
from relearn.jobs.record import Added, Confirmed, Edited, Line
from relearn.jobs.sequence import Stage, confirmable, done, proof, stages, verdict
from relearn.jobs.work import OWN_FILE_ROLE, Work, edits
from relearn.procedures.models import AFTER_WRITE
from relearn.verdict import combine


def status(work: Work) -> StatusFindings:
    """The whole plan with where it stands."""
    outcome, reasons = verdict(work.job)
    lines = work.opened.lines
    return StatusFindings(
        verdict=outcome.value,
        reasons=reasons,
        folder=shown(work.opened.path),
        title=work.file.title,
        vin=work.file.vin or _vin(lines),
        started=lines[0].time.isoformat(),
        changed=lines[-1].time.isoformat(),
        stages=tuple(_stage(work, one) for one in stages(work.job)),
        next=next_thing(work).remedy,
        anyway=tuple(_anyway(lines)),
        remarks=remarks(work),
    )


def added(work: Work, line: Added) -> AddedFindings:
    """What a capture's coming in says."""
    return AddedFindings(
        verdict=line.verdict,
        file=line.file,
        role=line.role,
        relearn=line.relearn,
        line=work.opened.lines[-1].number,
        vin=line.vin,
        calibrations=line.calibrations,
        answers=tuple(AnswerLine(kind=one.kind, verdict=one.verdict, reason=one.reason) for one in line.answers),
        anyway=_reason(work.opened.lines[-1]),
        next=next_thing(work).remedy,
    )


def report(work: Work, now: Clock = local_now) -> JobFindings:
    """The whole job judged anew from its captures: the document of `relearn report`. JobError for a changed capture."""
    for line in work.opened.lines:
        if isinstance(line.what, Added):
            intact(work.opened, line.what.file)
    made = judge(work.opened.job_file, recorded_job(work), _proofs(work), now)
    return made.model_copy(update={"remarks": (*remarks(work), *_judged_otherwise(work, made))})


def recorded_job(work: Work) -> JobFile:
    """The job file that the record amounts to: captures, confirmations and reasons are the record's, whatever job.toml
    says of them; the rest is job.toml's. What is not asked for any more stays in the record alone."""
    tries: dict[str, list[str]] = {}
    for line in work.opened.lines:
        if isinstance(line.what, Added):
            tries.setdefault(_role(line.what), []).append(line.what.file)
    earlier = [EarlierFile(role=role, file=name) for role, names in tries.items() for name in names[:-1]]
    return work.file.model_copy(
        update={
            "captures": _captures({role: names[-1] for role, names in tries.items()}),
            "earlier": tuple(earlier),
            "confirmed": tuple(_confirmed(work)),
            "anyway": tuple(AnywayFile(**one.model_dump()) for one in _anyway(work.opened.lines)),
        }
    )


def remarks(work: Work) -> tuple[str, ...]:
    """What else the record tells: texts edited by hand."""
    written = [
        f"{', '.join(line.what.texts)} was edited by hand, written down on {line.time.isoformat()} (line {line.number})"
        for line in work.opened.lines
        if isinstance(line.what, Edited)
    ]
    open_edits = edits(work.opened)
    said = f"{', '.join(open_edits)} was edited by hand; the next add or confirm writes that down"
    return (*written, said) if open_edits else tuple(written)


def _role(line: Added) -> str:
    """Its name in a job file."""
    return OWN_FILE_ROLE.get(line.role, line.role) + (f".{line.relearn}" if line.relearn else "")


def _captures(by_role: Mapping[str, str]) -> CapturesFile:
    def of(kind: str) -> dict[str, str]:
        return {role.removeprefix(kind): name for role, name in by_role.items() if role.startswith(kind)}

    return CapturesFile(
        before=by_role.get("before"),
        programming=by_role.get("programming"),
        ready=of("ready."),
        steps=of("steps."),
        after=by_role.get("after"),
    )


def _confirmed(work: Work) -> Iterator[ConfirmedFile]:
    """The latest word on each item."""
    for item in confirmable(work.job):
        found = work.job.confirmed(item)
        if found is not None:
            yield ConfirmedFile(item=item, by=found[1].by, note=found[1].note)


def _anyway(lines: Iterable[Line]) -> Iterator[AnywayDoc]:
    found = (_reason(line) for line in lines)
    return (one for one in found if one is not None)


def _reason(line: Line) -> AnywayDoc | None:
    """Why somebody went on against a refusal, with what stood against it; None where nothing did."""
    what = line.what
    if not isinstance(what, Added | Confirmed) or what.anyway is None:
        return None
    done_anyway = what.file if isinstance(what, Added) else f"confirmed {what.item}"
    return AnywayDoc(
        what=done_anyway, overrode=what.refused, reason=what.anyway, by=what.by, time=line.time.isoformat()
    )


def _proofs(work: Work) -> tuple[Proof, ...]:
    """Whether the wait after a write and each relearn are shown to be done."""
    writing = work.job.plan.programming is not None
    wait = [("The wait after the write", AFTER_WRITE, (done(work.job, AFTER_WRITE),))] if writing else []
    relearns = [(one.title, one.id, proof(work.job, one)) for one in work.job.plan.relearns]
    made = [Stage(name, title, shown) for title, name, shown in (*wait, *relearns)]
    return tuple(Proof(id=one.id, title=one.title, verdict=one.outcome.value, reason=one.reason) for one in made)


def _stage(work: Work, stage: Stage) -> StageRow:
    return StageRow(
        id=stage.id,
        title=stage.title,
        verdict=combine(one.outcome for one in stage.needs).value,
        reason=stage.reason,
        tries=tuple(_try(line) for line in work.opened.lines if _belongs(work, stage, line)),
    )


def _belongs(work: Work, stage: Stage, line: Line) -> bool:
    what = line.what
    if isinstance(what, Added):
        return stage.id == (what.relearn or what.role)
    if isinstance(what, Confirmed):
        asked = [one.id for one in stage.relearn.by_eye] if stage.relearn is not None else []
        return what.item == stage.id or what.item in asked
    return False


def _try(line: Line) -> TryRow:
    what, when = line.what, line.time.isoformat()
    if isinstance(what, Added):
        why = "; ".join(f"{one.kind}: {one.reason}" for one in what.answers) or "kept to compare with"
        return TryRow(
            line=line.number,
            time=when,
            role=what.role,
            what=what.file,
            verdict=what.verdict,
            reason=why,
            by=what.by,
            anyway=_reason(line),
        )
    assert isinstance(what, Confirmed)
    return TryRow(
        line=line.number,
        time=when,
        role="confirmed",
        what=what.item,
        verdict=None,
        reason=f"confirmed by {what.by}",
        by=what.by,
        note=what.note,
        anyway=_reason(line),
    )


def _judged_otherwise(work: Work, made: JobFindings) -> Iterator[str]:
    """Answers that are not what was written down when the capture was added: the sheet was edited, or relearn is
    newer."""
    now: dict[tuple[str, str], str] = {
        (chapter.source.file, answer.kind): answer.verdict for chapter in made.chapters for answer in chapter.answers
    }
    captures = ((line.number, line.what) for line in work.opened.lines if isinstance(line.what, Added))
    for number, name, one in ((number, what.file, one) for number, what in captures for one in what.answers):
        said = now.get((PurePosixPath(name).name, one.kind), one.verdict)
        if said != one.verdict:
            yield f"{one.kind} of line {number} was written down as {one.verdict} and is judged {said} now"


def _vin(lines: Iterable[Line]) -> str | None:
    """The newest VIN that a capture of the job read."""
    found = [line.what.vin for line in lines if isinstance(line.what, Added) and line.what.vin is not None]
    return found[-1] if found else None
