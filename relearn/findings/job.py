"""The document of a whole job."""

from __future__ import annotations

from collections.abc import Sized
from typing import Annotated, Literal

from pydantic import Field, SerializerFunctionWrapHandler, model_serializer

from relearn.findings.answers import AirFindings, IdentityFindings, ReadyFindings, SettleFindings, SupplyFindings
from relearn.findings.base import Answer, Document, FaultDoc, Range, Source, TextLine
from relearn.findings.plan import PlanFindings
from relearn.findings.show import CodesDoc
from relearn.findings.steps import StepsFindings
from relearn.verdict import Outcome


def _empty(rows: Sized) -> bool:
    return not len(rows)


class Confirmation(Document):
    """One thing seen by eye: by whom, or nobody."""

    id: str
    text: str
    confirmed_by: str | None
    note: str = ""


class People(Document):
    """Who worked, for whom, on which car: text as the job file has it."""

    workshop: str = ""
    technician: str = ""
    customer: str = ""
    vehicle: str = ""
    order: str = ""


class AnywayDoc(Document):
    """Something done although the job's order or a check refused it: the reason that was given, in plain sight.

    overrode: what stood against it. time: ISO 8601 with its zone, '' where nobody wrote it down.
    """

    what: str
    overrode: tuple[str, ...]
    reason: str
    by: str = ""
    time: str = ""


class Proof(Document):
    """Whether one relearn of the plan is shown to be done, and by what."""

    id: str
    title: str
    verdict: Answer
    reason: str


class Trace(Document):
    """A channel for a plot, thinned: times and values, its limits, the judged span."""

    channel: str
    title: str
    unit: str
    time_s: tuple[float, ...]
    value: tuple[float, ...]
    limits: Range
    judged_s: tuple[float, float] | None
    low_open: bool = False


class Chapter(Document):
    """One capture of a job: what it was taken for, what was asked of it, the answers, and what to plot.

    faults, notes: of this capture, whatever was asked of it. attempt of attempts: which try this is; only the last one
    counts, and a capture that was the only try says neither.
    """

    role: str
    source: Source
    answers: tuple[
        Annotated[
            ReadyFindings | StepsFindings | SettleFindings | SupplyFindings | IdentityFindings | AirFindings,
            Field(discriminator="kind"),
        ],
        ...,
    ]
    traces: tuple[Trace, ...]
    codes: CodesDoc = CodesDoc()
    calibrations: tuple[str, ...] = ()
    verification_numbers: tuple[str, ...] = ()
    lamp: bool | None = None
    faults: tuple[FaultDoc, ...] = ()
    notes: tuple[str, ...] = ()
    attempt: int = 1
    attempts: int = 1

    @property
    def counts(self) -> bool:
        """The last try is the one that the job is judged by."""
        return self.attempt == self.attempts

    @model_serializer(mode="wrap")
    def _only_try_unsaid(self, write: SerializerFunctionWrapHandler) -> dict[str, object]:
        made: dict[str, object] = write(self)
        only = ("attempt", "attempts") if self.attempts == 1 else ()
        return {key: value for key, value in made.items() if key not in only}


class JobFindings(Document):
    """One job from first read-out to hand-over.

    proofs, anyway, remarks: of a job that kept a record; not written where empty, so that a job without one makes the
    document it always made. remarks: what the record says that a reader should know.
    """

    kind: Literal["job"] = "job"
    verdict: Answer
    reasons: tuple[str, ...]
    made: str
    version: str
    title: str
    people: People
    vin: str | None
    calibration_before: tuple[str, ...]
    calibration_after: tuple[str, ...]
    plan: PlanFindings
    chapters: tuple[Chapter, ...]
    confirmations: tuple[Confirmation, ...]
    cautions: tuple[TextLine, ...]
    proofs: tuple[Proof, ...] = Field(default=(), exclude_if=_empty)
    anyway: tuple[AnywayDoc, ...] = Field(default=(), exclude_if=_empty)
    remarks: tuple[str, ...] = Field(default=(), exclude_if=_empty)

    @property
    def outcome(self) -> Outcome:
        return Outcome(self.verdict)
