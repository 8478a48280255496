"""The documents of a job that keeps its own record: added, next, status, verify, and the list of the job book."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from pydantic import ConfigDict

from relearn.findings.base import Answer, Document, TextLine
from relearn.findings.job import AnywayDoc, Proof


class AnswerLine(Document):
    """What one check said: which one, its verdict and the sentence that explains it."""

    kind: str
    verdict: Answer
    reason: str


class TryRow(Document):
    """One capture or one person's word, as the record has it. verdict: None where nothing was asked of it.

    line: its line in the record. role: what it was taken for, 'confirmed' for a person's word. what: file or item.
    """

    line: int
    time: str
    role: str
    what: str
    verdict: Answer | None
    reason: str
    by: str = ""
    note: str = ""
    anyway: AnywayDoc | None = None


class AddedFindings(Document):
    """A capture came into the job. verdict: of all that was asked of it, None where nothing was."""

    kind: Literal["added"] = "added"
    verdict: Answer | None
    file: str
    role: str
    relearn: str | None
    line: int
    vin: str | None
    calibrations: tuple[str, ...]
    answers: tuple[AnswerLine, ...]
    anyway: AnywayDoc | None
    next: str


class NextFindings(Document):
    """The one thing to do now.

    remedy: in a sentence. because: why it is next. commands: what to give to the command line
    afterwards, each another way to go on.
    must_hold: what must hold while it is done; measured lines carry their limits. steps: in order.
    stage: the stage it belongs to, None when nothing is left.
    """

    kind: Literal["next"] = "next"
    folder: str
    title: str
    stage: str | None
    remedy: str
    because: str
    commands: tuple[str, ...]
    must_hold: tuple[TextLine, ...] = ()
    steps: tuple[TextLine, ...] = ()
    cautions: tuple[TextLine, ...] = ()


class StageRow(Proof):
    """One stage of the job: where it stands, and every try at it beside the others."""

    tries: tuple[TryRow, ...] = ()


class StatusFindings(Document):
    """The whole plan with where it stands. verdict: yes when every stage is shown to be done.

    reasons: one for each stage that decides. anyway: everything that was done against a refusal. remarks: what else the
    record tells, such as a job file edited by hand.
    """

    kind: Literal["status"] = "status"
    verdict: Answer
    reasons: tuple[str, ...]
    folder: str
    title: str
    vin: str | None
    started: str
    changed: str
    stages: tuple[StageRow, ...]
    next: str
    anyway: tuple[AnywayDoc, ...] = ()
    remarks: tuple[str, ...] = ()


class ProblemRow(Document):
    """One line or file that is not as it was written."""

    where: str
    text: str


class VerifyFindings(Document):
    """Is the record as it was written? yes, or no with every line and file that is not. It has no third answer.

    notes: what a stopped command left, which the next one finishes or sets aside; and how old the record is.
    """

    kind: Literal["verify"] = "verify"
    verdict: Answer
    reasons: tuple[str, ...]
    folder: str
    lines: int
    files: int
    problems: tuple[ProblemRow, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class BookRow:
    """One job in the book. Times are ISO 8601 with their zones. verdict, reason, next: as `job status` has them.

    A plain dataclass: a book has thousands, and SQLite holds its values to their kinds already.
    """

    __pydantic_config__ = ConfigDict(extra="forbid")

    id: str
    folder: str
    title: str
    vin: str
    workshop: str
    technician: str
    customer: str
    vehicle: str
    order: str
    events: str
    calibration_before: str
    calibration_after: str
    started: str
    changed: str
    verdict: Answer
    reason: str
    next: str
    lines: int
    head: str


class JobsFindings(Document):
    """The jobs of a book that were asked for, newest first."""

    kind: Literal["jobs"] = "jobs"
    book: str
    jobs: tuple[BookRow, ...]
