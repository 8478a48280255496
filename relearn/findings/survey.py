"""The document of many captures at once: how they stand, why, and how their numbers spread. It judges nothing."""

from __future__ import annotations

from typing import Literal

from relearn.findings.base import Answer, Document

Standing = Answer | Literal["unreadable"]


class VerdictCount(Document):
    """How many captures stand like this; share: of all."""

    verdict: Standing
    count: int
    share: float


class ReasonRow(Document):
    """Captures with one verdict that the same part decided ('' for a yes). reason, file: of the first of them."""

    verdict: Standing
    decided_by: str
    count: int
    reason: str
    folder: str
    file: str


class MarginRow(Document):
    """Captures whose worst margin lies in the same part: how many, the worst, its file, and the middle one."""

    part: str
    unit: str
    count: int
    worst: float
    median: float
    folder: str
    file: str


class NumberRow(Document):
    """One key number over all captures that have it: lowest, middle and highest."""

    name: str
    words: str
    unit: str
    count: int
    low: float
    median: float
    high: float


class ValueRow(Document):
    """Captures in which one key text is the same; words: what it says."""

    name: str
    words: str
    value: str
    count: int


class Spread(Document):
    """How one number spreads. edges: of the bins, one more than there are bins; counts: in each bin, by verdict."""

    name: str
    words: str
    unit: str
    edges: tuple[float, ...]
    counts: dict[Standing, tuple[int, ...]]


class FileRow(Document):
    """One capture and what there is to say of it."""

    folder: str
    file: str
    reason: str = ""
    judged_in_s: float | None = None


class SurveyFindings(Document):
    """A question asked of every capture below some folders.

    captures: how many. kept: how many rows were there already. slowest: those that took longest, the longest first.
    table: where the rows are, None where none were asked for. values: what each text says, most often first. notes:
    what was left out and why, and what the counts do not show.
    """

    kind: Literal["survey"] = "survey"
    question: str
    relearn: str | None
    sheet: str
    version: str
    folders: tuple[str, ...]
    table: str | None
    captures: int
    kept: int
    verdicts: tuple[VerdictCount, ...]
    reasons: tuple[ReasonRow, ...]
    margins: tuple[MarginRow, ...]
    numbers: tuple[NumberRow, ...]
    values: tuple[ValueRow, ...]
    spreads: tuple[Spread, ...]
    slowest: tuple[FileRow, ...]
    unreadable: tuple[FileRow, ...]
    notes: tuple[str, ...] = ()
