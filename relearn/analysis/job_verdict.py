"""What a whole job amounts to: everything answered, everything missing, and what somebody confirmed."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from pathlib import Path

from relearn.analysis import job_file
from relearn.errors import SheetError
from relearn.findings.answers import ReadyFindings
from relearn.findings.job import Chapter, Confirmation, Proof
from relearn.findings.plan import PlanFindings
from relearn.procedures.models import AFTER_WRITE
from relearn.verdict import Outcome, combine


def confirmations(
    file: job_file.JobFile, planned: PlanFindings, chapters: Sequence[Chapter]
) -> tuple[Confirmation, ...]:
    """Everything that had to be seen by eye, with who confirmed it, and every relearn that somebody vouches for."""
    asked = {one.id: one.text for relearn in planned.relearns for one in relearn.by_eye}
    asked |= {
        one.id: one.text
        for chapter in chapters
        if chapter.counts
        for answer in chapter.answers
        if isinstance(answer, ReadyFindings)
        for one in answer.by_eye
    }
    given = {one.item: one for one in file.confirmed}
    asked |= {key: text for key, text in _vouched(planned).items() if key in given}
    return tuple(
        Confirmation(
            id=key,
            text=text,
            confirmed_by=given[key].by if key in given else None,
            note=given[key].note if key in given else "",
        )
        for key, text in asked.items()
    )


def _vouched(planned: PlanFindings) -> Mapping[str, str]:
    """What a person may confirm where no scan data shows it: a relearn as a whole, and the wait after a write."""
    waited = {AFTER_WRITE: "the wait after the write"} if planned.programming is not None else {}
    return {**waited, **{one.id: f"{one.title}: done" for one in planned.relearns}}


def refuse_unasked(path: Path, file: job_file.JobFile, asked: Sequence[str]) -> None:
    """An item that nobody asked for is a SheetError."""
    for number, one in enumerate(file.confirmed):
        if one.item not in asked:
            raise SheetError(
                f"nothing called '{one.item}' is to be confirmed in this job",
                path=path,
                key=f"confirmed.{number}.item",
                remedy=f"choose from {', '.join(asked) or 'nothing'}",
            )


def overall(
    chapters: Sequence[Chapter],
    confirmations: Sequence[Confirmation],
    planned: PlanFindings,
    taken: Collection[str],
    others: Sequence[tuple[Outcome, str]],
) -> tuple[Outcome, tuple[str, ...]]:
    """Every answer of every last try and of `others`; then what is missing: captures the plan asks for beside those
    `taken`, and things nobody confirmed."""
    judged = [
        (answer.outcome, f"{_title(chapter.role)}: {answer.reasons[0]}")
        for chapter in chapters
        if chapter.counts
        for answer in chapter.answers
    ]
    judged += others
    missing = [role for role in _asked_for(planned) if role not in taken]
    judged += [(Outcome.CANNOT_TELL, f"{_title(role)}: no capture in the job") for role in missing]
    open_items = [one.text for one in confirmations if one.confirmed_by is None]
    judged += [(Outcome.CANNOT_TELL, f"not confirmed by eye: {', '.join(open_items)}")] if open_items else []
    outcome = combine(one for one, _ in judged)
    if outcome is Outcome.YES:
        return outcome, (f"all {len(judged)} answers are yes, and everything by eye was confirmed",)
    return outcome, tuple(why for one, why in judged if one is outcome)


def _asked_for(planned: PlanFindings) -> tuple[str, ...]:
    """The captures a complete record has. A relearn without measured preconditions needs none."""
    writing = ("before", "programming") if planned.programming is not None else ()
    return (*writing, *(f"ready.{one.id}" for one in planned.relearns if one.measured), "after")


def _title(role: str) -> str:
    return role.replace("ready.", "ready for ").replace("steps.", "steps of ")


def says(proof: Proof) -> str:
    return f"{proof.title}: {proof.reason}"


def other_cars(wanted: str | None, read_vins: Mapping[str, str | None]) -> Sequence[tuple[Outcome, str]]:
    """A no for each capture, by its role, that read another VIN than the job's."""
    return [
        (Outcome.NO, f"{_title(role)}: it reads the VIN {found}, and the job is for {wanted}")
        for role, found in read_vins.items()
        if wanted is not None and found is not None and found != wanted
    ]
