"""What stands against a step of a job now, each in one sentence: its order, its preconditions, its steps. Pure."""

from __future__ import annotations

from relearn.findings.plan import RelearnDoc
from relearn.jobs.record import Role
from relearn.jobs.sequence import BEFORE, WRITE, Job, done, first_reason, ready, seen
from relearn.procedures.models import AFTER_WRITE
from relearn.verdict import Outcome


def against_adding(job: Job, role: Role, relearn: str | None) -> tuple[str, ...]:
    """What stands against a capture taken for this role now, each in a sentence; nothing when all is in order."""
    if role == "before":
        return _late(job)
    if role == "write":
        return _not_there(job, BEFORE, "nothing was read out before the write, and afterwards it is too late")
    if role == "after":
        return tuple(f"{one.title} is not shown to be done" for one in job.plan.relearns if not _is_done(job, one.id))
    if relearn == AFTER_WRITE:
        return _not_there(job, WRITE, "the wait comes after the write, and no capture of the write is in the job")
    chosen = job.relearn(relearn or "")
    return against_starting(job, chosen) if role == "ready" else against_doing(job, chosen)


def against_time(job: Job, recorded: str | None) -> tuple[str, ...]:
    """A capture recorded before one that the job already builds on cannot show what came after it. recorded: ISO 8601
    in UTC, None for a capture without a wall clock, against which nothing can be said."""
    dated = [one for _, one in job.captures() if one.recorded is not None]
    latest = max(dated, key=lambda one: one.recorded or "", default=None)
    if recorded is None or latest is None or latest.recorded is None or recorded >= latest.recorded:
        return ()
    return (f"it was recorded at {recorded}, before {latest.file} ({latest.recorded}), which came first",)


def against_confirming(job: Job, item: str) -> tuple[str, ...]:
    """The same for a person's word: an item by eye can always be given, a relearn only in its order."""
    if item == AFTER_WRITE:
        return (*against_adding(job, "steps", item), *_steps_say_no(job, item))
    found = next((one for one in job.plan.relearns if one.id == item), None)
    return (*against_doing(job, found), *_steps_say_no(job, item)) if found is not None else ()


def against_starting(job: Job, relearn: RelearnDoc) -> tuple[str, ...]:
    """What must be done before this relearn is begun at all: the write with its wait, and what it comes after."""
    writing = job.plan.programming is not None
    write = _not_there(job, WRITE, "no capture of the write is in the job") if writing else ()
    waited = writing and done(job, AFTER_WRITE).outcome is not Outcome.YES
    return (
        *write,
        *(("the wait after the write is not shown to be done",) if waited else ()),
        *(
            f"{relearn.title} comes after {job.relearn(one).title}, which is not shown to be done"
            for one in relearn.comes_after
            if not _is_done(job, one)
        ),
    )


def against_doing(job: Job, relearn: RelearnDoc) -> tuple[str, ...]:
    """What stands against the relearn itself: its order, its measured preconditions, and what is to be seen by eye."""
    needs = [one for one in (ready(job, relearn), seen(job, relearn)) if one is not None]
    unmet = (one.reason for one in needs if one.outcome is not Outcome.YES)
    return (*against_starting(job, relearn), *unmet)


def _is_done(job: Job, item: str) -> bool:
    return done(job, item).outcome is Outcome.YES


def _late(job: Job) -> tuple[str, ...]:
    return ("the write is in the job already, so this cannot be from before it",) if job.added("write") else ()


def _not_there(job: Job, role: Role, otherwise: str) -> tuple[str, ...]:
    return () if job.added(role) else (otherwise,)


def _steps_say_no(job: Job, item: str) -> tuple[str, ...]:
    last = job.added("steps", item)[-1:]
    if last and last[0][1].verdict == Outcome.NO.value:
        return (f"the capture {last[0][1].file} shows that its steps were not done: {first_reason(last[0][1])}",)
    return ()
