"""The document of the steps of a relearn, as a capture shows them."""

from __future__ import annotations

from typing import Literal

from relearn.findings.base import Answer, Document, Judged, Range, TextLine

Span = tuple[float | None, float | None]
Frames = tuple[int | None, int | None]


class MeasuredRow(Document):
    """One quantity of a step against what was asked, with the limits that this was taken for.

    measured: the middle of what the samples leave open, ± uncertainty; the least there was, where the most is not known
    (uncertainty null). standing: whose limits they are.
    """

    what: str
    verdict: Answer
    asked: str
    measured: float
    uncertainty: float | None
    unit: str
    limits: Range
    standing: str
    reason: str


class StepRow(Document):
    """One step that scan data shows. asked, measured, unit, uncertainty_s, standing: of the quantity that decided.

    asked is empty and measured null where seeing it is enough; uncertainty_s is null too where the unit is not seconds.
    span_s: what it took, from the earliest it can have begun to the latest it can have ended, null where the capture
    does not reach. frames: the first and last of it.
    """

    id: str
    text: str
    verdict: Answer
    asked: str
    measured: float | None
    unit: str
    uncertainty_s: float | None
    span_s: Span
    frames: Frames
    standing: str
    reason: str
    quantities: tuple[MeasuredRow, ...] = ()


class StepsFindings(Judged):
    """Were the steps done, in time? by_eye: the steps, and conditions, that no scan data of this module shows.

    troubles: what went wrong, one sentence each, the most likely cause first. tried: whether the capture shows
    anything that nobody does but to relearn; a no without it says that nobody has, and not that it went wrong.
    """

    kind: Literal["steps"] = "steps"
    relearn: str
    title: str
    steps: tuple[StepRow, ...]
    by_eye: tuple[TextLine, ...]
    troubles: tuple[str, ...]
    cautions: tuple[TextLine, ...]
    tried: bool = True
