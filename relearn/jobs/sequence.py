"""Where each stage of a job stands and which is next: pure, from the plan and the record.

Stages in order: the read-out before and the write with its wait (where a module is written), each relearn, the capture
after. A relearn is done when its latest capture of the steps says yes, or when a person vouches for it and no capture
of the steps says no. It is proven when, besides, everything it comes after was done before it, and, where the idle
speed should be right afterwards, the latest capture after the work settled.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from relearn.findings.plan import PlanFindings, RelearnDoc
from relearn.jobs.record import Added, Confirmed, Line, Role
from relearn.procedures.models import AFTER_WRITE
from relearn.verdict import Outcome, combine

BEFORE: Final = "before"
WRITE: Final = "write"
AFTER: Final = "after"
IDLE_SPEED = "idle-speed"
"""The expectation in a relearn's `afterwards` that `settle` judges."""


@dataclass(frozen=True)
class Shown:
    """One thing that a stage needs: whether it is shown, by what, and by which line of the record (0: by none)."""

    outcome: Outcome
    reason: str
    line: int = 0


@dataclass(frozen=True)
class Stage:
    """One stage of the job and where it stands. relearn: its plan, where it is one. needs: what was asked of it."""

    id: str
    title: str
    needs: tuple[Shown, ...]
    relearn: RelearnDoc | None = None

    @property
    def outcome(self) -> Outcome:
        return combine(one.outcome for one in self.needs)

    @property
    def reason(self) -> str:
        """Why it is a no or a cannot tell; of a yes, everything that shows it."""
        outcome = self.outcome
        return "; ".join(dict.fromkeys(one.reason for one in self.needs if one.outcome is outcome))


@dataclass(frozen=True)
class Job:
    """A plan, the record of what was done, and whose job it is where that was said."""

    plan: PlanFindings
    lines: tuple[Line, ...]
    vin: str | None = None

    def relearn(self, name: str) -> RelearnDoc:
        """One relearn of the plan."""
        return next(one for one in self.plan.relearns if one.id == name)

    def added(self, role: Role, relearn: str | None = None) -> tuple[tuple[int, Added], ...]:
        """Every try at one thing with the number of its line, oldest first."""
        return tuple(
            (line.number, line.what)
            for line in self.lines
            if isinstance(line.what, Added) and (line.what.role, line.what.relearn) == (role, relearn)
        )

    def captures(self) -> tuple[tuple[int, Added], ...]:
        """Every capture that was added, with the number of its line, oldest first."""
        return tuple((line.number, line.what) for line in self.lines if isinstance(line.what, Added))

    def confirmed(self, item: str) -> tuple[int, Confirmed] | None:
        """The latest word of a person on this item."""
        found = [
            (line.number, line.what)
            for line in self.lines
            if isinstance(line.what, Confirmed) and line.what.item == item
        ]
        return found[-1] if found else None


def stages(job: Job) -> tuple[Stage, ...]:
    """Every stage in order, with where it stands."""
    writing = job.plan.programming is not None
    return (
        *(_writing(job) if writing else ()),
        *(relearn_stage(job, one) for one in job.plan.relearns),
        _captured(job, AFTER, "After the work"),
    )


def verdict(job: Job) -> tuple[Outcome, tuple[str, ...]]:
    """Of the whole job, with a reason for each stage that decides it."""
    all_stages = [(one.outcome, f"{one.title}: {one.reason}") for one in stages(job)]
    judged = [*all_stages, *((one.outcome, one.reason) for one in other_cars(job))]
    outcome = combine(one for one, _ in judged)
    if outcome is Outcome.YES:
        return outcome, ("every stage is shown to be done",)
    return outcome, tuple(why for one, why in judged if one is outcome)


def other_cars(job: Job) -> tuple[Shown, ...]:
    """A no for each capture that counts and was taken from another car than the job's."""
    latest = {(line.what.role, line.what.relearn): line for line in job.lines if isinstance(line.what, Added)}
    found = ((line.number, line.what) for line in latest.values() if isinstance(line.what, Added))
    return tuple(
        Shown(Outcome.NO, f"{what.file}: it reads the VIN {what.vin}, and the job is for {job.vin}", number)
        for number, what in found
        if job.vin is not None and what.vin is not None and what.vin != job.vin
    )


def current(job: Job) -> Stage | None:
    """The first stage at which something is left to do; None when nothing is.

    A write is not done again because its supply sagged, nor a relearn because somebody went on without its readiness:
    those stay visible in their stage, and the job goes on.
    """
    return next((one for one in stages(job) if _open(job, one)), None)


def asked_by_eye(job: Job, relearn: RelearnDoc) -> dict[str, str]:
    """What is to be seen by eye before this relearn: the plan's items and those that its latest readiness left over."""
    moved = {one.id: one.text for _, last in job.added("ready", relearn.id)[-1:] for one in last.by_eye}
    return {**{one.id: one.text for one in relearn.by_eye}, **moved}


def confirmable(job: Job) -> dict[str, str]:
    """Everything a person may confirm in this job: items by eye, the wait after a write, a relearn as a whole."""
    items = {key: text for one in job.plan.relearns for key, text in asked_by_eye(job, one).items()}
    waited = {AFTER_WRITE: "the wait after the write"} if job.plan.programming is not None else {}
    return {**items, **waited, **{one.id: f"{one.title}: done" for one in job.plan.relearns}}


