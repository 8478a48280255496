"""Did the idle settle? As a document."""

from __future__ import annotations

from typing import Any

from relearn.analysis.common import (
    engine_module,
    fault_docs,
    first_evidence,
    judgements,
    others_with_engine_speed,
    source,
    view,
)
from relearn.checks.extras import Extra
from relearn.checks.hunting import Swing
from relearn.checks.idle_speed import Steady
from relearn.checks.settle import Settling
from relearn.checks.settle import settle as judge
from relearn.findings.answers import EpisodeRow, HuntingDoc, IdleReading, SettleFindings, StopRow
from relearn.procedures.sheets import Sheet
from relearn.recording import Recording
from relearn.verdict import Limits, Verdict


def settle(recording: Recording, sheet: Sheet, module: str | None = None) -> SettleFindings:
    """The verdict on the last idle episode long enough. An unknown module is a ChoiceError."""
    name = engine_module(recording, module)
    return _document(recording, name, sheet, judge(view(recording, name), sheet, target(sheet)))


def target(sheet: Sheet) -> Limits | None:
    """The speed window: target ± tolerance, None where the sheet has no target."""
    return sheet.around("idle.target_rpm", "idle.tolerance_rpm")


def _document(recording: Recording, name: str, sheet: Sheet, found: Settling) -> SettleFindings:
    window, steady = found.target, found.steady
    middle, half = _centre(window)
    return SettleFindings(
        verdict=found.verdict.outcome.value,
        reasons=(found.verdict.reason, *found.remarks),
        sheet=sheet.title,
        source=source(recording, name),
        parts=judgements(found.verdict),
        faults=fault_docs(recording.faults),
        notes=(*recording.notes, *others_with_engine_speed(recording, name)),
        target_rpm=middle,
        tolerance_rpm=half,
        target_standing=window.standing if window is not None else "",
        settle_s=_round(found.settle_s),
        settle_uncertainty_s=_round(found.settle_uncertainty_s),
        **_steadiness(steady),
        samples=steady.samples if steady is not None else 0,
        strays_s=tuple(round(t, 3) for t in found.strays),
        readings=tuple(_reading(one) for one in found.extras),
        episodes=tuple(
            EpisodeRow(
                began=one.began,
                from_s=round(one.from_s, 3),
                to_s=round(one.to_s, 3),
                ended=one.ended,
                judged=one == found.judged,
            )
            for one in found.episodes
        ),
        stops=tuple(
            StopRow(kind=one.kind, time_s=round(one.time_s, 3), restarted_s=_round(one.restarted_s))
            for one in found.stops
        ),
    )


def _steadiness(steady: Steady | None) -> dict[str, Any]:
    """The fields of SettleFindings that tell how steady the speed was; all None where no idle was judged."""
    if steady is None:
        return dict.fromkeys(("mean_rpm", "sd_rpm", "min_rpm", "max_rpm", "drift_rpm_per_min", "hunting", "judged_s"))
    return {
        "mean_rpm": _round(steady.mean_rpm),
        "sd_rpm": _round(steady.sd_rpm),
        "min_rpm": _round(steady.min_rpm),
        "max_rpm": _round(steady.max_rpm),
        "drift_rpm_per_min": _round(steady.drift_rpm_per_min),
        "hunting": _hunting(steady.hunting),
        "judged_s": (round(steady.from_s, 3), round(steady.to_s, 3)),
    }


def _hunting(swing: Swing | None) -> HuntingDoc | None:
    if swing is None:
        return None
    return HuntingDoc(
        frequency_hz=_round(swing.frequency_hz),
        amplitude_rpm=round(swing.amplitude_rpm, 2),
        false_alarm=swing.false_alarm,
    )


def _centre(window: Limits | None) -> tuple[float | None, float | None]:
    if window is None or window.low is None or window.high is None:
        return None, None
    return (window.low + window.high) / 2, (window.high - window.low) / 2


def _reading(one: Extra) -> IdleReading:
    verdict: Verdict | None = one.verdict
    shown = first_evidence(verdict) if verdict is not None else None
    return IdleReading(
        id=one.id,
        unit=one.unit,
        mean=_round(one.mean),
        sd=_round(one.sd),
        state=one.state,
        verdict=verdict.outcome.value if verdict is not None else None,
        reason=verdict.reason if verdict else None,
        limits=shown.limits if shown is not None else (None, None),
        standing=shown.standing if shown is not None else "",
    )


def _round(value: float | None) -> float | None:
    return round(value, 3) if value is not None else None
