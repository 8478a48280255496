"""What all findings documents are made of: evidence, judgements, and where they came from."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Literal

from pydantic import BaseModel, ConfigDict

from relearn.verdict import Evidence, Limits, Outcome, Verdict

YEAR_9999_S = 253_370_764_800.0  # later is no date that Python can write
Answer = Literal["yes", "no", "cannot tell"]
Range = tuple[float | None, float | None]


class Document(BaseModel):
    """Frozen; an unknown key is an error, so that an old program never half-reads a new document. Equal documents have
    one hash, so that they can be kept in a set or as keys."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    def __hash__(self) -> int:
        return hash((type(self), _hashable(dict(self))))


class EvidenceDoc(Document):
    """What decided a judgement: value against limits, margin, the time span and frames, and whose number the limit
    is."""

    subject: str
    value: float | str | None = None
    unit: str = ""
    limits: Range = (None, None)
    low_open: bool = False
    margin: float | None = None
    first_s: float | None = None
    last_s: float | None = None
    samples: int = 0
    frames: tuple[int | None, int | None] = (None, None)
    standing: str = ""

    @classmethod
    def of(cls, evidence: Evidence) -> EvidenceDoc:
        limits = evidence.limits or Limits(None, None, "", "")
        return cls(
            subject=evidence.subject,
            value=_tidy(evidence.value),
            unit=limits.unit,
            limits=(limits.low, limits.high),
            low_open=limits.low_open,
            margin=_tidy(evidence.margin),
            first_s=_tidy(evidence.first_s),
            last_s=_tidy(evidence.last_s),
            samples=evidence.samples,
            frames=(evidence.first_frame, evidence.last_frame),
            standing=limits.standing,
        )

    def window(self) -> Limits:
        """The limits again as verdict.Limits, for their wording."""
        return Limits(*self.limits, self.unit, self.standing, self.low_open)


class Judgement(Document):
    """A verdict with its sentence, evidence and parts."""

    id: str
    verdict: Answer
    reason: str
    evidence: tuple[EvidenceDoc, ...] = ()
    parts: tuple[Judgement, ...] = ()

    @classmethod
    def of(cls, verdict: Verdict) -> Judgement:
        return cls(
            id=verdict.id,
            verdict=verdict.outcome.value,
            reason=verdict.reason,
            evidence=tuple(EvidenceDoc.of(one) for one in verdict.evidence),
            parts=tuple(cls.of(child) for child in verdict.children),
        )


class Source(Document):
    """The capture behind a document: file name, hash, wall-clock start (ISO 8601, UTC) if it has one, duration,
    module."""

    file: str
    sha256: str
    start: str | None
    duration_s: float
    module: str | None = None


class FaultDoc(Document):
    """One thing wrong inside a usable capture (faults.Fault)."""

    kind: str
    text: str
    module: str | None = None
    time_s: float | None = None
    frames: tuple[int | None, int | None] = (None, None)
    count: int = 1


class TextLine(Document):
    """Something to have, hold, do or confirm, and where it comes from. why: why it is left to the eye, where it is."""

    id: str
    text: str
    standing: str = ""
    why: str = ""


class Judged(Document):
    """What every judging document has."""

    verdict: Answer
    reasons: tuple[str, ...]
    sheet: str
    source: Source
    parts: tuple[Judgement, ...] = ()
    faults: tuple[FaultDoc, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def outcome(self) -> Outcome:
        return Outcome(self.verdict)


def wall_clock(start_unix_s: float | None) -> str | None:
    """ISO 8601 in UTC, to the second; None stays None."""
    if start_unix_s is None or not 0 <= start_unix_s < YEAR_9999_S:
        return None
    return datetime.fromtimestamp(start_unix_s, UTC).isoformat(timespec="seconds")


def _hashable(value: object) -> object:
    """A field's value for a hash: a mapping in whatever order its keys came."""
    if isinstance(value, Mapping):
        return frozenset((key, _hashable(inner)) for key, inner in value.items())
    return tuple(map(_hashable, value)) if isinstance(value, list | tuple) else value


def _tidy(value: float | str | None) -> float | str | None:
    """Floats to six decimals, so that JSON carries no binary dust."""
    return round(value, 6) if isinstance(value, float) else value


def to_json(document: Document) -> str:
    """The document as one JSON text, two spaces deep, ending in a newline."""
    return document.model_dump_json(indent=2, ensure_ascii=True) + "\n"