def done(job: Job, item: str) -> Shown:
    """Was this relearn, or the wait after a write, done? By its latest capture of the steps, or by somebody's word."""
    steps, word = job.added("steps", item)[-1:], job.confirmed(item)
    if steps and steps[0][1].verdict != Outcome.CANNOT_TELL.value:
        number, last = steps[0]
        return Shown(Outcome(last.verdict), f"{last.file}: {first_reason(last)}", number)
    if word is not None and word[0] > (steps[0][0] if steps else 0):
        return Shown(Outcome.YES, f"confirmed by {word[1].by}", word[0])
    if steps:
        why = f"{first_reason(steps[0][1])}, and nobody confirmed it afterwards"
        return Shown(Outcome.CANNOT_TELL, f"{steps[0][1].file}: {why}", steps[0][0])
    return Shown(Outcome.CANNOT_TELL, "no capture shows it and nobody confirmed it")


def proof(job: Job, relearn: RelearnDoc) -> tuple[Shown, ...]:
    """What shows that a relearn was done, in its order, and to an idle that settled where it is for that."""
    made = done(job, relearn.id)
    settled = (_settled(job, made.line),) if any(one.id == IDLE_SPEED for one in relearn.afterwards) else ()
    return (made, *_order(job, relearn, made.line), *settled)


def relearn_stage(job: Job, relearn: RelearnDoc) -> Stage:
    needs = (ready(job, relearn), seen(job, relearn), *proof(job, relearn))
    return Stage(relearn.id, relearn.title, tuple(one for one in needs if one is not None), relearn)


def _captured(job: Job, role: Role, title: str) -> Stage:
    """The latest capture of a role with its answers; one of which nothing is asked counts by being there."""
    tries = job.added(role)
    return Stage(role, title, _of_capture(*tries[-1]) if tries else (Shown(Outcome.CANNOT_TELL, _MISSING[role]),))


_MISSING = {
    BEFORE: "no capture from before the write",
    WRITE: "no capture of the supply while the module was written",
    AFTER: "no capture from after the work",
}


def _of_capture(number: int, added: Added) -> tuple[Shown, ...]:
    if not added.answers:
        return (Shown(Outcome.YES, f"{added.file} is in the record", number),)
    return tuple(Shown(Outcome(one.verdict), f"{one.kind}: {one.reason}", number) for one in added.answers)


def _writing(job: Job) -> tuple[Stage, ...]:
    return (
        _captured(job, BEFORE, "The read-out before the write"),
        _captured(job, WRITE, "The write"),
        Stage(AFTER_WRITE, "The wait after the write", (done(job, AFTER_WRITE),)),
    )


def ready(job: Job, relearn: RelearnDoc) -> Shown | None:
    """The latest readiness; None for a relearn that nothing is measured for."""
    if not relearn.measured:
        return None
    tries = job.added("ready", relearn.id)
    if not tries:
        return Shown(Outcome.CANNOT_TELL, f"no capture shows that the car is ready for {relearn.title}")
    number, last = tries[-1]
    return Shown(Outcome(last.verdict), f"{last.file}: {first_reason(last)}", number)


def seen(job: Job, relearn: RelearnDoc) -> Shown | None:
    """What is to be seen by eye; None where there is nothing."""
    asked = asked_by_eye(job, relearn)
    missing = [text for item, text in asked.items() if job.confirmed(item) is None]
    if missing:
        return Shown(Outcome.CANNOT_TELL, f"not confirmed by eye: {', '.join(missing)}")
    return Shown(Outcome.YES, "all that is seen by eye was confirmed") if asked else None


def _order(job: Job, relearn: RelearnDoc, line: int) -> Iterable[Shown]:
    """A relearn does not count once something that it comes after was done, or tried, later."""
    for one in relearn.comes_after:
        before = done(job, one).line
        if line and (not before or before > line):
            yield Shown(Outcome.CANNOT_TELL, f"it was done before {job.relearn(one).title}, which it comes after", line)


def _settled(job: Job, line: int) -> Shown:
    tries = job.added("after")
    last = next((one for one in tries[-1][1].answers if one.kind == "settle"), None) if tries else None
    if last is None:
        return Shown(Outcome.CANNOT_TELL, "no capture shows how it idles afterwards")
    if tries[-1][0] < line:
        return Shown(Outcome.CANNOT_TELL, f"{tries[-1][1].file} was taken before it was done", tries[-1][0])
    return Shown(Outcome(last.verdict), f"settle: {last.reason}", tries[-1][0])


def _open(job: Job, stage: Stage) -> bool:
    if stage.id == WRITE:
        return not job.added("write")
    if stage.relearn is not None:
        made = done(job, stage.id)
        return any(one.outcome is not Outcome.YES for one in (made, *_order(job, stage.relearn, made.line)))
    return stage.outcome is not Outcome.YES


def first_reason(added: Added) -> str:
    """The first answer that decides the capture's verdict."""
    return next((one.reason for one in added.answers if one.verdict == added.verdict), "nothing was asked of it")
