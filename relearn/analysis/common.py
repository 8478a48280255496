"""What every question needs first: which module is the engine's, its view, and the documents of sources and faults."""

from __future__ import annotations

import os
from collections.abc import Sequence

from relearn.capture.keep import USUAL_ENGINE, module_name
from relearn.channels import Channel, by_name
from relearn.checks.view import View
from relearn.errors import ChoiceError
from relearn.faults import Fault
from relearn.findings.base import EvidenceDoc, FaultDoc, Judgement, Source, TextLine, wall_clock
from relearn.j1979.series import BROADCAST
from relearn.procedures.loader import catalogue
from relearn.recording import Recording
from relearn.verdict import Evidence, Verdict

LAMP = "malfunction_lamp"
ENGINE_NAMES = tuple(map(module_name, USUAL_ENGINE))


def engine_module(recording: Recording, wanted: str | None) -> str:
    """The module to judge: the wanted one, else the one that answers engine speed, else the usual identifier.

    Of several that answer engine speed the usual identifier, else the lowest. A wanted module that never answered is a
    ChoiceError.
    """
    if wanted is not None:
        return _wanted(recording, wanted)
    candidates = sorted(_with_channel(recording, "engine_speed"), key=_usual_first)
    usual = [name for name in ENGINE_NAMES if name in recording.modules]
    return (*candidates, *usual, *recording.modules, "")[0]


def _with_channel(recording: Recording, channel: str) -> frozenset[str]:
    """The modules that brought at least one value of a channel."""
    return frozenset(one.module for one in recording.series if one.signal.name == channel and len(one))


def _usual_first(module: str) -> tuple[bool, int, str]:
    """The usual identifier before any other, then the lowest."""
    return module not in ENGINE_NAMES, len(module), module


def _wanted(recording: Recording, wanted: str) -> str:
    name = wanted.lower().removeprefix("0x")
    found = next((module for module in recording.modules if module.lower() == name), None)
    if found is None:
        raise ChoiceError(
            f"no module {wanted} answered in it",
            path=recording.path,
            remedy=f"choose one of {', '.join(recording.modules)}",
        )
    return found


def others_with_engine_speed(recording: Recording, module: str) -> tuple[str, ...]:
    """Said when more than one module answers engine speed, so that nobody takes one for the other."""
    others = sorted(_with_channel(recording, "engine_speed") - {module})
    return (f"engine speed is answered by {module} and {', '.join(others)}; {module} was judged",) if others else ()


def view(recording: Recording, module: str) -> View:
    """One module's side of the recording, judged at the recording's end. Broadcast signals (--dbc) fill in what the
    module was not asked; what it answered itself comes first."""
    channels = {**by_name(recording.series, BROADCAST), **by_name(recording.series, module)}
    return View(
        module,
        channels,
        recording.duration_s,
        recording.support.get(module),
        tuple(one for one in recording.codes if one.module == module),
        recording.traffic.get(module),
        _other_lamps(recording, module),
    )


def _other_lamps(recording: Recording, module: str) -> tuple[Channel, ...]:
    """What the other modules say of the malfunction lamp."""
    others = sorted(_with_channel(recording, LAMP) - {module})
    return tuple(by_name(recording.series, name)[LAMP] for name in others)


def others_with_codes(recording: Recording, module: str) -> tuple[str, ...]:
    """Said when another module holds stored codes: they do not decide for this one, but nobody should miss them."""
    newest = {one.module: one.codes for one in recording.codes if one.kind == "stored" and one.module != module}
    return tuple(f"module {name} holds stored codes: {', '.join(held)}" for name, held in newest.items() if held)


def source(recording: Recording, module: str | None = None) -> Source:
    """The capture behind a document."""
    return Source(
        file=os.fsencode(recording.path.name).decode("utf-8", "backslashreplace"),
        sha256=recording.sha256,
        start=wall_clock(recording.start_unix_s),
        duration_s=round(recording.duration_s, 6),
        module=module,
    )


def fault_docs(faults: Sequence[Fault]) -> tuple[FaultDoc, ...]:
    """Faults as documents, in time order, those without a time first."""
    ordered = sorted(faults, key=lambda fault: (fault.time_s is not None, fault.time_s or 0.0))
    return tuple(
        FaultDoc(
            kind=fault.kind,
            text=fault.text,
            module=fault.module,
            time_s=fault.time_s,
            frames=(fault.first_frame, fault.last_frame),
            count=fault.count,
        )
        for fault in ordered
    )


def judgements(verdict: Verdict) -> tuple[Judgement, ...]:
    """The parts of a verdict as documents; a verdict without parts stands for itself."""
    return tuple(Judgement.of(child) for child in verdict.children or (verdict,))


def first_evidence(verdict: Verdict) -> EvidenceDoc:
    """The deciding evidence, empty where there is none."""
    return EvidenceDoc.of(next(iter(verdict.evidence), Evidence(verdict.id)))


def cautions(identifiers: Sequence[str]) -> tuple[TextLine, ...]:
    """The general cautions, then the named ones, each once."""
    known = catalogue().cautions
    general = [name for name, row in known.items() if row.general]
    return tuple(TextLine(id=name, text=known[name].text) for name in dict.fromkeys((*general, *identifiers)))
