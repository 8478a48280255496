"""The document of a plan."""

from __future__ import annotations

from typing import Literal

from relearn.findings.base import Document, TextLine


class MeasuredLine(TextLine):
    """A precondition that scan data shows, with its limits in words."""

    limits: str
    unit: str


class StepNumberDoc(Document):
    """One number of a step and whose it is."""

    name: str
    value: float
    unit: str
    standing: str


class StepDoc(TextLine):
    """One timed step."""

    numbers: tuple[StepNumberDoc, ...] = ()


class RelearnDoc(Document):
    """One planned relearn. comes_after: identifiers of this plan; comes_after_why: the sentences; done_before: what
    must already be in order."""

    id: str
    title: str
    because: tuple[str, ...]
    comes_after: tuple[str, ...]
    comes_after_why: tuple[TextLine, ...]
    done_before: tuple[TextLine, ...]
    measured: tuple[MeasuredLine, ...]
    by_eye: tuple[TextLine, ...]
    how: str
    steps: tuple[StepDoc, ...]
    afterwards: tuple[MeasuredLine, ...]
    cautions: tuple[TextLine, ...]
    standing: str


class ProgrammingDoc(Document):
    """Everything about writing the module."""

    while_writing: tuple[TextLine, ...]
    upsets_the_supply: tuple[TextLine, ...]
    after_write: tuple[StepDoc, ...]
    if_the_write_fails: tuple[TextLine, ...]
    if_no_newer_file: tuple[TextLine, ...]
    read_back: tuple[TextLine, ...]
    customer_gets: tuple[TextLine, ...]


class PlanFindings(Document):
    """The job in the order in which it is done."""

    kind: Literal["plan"] = "plan"
    events: tuple[str, ...]
    sheet: str
    have_ready: tuple[TextLine, ...]
    programming: ProgrammingDoc | None
    relearns: tuple[RelearnDoc, ...]
    cautions: tuple[TextLine, ...]
