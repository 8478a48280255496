"""Any findings document from its JSON text: the one place that knows every kind."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, TypeAdapter

from relearn.findings.answers import AirFindings, IdentityFindings, ReadyFindings, SettleFindings, SupplyFindings
from relearn.findings.base import Document
from relearn.findings.compare import CompareFindings
from relearn.findings.job import JobFindings
from relearn.findings.plan import PlanFindings
from relearn.findings.record import AddedFindings, JobsFindings, NextFindings, StatusFindings, VerifyFindings
from relearn.findings.show import ShowFindings
from relearn.findings.steps import StepsFindings
from relearn.findings.survey import SurveyFindings

Findings = Annotated[
    PlanFindings
    | ShowFindings
    | ReadyFindings
    | StepsFindings
    | SettleFindings
    | SupplyFindings
    | IdentityFindings
    | AirFindings
    | JobFindings
    | AddedFindings
    | NextFindings
    | StatusFindings
    | VerifyFindings
    | JobsFindings
    | CompareFindings
    | SurveyFindings,
    Field(discriminator="kind"),
]
ADAPTER: TypeAdapter[Findings] = TypeAdapter(Findings)


def from_json(text: str | bytes) -> Document:
    """The same document again; pydantic.ValidationError where the text is no findings document."""
    return ADAPTER.validate_json(text)
