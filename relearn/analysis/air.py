"""Is the engine breathing as it meters? As a document."""

from __future__ import annotations

from relearn.analysis.common import engine_module, fault_docs, judgements, others_with_engine_speed, source, view
from relearn.checks.air import air as judge
from relearn.findings.answers import AirFindings, LevelRow
from relearn.procedures.sheets import Sheet
from relearn.recording import Recording


def air(recording: Recording, sheet: Sheet, module: str | None = None) -> AirFindings:
    """The verdict on trims and airflow, which way the evidence points, and what would settle it."""
    name = engine_module(recording, module)
    found = judge(view(recording, name), sheet)
    return AirFindings(
        verdict=found.verdict.outcome.value,
        reasons=(found.points_to,),
        sheet=sheet.title,
        source=source(recording, name),
        parts=judgements(found.verdict),
        faults=fault_docs(recording.faults),
        notes=(*recording.notes, *others_with_engine_speed(recording, name)),
        points_to=found.points_to,
        would_settle=found.would_settle,
        levels=tuple(
            LevelRow(
                regime=one.regime,
                channel=one.channel,
                unit=one.unit,
                mean=round(one.mean, 4),
                sd=round(one.sd, 4),
                samples=one.samples,
            )
            for one in found.levels
        ),
    )
