"""Same car, new calibration, the ordered one? As a document."""

from __future__ import annotations

from relearn.analysis.common import engine_module, fault_docs, judgements, source
from relearn.checks.identity import ModuleIdentity, compare
from relearn.findings.answers import IdentityFindings, ModuleChange
from relearn.recording import Recording


def identity(
    before: Recording, after: Recording, expected: str | None = None, module: str | None = None
) -> IdentityFindings:
    """The verdict on two captures' identifications, for every module that answered in either."""
    engine = engine_module(after, module)
    found = compare(before.identity, after.identity, engine or None, expected)
    return IdentityFindings(
        verdict=found.verdict.outcome.value,
        reasons=(found.verdict.reason,),
        sheet="",
        source=source(after, engine),
        parts=judgements(found.verdict),
        faults=fault_docs((*before.faults, *after.faults)),
        notes=(*before.notes, *after.notes),
        before=source(before, engine),
        vin_before=found.vin_before,
        vin_after=found.vin_after,
        expected=expected,
        modules=tuple(_change(one) for one in found.modules),
    )


def _change(one: ModuleIdentity) -> ModuleChange:
    return ModuleChange(
        module=one.module,
        name=one.name,
        calibrations_before=one.calibrations_before,
        calibrations_after=one.calibrations_after,
        verification_before=one.verification_before,
        verification_after=one.verification_after,
        verdict=one.verdict.outcome.value,
        reason=one.verdict.reason,
    )
