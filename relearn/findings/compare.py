"""The document of two captures' idles side by side. It judges nothing."""

from __future__ import annotations

from typing import Literal

from relearn.findings.base import Answer, Document, FaultDoc, Source


class IdleSide(Document):
    """One capture and its judged idle. missing: why no idle could be judged, None when one was."""

    source: Source
    judged_s: tuple[float, float] | None
    missing: str | None
    faults: tuple[FaultDoc, ...]
    notes: tuple[str, ...]


class LevelDoc(Document):
    """Mean and standard deviation over the judged idle; sd None of a single sample."""

    mean: float
    sd: float | None
    samples: int


class ReadingChange(Document):
    """One reading before and after. changed: by more than `spread`; an equal difference is not a change."""

    id: str
    unit: str
    before: LevelDoc | None
    after: LevelDoc | None
    difference: float | None
    spread: float | None
    changed: Answer


class StateChange(Document):
    """A named state before and after, None where it was not read."""

    id: str
    before: str | None
    after: str | None
    changed: Answer


class CodesChange(Document):
    """One module's trouble codes of one kind; None where a list was not read, which is not the same as no codes."""

    module: str
    kind: Literal["stored", "pending", "permanent"]
    before: tuple[str, ...] | None
    after: tuple[str, ...] | None
    gained: tuple[str, ...] | None
    lost: tuple[str, ...] | None


class CompareFindings(Document):
    """Two idles side by side. rule: when a reading counts as changed, in words."""

    kind: Literal["compare"] = "compare"
    sheet: str
    rule: str
    before: IdleSide
    after: IdleSide
    readings: tuple[ReadingChange, ...]
    states: tuple[StateChange, ...]
    monitors: tuple[StateChange, ...]
    codes: tuple[CodesChange, ...]
    notes: tuple[str, ...] = ()
