"""What a survey can ask of one capture: the document of the question, and its key numbers for the row."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from relearn.analysis import air as air_of
from relearn.analysis import ready as ready_of
from relearn.analysis import settle as settle_of
from relearn.analysis import steps as steps_of
from relearn.analysis import supply as supply_of
from relearn.analysis.common import engine_module, fault_docs, judgements, source, view
from relearn.capture import sha256 as sha256_of
from relearn.checks.identity import latest, read_vin
from relearn.checks.idle import engine_speed
from relearn.errors import ChoiceError
from relearn.findings.answers import ReadyFindings, SettleFindings, SupplyFindings
from relearn.findings.base import Judged
from relearn.j1979 import columns as tables
from relearn.j1979.identity import vin_check
from relearn.procedures.loader import procedure
from relearn.procedures.sheets import Sheet
from relearn.recording import Recording
from relearn.survey.columns import UNTOLD, Cell
from relearn.verdict import Outcome, Verdict, combine

Numbers = Mapping[str, Cell]


@dataclass(frozen=True)
class Asked:
    """What every capture is asked. All of it can be sent to a worker.

    relearn: '' where the question needs none. marks: all of it under the names of columns.ASKED, as every row of such a
    survey has it. database, mapping: absolute, read by every worker. module: None for the engine's.
    """

    question: str
    relearn: str
    sheet: Sheet
    marks: Mapping[str, str]
    database: Path | None = None
    mapping: Path | None = None
    module: str | None = None


def asked(
    question: str,
    relearn: str | None,
    sheet: Sheet,
    database: Path | None = None,
    mapping: Path | None = None,
    module: str | None = None,
) -> Asked:
    """ChoiceError: no such question or relearn, a relearn where none is asked, or none where one is. SheetError: a
    database or map that cannot be used, which is said once and not of every capture."""
    if question not in QUESTIONS:
        raise ChoiceError(f"there is no survey for '{question}'", remedy=f"choose one of {', '.join(QUESTIONS)}")
    if question not in OF_A_RELEARN and relearn is not None:
        raise ChoiceError(f"{question} is not asked of a relearn", remedy="leave --relearn out")
    if question in OF_A_RELEARN:
        _known(question, relearn, sheet)
    marks = {
        "question": question,
        "relearn": relearn or "",
        "sheet_sha256": fingerprint(sheet),
        "dbc_sha256": _database_hash(database),
        "map_sha256": _map_hash(mapping, database),
        "module_asked": module or "",
    }
    return Asked(question, relearn or "", sheet, marks, _absolute(database), _absolute(mapping), module)


def fingerprint(sheet: Sheet) -> str:
    """SHA-256 of every number of the sheet with its standing, the generic ones below it too; comments do not count."""
    content = (sheet.title, sheet.source, sorted(sheet.facts.items()), sorted(sheet.steps.items()), sorted(sheet.own))
    return sha256(repr(content).encode()).hexdigest()


def _database_hash(path: Path | None) -> str:
    if path is None:
        return ""
    from relearn.j1979 import dbc  # cantools takes long to import, and most surveys need no database

    dbc.database(path)
    return sha256_of(path)


def _map_hash(path: Path | None, database: Path | None) -> str:
    if path is None:
        return ""
    if not tables.load_map(path).columns and database is None:
        raise ChoiceError("this map names the signals of a database", path=path, remedy="give the database too")
    return sha256_of(path)


def _absolute(path: Path | None) -> Path | None:
    return path.absolute() if path is not None else None


def _known(question: str, relearn: str | None, sheet: Sheet) -> None:
    if relearn is None:
        raise ChoiceError(f"{question} is asked of a relearn", remedy="name it with --relearn")
    if question == "steps":
        steps_of.course(relearn, sheet)
    else:
        procedure(relearn)


def _ready(recording: Recording, ask: Asked) -> tuple[Judged, Numbers]:
    found = ready_of.ready(recording, ask.relearn, ask.sheet, ask.module)
    return found, {
        "not_met": _names(found, "no"),
        "not_told": _names(found, "cannot tell"),
        "not_shown": ", ".join(one.id for one in found.by_eye if one.why),
        "engine_speed_rpm": _value(found, "engine_speed"),
        "supply_v": _value(found, "control_module_voltage"),
        "coolant_c": _value(found, "coolant_temperature"),
        "ready_s": _ready_s(found),
        "warm_up_s": found.warm_up.reach_s if found.warm_up is not None and found.warm_up.trusted else None,
    }


def _ready_s(found: ReadyFindings) -> float | None:
    """None where it was never ready and a precondition could not be told: then nobody knows whether it was."""
    told = found.preconditions and all(one.verdict != UNTOLD for one in found.preconditions)
    lengths_s = [to_s - from_s for from_s, to_s in found.ready_spans_s]
    return round(sum(lengths_s), 3) if told or lengths_s else None


def _names(found: ReadyFindings, verdict: str) -> str:
    return ", ".join(one.id for one in found.preconditions if one.verdict == verdict)


def _steps(recording: Recording, ask: Asked) -> tuple[Judged, Numbers]:
    found = steps_of.steps(recording, ask.relearn, ask.sheet, ask.module)
    verdicts = [one.verdict for one in found.steps]
    told = any(one != UNTOLD for one in verdicts)
    return found, {
        "steps_done": verdicts.count("yes") if told else None,
        "steps_wrong": verdicts.count("no") if told else None,
        "steps_not_told": verdicts.count(UNTOLD) if verdicts else None,
        "trouble": next(iter(found.troubles), ""),
    }


def _settle(recording: Recording, ask: Asked) -> tuple[Judged, Numbers]:
    found = settle_of.settle(recording, ask.sheet, ask.module)
    return found, {
        "mean_rpm": found.mean_rpm,
        "sd_rpm": found.sd_rpm,
        "settle_s": found.settle_s,
        "drift_rpm_per_min": found.drift_rpm_per_min,
        "hunting_amplitude_rpm": found.hunting.amplitude_rpm if found.hunting is not None else None,
        "hunting_hz": found.hunting.frequency_hz if found.hunting is not None else None,
        "stalls": sum(one.kind == "stalled" for one in found.stops) if _ran(recording, found) else None,
    }


def _ran(recording: Recording, found: SettleFindings) -> bool:
    """Whether a running engine was measured, more than once: else there was nothing that could be seen to stall."""
    speed = engine_speed(view(recording, found.source.module or ""))
    return speed is not None and int((speed.value > 0).sum()) > 1


def _supply(recording: Recording, ask: Asked) -> tuple[Judged, Numbers]:
    found = supply_of.supply(recording, ask.sheet, module=ask.module)
    last = found.last_minute
    return found, {
        "share_inside": found.share_inside,
        "worst_v": _farthest(found),
        "sags": len(found.sags) if last is not None else None,
        "surges": len(found.surges) if last is not None else None,
        "last_minute_mean_v": last.mean_v if last is not None else None,
        "last_minute_sd_v": last.sd_v if last is not None else None,
    }


def _farthest(found: SupplyFindings) -> float | None:
    """The voltage of the deepest sag or surge; None where it never left the window."""
    return max(((one.depth_v, one.worst_v) for one in (*found.sags, *found.surges)), default=(0.0, None))[1]


def _air(recording: Recording, ask: Asked) -> tuple[Judged, Numbers]:
    found = air_of.air(recording, ask.sheet, ask.module)
    return found, {
        "trims_idle_percent": _value(found, "trim_sum", "trims at idle"),
        "trims_2500_percent": _value(found, "trim_sum", "trims at about 2,500 rpm"),
        "airflow_per_litre": _value(found, "airflow_per_litre"),
        "would_settle": found.would_settle,
    }


def _identity(recording: Recording, ask: Asked) -> tuple[Judged, Numbers]:
    """Who the engine module says it is. One capture cannot show that anything changed, so the question here is whether
    it could be read: yes with a well-formed VIN and a calibration, no for a VIN that no car has."""
    engine = engine_module(recording, ask.module)
    vin = read_vin(recording.identity, engine) or ""
    calibrations = [one for one in latest(recording.identity, engine, "calibration") if one]
    parts = (_vin_read(vin), _calibration_read(calibrations))
    outcome = combine(one.outcome for one in parts)
    reason = "; ".join(one.reason for one in parts if one.outcome is outcome)
    found = Judged(
        verdict=outcome.value,
        reasons=(reason,),
        sheet="",
        source=source(recording, engine),
        parts=judgements(Verdict("identity", outcome, reason, children=parts)),
        faults=fault_docs(recording.faults),
        notes=recording.notes,
    )
    return found, {
        "vin": vin,
        "vin_check": vin_check(vin).reason if vin else "",
        "calibrations": ", ".join(calibrations),
        "verification_numbers": ", ".join(latest(recording.identity, engine, "verification_number")),
        "modules": len({one.module for one in recording.identity}) or None,
    }


def _vin_read(vin: str) -> Verdict:
    if not vin:
        return Verdict("vin", Outcome.CANNOT_TELL, "no VIN was read")
    check = vin_check(vin)
    outcome = Outcome.NO if check.outcome is Outcome.NO else Outcome.YES
    return Verdict("vin", outcome, f"VIN {vin}: {check.reason.rstrip('.')}")


def _calibration_read(calibrations: Iterable[str]) -> Verdict:
    read = ", ".join(calibrations)
    if not read:
        return Verdict("calibration", Outcome.CANNOT_TELL, "no calibration was read")
    return Verdict("calibration", Outcome.YES, f"calibration {read}")


def _value(found: Judged, subject: str, part: str | None = None) -> float | None:
    """The number of the first evidence on a subject, of one part or of any; none of a part that could not tell, whose
    number is old or no measurement."""
    values = (
        evidence.value
        for one in found.parts
        if part in (None, one.id) and one.verdict != UNTOLD
        for evidence in one.evidence
        if evidence.subject == subject
    )
    return next((one for one in values if isinstance(one, float)), None)


QUESTIONS: Mapping[str, Callable[[Recording, Asked], tuple[Judged, Numbers]]] = {
    "ready": _ready,
    "steps": _steps,
    "settle": _settle,
    "supply": _supply,
    "identity": _identity,
    "air": _air,
}
OF_A_RELEARN = frozenset({"ready", "steps"})
