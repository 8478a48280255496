"""The documents of the judging questions: ready, settle, supply, identity, air."""

from __future__ import annotations

from typing import Literal

from relearn.findings.base import Answer, Document, Judged, Range, Source, TextLine


class PreconditionRow(Document):
    """One measured precondition of `ready`."""

    id: str
    text: str
    verdict: Answer
    reason: str
    value: float | str | None
    unit: str
    limits: Range
    low_open: bool = False
    margin: float | None
    first_s: float | None
    last_s: float | None
    samples: int
    frames: tuple[int | None, int | None]
    standing: str


class WarmUpDoc(Document):
    """When coolant reaches its window, seconds after the capture's end, with a 95 % interval."""

    target_c: float
    reach_s: float | None
    low_s: float | None
    high_s: float | None
    trusted: bool
    reason: str


class ReadyFindings(Judged):
    """Is the car ready for this relearn at the end of the capture?"""

    kind: Literal["ready"] = "ready"
    relearn: str
    title: str
    hold_s: float
    preconditions: tuple[PreconditionRow, ...]
    by_eye: tuple[TextLine, ...]
    ready_spans_s: tuple[tuple[float, float], ...]
    warm_up: WarmUpDoc | None
    cautions: tuple[TextLine, ...]


class HuntingDoc(Document):
    """The dominant swing; amplitude is half of peak to peak; frequency None where the sampling cannot name it."""

    frequency_hz: float | None
    amplitude_rpm: float
    false_alarm: float


class EpisodeRow(Document):
    """One idle episode and how it began and ended."""

    began: str
    from_s: float
    to_s: float
    ended: str
    judged: bool


class StopRow(Document):
    """One time the engine stopped."""

    kind: str
    time_s: float
    restarted_s: float | None


class IdleReading(Document):
    """One further reading over the judged idle."""

    id: str
    unit: str
    mean: float | None
    sd: float | None
    state: str | None
    verdict: Answer | None
    reason: str | None
    limits: Range
    standing: str


class SettleFindings(Judged):
    """Did the idle settle?"""

    kind: Literal["settle"] = "settle"
    target_rpm: float | None
    tolerance_rpm: float | None
    target_standing: str
    settle_s: float | None
    settle_uncertainty_s: float | None
    mean_rpm: float | None
    sd_rpm: float | None
    min_rpm: float | None
    max_rpm: float | None
    drift_rpm_per_min: float | None
    hunting: HuntingDoc | None
    judged_s: tuple[float, float] | None
    samples: int
    strays_s: tuple[float, ...]
    readings: tuple[IdleReading, ...]
    episodes: tuple[EpisodeRow, ...]
    stops: tuple[StopRow, ...]


class ExcursionRow(Document):
    """One sag or surge."""

    start_s: float
    length_s: float
    worst_v: float
    depth_v: float
    samples: int
    frames: tuple[int, int]


class SteadinessDoc(Document):
    """The last minute of the supply."""

    span_s: float
    mean_v: float
    sd_v: float
    min_v: float
    max_v: float
    samples: int


class SupplyFindings(Judged):
    """Was the supply held?"""

    kind: Literal["supply"] = "supply"
    channel: str | None
    limits: Range
    standing: str
    sags: tuple[ExcursionRow, ...]
    surges: tuple[ExcursionRow, ...]
    share_inside: float | None
    last_minute: SteadinessDoc | None


class ModuleChange(Document):
    """One module before and after the write."""

    module: str
    name: str
    calibrations_before: tuple[str, ...]
    calibrations_after: tuple[str, ...]
    verification_before: tuple[str, ...]
    verification_after: tuple[str, ...]
    verdict: Answer
    reason: str


class IdentityFindings(Judged):
    """Same car, new calibration, the ordered one? `source` is the capture after; `before` the one before."""

    kind: Literal["identity"] = "identity"
    before: Source
    vin_before: str | None
    vin_after: str | None
    expected: str | None
    modules: tuple[ModuleChange, ...]


class LevelRow(Document):
    """A channel's mean at idle or near 2,500 rpm."""

    regime: str
    channel: str
    unit: str
    mean: float
    sd: float
    samples: int


class AirFindings(Judged):
    """Is the engine breathing as it meters?"""

    kind: Literal["air"] = "air"
    points_to: str
    would_settle: str
    levels: tuple[LevelRow, ...]
