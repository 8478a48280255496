"""Is the car ready for this relearn at the end of the capture? As a document."""

from __future__ import annotations

from relearn.analysis.common import (
    cautions,
    engine_module,
    fault_docs,
    first_evidence,
    judgements,
    others_with_codes,
    others_with_engine_speed,
    source,
    view,
)
from relearn.checks.ready import ready as judge
from relearn.checks.view import View
from relearn.checks.warmup import forecast
from relearn.findings.answers import PreconditionRow, ReadyFindings, WarmUpDoc
from relearn.findings.base import TextLine
from relearn.procedures.loader import procedure
from relearn.procedures.say import by_eye
from relearn.procedures.sheets import Sheet
from relearn.recording import Recording
from relearn.verdict import Verdict


def ready(recording: Recording, relearn: str, sheet: Sheet, module: str | None = None) -> ReadyFindings:
    """The verdict on the measured preconditions, what stays by eye, when it was ready, and when coolant will be.

    An unknown relearn or module is a ChoiceError.
    """
    asked, name = procedure(relearn), engine_module(recording, module)
    seen, hold_s = view(recording, name), sheet.need("window.hold_s").low or 0.0
    found = judge(seen, asked.preconditions, sheet, hold_s)
    texts = {one.id: one.text for one in asked.preconditions}
    moved = tuple(TextLine(id=key, text=text, why="the module does not show it") for key, text in found.moved)
    return ReadyFindings(
        verdict=found.verdict.outcome.value,
        reasons=(found.verdict.reason,),
        sheet=sheet.title,
        source=source(recording, name),
        parts=judgements(found.verdict),
        faults=fault_docs(recording.faults),
        notes=(*recording.notes, *others_with_engine_speed(recording, name), *others_with_codes(recording, name)),
        relearn=asked.id,
        title=asked.title,
        hold_s=hold_s,
        preconditions=tuple(_row(child, texts[child.id]) for child in found.verdict.children),
        by_eye=(*moved, *(TextLine(id=one.id, text=one.text, standing=one.standing) for one in by_eye(asked, sheet))),
        ready_spans_s=tuple((round(a, 3), round(b, 3)) for a, b in found.spans),
        warm_up=_warm_up(seen, sheet) if "coolant-warm" in texts else None,
        cautions=cautions(asked.cautions),
    )


def _row(verdict: Verdict, text: str) -> PreconditionRow:
    shown = first_evidence(verdict)
    return PreconditionRow(
        id=verdict.id,
        text=text,
        verdict=verdict.outcome.value,
        reason=verdict.reason,
        value=shown.value,
        unit=shown.unit,
        limits=shown.limits,
        low_open=shown.low_open,
        margin=shown.margin,
        first_s=shown.first_s,
        last_s=shown.last_s,
        samples=shown.samples,
        frames=shown.frames,
        standing=shown.standing,
    )


def _warm_up(seen: View, sheet: Sheet) -> WarmUpDoc | None:
    coolant, target = seen.channels.get("coolant_temperature"), sheet.need("warm.coolant_c").low
    found = forecast(coolant, target, seen.end_s) if coolant is not None and target is not None else None
    if found is None:
        return None
    return WarmUpDoc(
        target_c=found.target_c,
        reach_s=_round(found.reach_s),
        low_s=_round(found.low_s),
        high_s=_round(found.high_s),
        trusted=found.trusted,
        reason=found.reason,
    )


def _round(value_s: float | None) -> float | None:
    return round(value_s, 1) if value_s is not None else None
