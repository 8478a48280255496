"""The document of a whole job."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from relearn.findings.answers import AirFindings, IdentityFindings, ReadyFindings, SettleFindings, SupplyFindings
from relearn.findings.base import Answer, Document, FaultDoc, Range, Source, TextLine
from relearn.findings.plan import PlanFindings
from relearn.findings.show import CodesDoc
from relearn.verdict import Outcome


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

    faults, notes: of this capture, whatever was asked of it.
    """

    role: str
    source: Source
    answers: tuple[
        Annotated[
            ReadyFindings | SettleFindings | SupplyFindings | IdentityFindings | AirFindings,
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


class JobFindings(Document):
    """One job from first read-out to hand-over."""

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

    @property
    def outcome(self) -> Outcome:
        return Outcome(self.verdict)
