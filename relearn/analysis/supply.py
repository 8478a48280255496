"""Was the supply held? As a document."""

from __future__ import annotations

import math

from relearn.analysis.common import engine_module, fault_docs, judgements, source, view
from relearn.checks.supply import Excursion
from relearn.checks.supply import source as supply_channel
from relearn.checks.supply import supply as judge
from relearn.errors import ChoiceError
from relearn.findings.answers import ExcursionRow, SteadinessDoc, SupplyFindings
from relearn.procedures.sheets import Sheet
from relearn.recording import Recording
from relearn.verdict import Limits


def supply(
    recording: Recording,
    sheet: Sheet,
    low_v: float | None = None,
    high_v: float | None = None,
    module: str | None = None,
) -> SupplyFindings:
    """The verdict on the supply over the whole recording; low_v and high_v come before the sheet's window."""
    name = engine_module(recording, module)
    window = _window(sheet.need("supply.programming_v"), low_v, high_v)
    found = judge(supply_channel(view(recording, name).channels), window, recording.duration_s)
    last = found.last_minute
    return SupplyFindings(
        verdict=found.verdict.outcome.value,
        reasons=(found.verdict.reason,),
        sheet=sheet.title,
        source=source(recording, name),
        parts=judgements(found.verdict),
        faults=fault_docs(recording.faults),
        notes=recording.notes,
        channel=found.channel,
        limits=(window.low, window.high),
        standing=window.standing,
        sags=tuple(_row(one) for one in found.sags),
        surges=tuple(_row(one) for one in found.surges),
        share_inside=round(found.share_inside, 6) if found.share_inside is not None else None,
        last_minute=SteadinessDoc(
            span_s=round(last.span_s, 3),
            mean_v=round(last.mean_v, 4),
            sd_v=round(last.sd_v, 4),
            min_v=round(last.min_v, 4),
            max_v=round(last.max_v, 4),
            samples=last.samples,
        )
        if last is not None
        else None,
    )


def _window(generic: Limits, low_v: float | None, high_v: float | None) -> Limits:
    """Ends given by hand replace the sheet's, and the standing says so; upside down or no number: ChoiceError."""
    if low_v is None and high_v is None:
        return generic
    given = [f"{word} {value:g} V" for word, value in (("low", low_v), ("high", high_v)) if value is not None]
    standing = f"{' and '.join(given)} given on the command line"
    if low_v is None or high_v is None:
        standing += f", the other end: {generic.standing}"
    low, high = generic.low if low_v is None else low_v, generic.high if high_v is None else high_v
    if low is None or high is None or not -math.inf < low <= high < math.inf:
        raise ChoiceError(f"a window from {low} to {high} V holds nothing", remedy="give --low and --high that fit")
    return Limits(low, high, "V", standing)


def _row(one: Excursion) -> ExcursionRow:
    return ExcursionRow(
        start_s=round(one.start_s, 3),
        length_s=round(one.length_s, 3),
        worst_v=round(one.worst_v, 4),
        depth_v=round(one.depth_v, 4),
        samples=one.samples,
        frames=(one.first_frame, one.last_frame),
    )
