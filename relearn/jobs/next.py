"""The one thing to do now, and what must hold while it is done."""

from __future__ import annotations

from collections.abc import Iterable

from relearn.findings.base import TextLine
from relearn.findings.plan import MeasuredLine, RelearnDoc
from relearn.findings.record import NextFindings
from relearn.jobs.folder import shown
from relearn.jobs.sequence import AFTER, BEFORE, WRITE, Job, Stage, asked_by_eye, current, done, ready, verdict
from relearn.jobs.work import Work
from relearn.procedures.models import AFTER_WRITE
from relearn.verdict import Outcome

ADD, CONFIRM = "relearn job add CAPTURE --as", "relearn job confirm"


def next_thing(work: Work) -> NextFindings:
    """Of the first stage at which something is left to do; the report, when nothing is."""
    stage = current(work.job)
    said = _report(work.job) if stage is None else _of_stage(work.job, stage)
    return said.model_copy(
        update={
            "folder": shown(work.opened.path),
            "title": work.file.title,
            "stage": stage.id if stage is not None else None,
        }
    )


def _of_stage(job: Job, stage: Stage) -> NextFindings:
    if stage.relearn is not None:
        return _relearn(job, stage.relearn)
    return {BEFORE: _before, WRITE: _write, AFTER_WRITE: _wait, AFTER: _after}[stage.id](job, stage)


def _next(
    remedy: str,
    because: str,
    *commands: str,
    must_hold: Iterable[TextLine] = (),
    steps: Iterable[TextLine] = (),
    cautions: Iterable[TextLine] = (),
) -> NextFindings:
    return NextFindings(
        folder="",
        title="",
        stage=None,
        remedy=remedy,
        because=because,
        commands=commands,
        must_hold=tuple(must_hold),
        steps=tuple(_plain(one) for one in steps),
        cautions=tuple(cautions),
    )


def _report(job: Job) -> NextFindings:
    reasons = verdict(job)[1]
    return _next("Nothing is left to do: print the report.", "; ".join(reasons), "relearn job report")


def _before(job: Job, stage: Stage) -> NextFindings:
    remedy = "Record what the module says of itself before anything is written, and add the capture."
    return _next(remedy, stage.reason, f"{ADD} before", must_hold=job.plan.have_ready, cautions=job.plan.cautions)


def _write(job: Job, stage: Stage) -> NextFindings:
    programming = job.plan.programming
    assert programming is not None  # the stage is there only where a module is written
    return _next(
        "Write the module while the supply is recorded, and add that capture.",
        stage.reason,
        f"{ADD} write",
        must_hold=programming.while_writing,
        cautions=(*programming.upsets_the_supply, *programming.if_the_write_fails),
    )


def _wait(job: Job, stage: Stage) -> NextFindings:
    programming = job.plan.programming
    assert programming is not None  # the stage is there only where a module is written
    return _next(
        "Wait as the write asks, then add a capture of it or confirm it.",
        stage.reason,
        f"{ADD} steps --relearn {AFTER_WRITE}",
        f"{CONFIRM} {AFTER_WRITE} --by NAME",
        steps=programming.after_write,
    )


def _after(job: Job, stage: Stage) -> NextFindings:
    tried = bool(job.added("after"))
    remedy = "See to what the capture after the work found, then record it again: " if tried else ""
    afterwards = [one for relearn in job.plan.relearns for one in relearn.afterwards]
    return _next(
        f"{remedy}{'L' if not tried else 'l'}et the engine idle warm, read out everything, and add the capture.",
        stage.reason,
        f"{ADD} after",
        must_hold=map(_limited, afterwards),
        cautions=job.plan.cautions,
    )


def _relearn(job: Job, relearn: RelearnDoc) -> NextFindings:
    """Bring the car to what it asks, see to what the eye sees, do it: the first of these that is not shown."""
    shown = ready(job, relearn)
    if shown is not None and shown.outcome is not Outcome.YES:
        remedy = f"Bring the car to what {relearn.title} asks, record it there, and add the capture."
        commands = [f"{ADD} ready --relearn {relearn.id}"]
        return _next(remedy, shown.reason, *commands, must_hold=_holding(job, relearn), cautions=relearn.cautions)
    missing = {item: text for item, text in asked_by_eye(job, relearn).items() if job.confirmed(item) is None}
    if missing:
        remedy = f"See with your own eyes, for {relearn.title}, and confirm: {', '.join(missing.values())}."
        lines = [TextLine(id=item, text=text) for item, text in missing.items()]
        command = f"{CONFIRM} {' '.join(missing)} --by NAME"
        return _next(remedy, "no scan data shows it", command, must_hold=lines, cautions=relearn.cautions)
    return _do(job, relearn)


def _do(job: Job, relearn: RelearnDoc) -> NextFindings:
    made = done(job, relearn.id)
    again = " again" if made.line else ""
    return _next(
        f"Do the relearn{again}: {relearn.title}. Record it and add the capture, or confirm that it was done.",
        made.reason if made.outcome is not Outcome.YES else "what it comes after was done later",
        f"{ADD} steps --relearn {relearn.id}",
        f"{CONFIRM} {relearn.id} --by NAME",
        must_hold=_holding(job, relearn),
        steps=relearn.steps,
        cautions=relearn.cautions,
    )


def _holding(job: Job, relearn: RelearnDoc) -> list[TextLine]:
    seen = [TextLine(id=item, text=f"by eye: {text}") for item, text in asked_by_eye(job, relearn).items()]
    return [*map(_limited, relearn.measured), *seen]


def _limited(row: MeasuredLine) -> TextLine:
    return TextLine(id=row.id, text=f"{row.text}: {row.limits}" if row.limits else row.text, standing=row.standing)


def _plain(line: TextLine) -> TextLine:
    """A step without its numbers, which its text has."""
    return TextLine(id=line.id, text=line.text, standing=line.standing)
