"""A whole job: the plan, every capture asked what it was taken for, and one document for the hand-over."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import datetime
from pathlib import Path

from relearn import __version__
from relearn.analysis import job_file
from relearn.analysis.air import air
from relearn.analysis.common import cautions, engine_module, fault_docs, source, view
from relearn.analysis.identity import identity
from relearn.analysis.job_verdict import confirmations, other_cars, overall, refuse_unasked, says
from relearn.analysis.plan import plan
from relearn.analysis.ready import ready
from relearn.analysis.settle import settle, target
from relearn.analysis.show import codes_doc, lamp
from relearn.analysis.steps import steps
from relearn.analysis.supply import supply
from relearn.analysis.traces import trace
from relearn.channels import Channel
from relearn.checks.identity import latest, read_vin
from relearn.checks.supply import source as supply_channel
from relearn.findings.answers import ReadyFindings, SettleFindings
from relearn.findings.base import Judged, TextLine
from relearn.findings.job import AnywayDoc, Chapter, JobFindings, People, Proof
from relearn.findings.plan import PlanFindings
from relearn.procedures.loader import procedure
from relearn.procedures.models import AFTER_WRITE
from relearn.procedures.sheets import Sheet, generic, load_sheet, sheet_path
from relearn.recording import Recording, read
from relearn.verdict import Limits, Outcome

Clock = Callable[[], datetime]


def local_now() -> datetime:
    """The time with this computer's zone."""
    return datetime.now().astimezone()


def job(path: Path, now: Clock = local_now) -> JobFindings:
    """Everything about one job file. `now` gives the report's date, with its zone.

    The verdict combines every answer, every relearn's readiness, and what had to be confirmed by eye; a capture that
    the job lacks makes it a cannot tell. Raises SheetError for the job file, CaptureError for a capture.
    """
    file = job_file.read(path)
    judged = judge(path, file, now=now)
    refuse_unasked(path, file, [one.id for one in judged.confirmations])
    return judged


def judge(path: Path, file: job_file.JobFile, proofs: tuple[Proof, ...] = (), now: Clock = local_now) -> JobFindings:
    """The same of a job whose captures and confirmations come from elsewhere (a record); `path` is its job file.

    proofs: whether each relearn was shown to be done; each is one more answer of the job.
    """
    sheet = job_sheet(path, file.sheet)
    planned = plan(file.events, sheet)
    recordings = _recordings(path, file)
    chapters = _chapters(recordings, _earlier(path, file), planned, sheet, file)
    asked = confirmations(file, planned, chapters)
    before, after = recordings.get("before"), recordings.get("after")
    others = (
        *other_cars(file.vin, {role: vin(one) for role, one in recordings.items()}),
        *((Outcome(one.verdict), says(one)) for one in proofs),
    )
    outcome, reasons = overall(chapters, asked, planned, recordings, others)
    return JobFindings(
        verdict=outcome.value,
        reasons=reasons,
        made=now().isoformat(timespec="seconds"),
        version=__version__,
        title=file.title,
        people=People(**file.people.model_dump()),
        vin=vin(after) or vin(before),
        calibration_before=calibrations(before, file.module),
        calibration_after=calibrations(after, file.module),
        plan=planned,
        chapters=chapters,
        confirmations=asked,
        cautions=_cautions(planned),
        proofs=proofs,
        anyway=tuple(AnywayDoc(**one.model_dump()) for one in file.anyway),
    )


def job_sheet(path: Path, name: str | None) -> Sheet:
    """The sheet that a job file names: none, a packaged one, or a file from the job file's folder."""
    if name is None:
        return generic()
    packaged = sheet_path(name)
    return load_sheet(packaged if packaged.is_absolute() else path.parent / packaged)


def _recordings(path: Path, file: job_file.JobFile) -> Mapping[str, Recording]:
    """Every capture of the job by its role: 'before', 'programming', 'ready.<relearn>', 'steps.<relearn>', 'after'."""
    named = {
        "before": file.captures.before,
        "programming": file.captures.programming,
        **{f"ready.{relearn}": name for relearn, name in file.captures.ready.items()},
        **{f"steps.{relearn}": name for relearn, name in file.captures.steps.items()},
        "after": file.captures.after,
    }
    paths = {role: job_file.beside(path, name, f"captures.{role}") for role, name in named.items() if name is not None}
    return {role: read(capture) for role, capture in paths.items()}


def _earlier(path: Path, file: job_file.JobFile) -> Mapping[str, Sequence[Recording]]:
    """The tries before the last one, by role, oldest first."""
    found: dict[str, list[Recording]] = {}
    for number, one in enumerate(file.earlier):
        found.setdefault(one.role, []).append(read(job_file.beside(path, one.file, f"earlier.{number}.file")))
    return found


def _chapters(
    recordings: Mapping[str, Recording],
    earlier: Mapping[str, Sequence[Recording]],
    planned: PlanFindings,
    sheet: Sheet,
    file: job_file.JobFile,
) -> tuple[Chapter, ...]:
    """A chapter for each capture, in the order of the job; the tries at one thing beside each other, the last last."""
    order = (
        *("before", "programming", f"steps.{AFTER_WRITE}"),
        *(f"{what}.{one.id}" for one in planned.relearns for what in ("ready", "steps")),
        "after",
    )
    extra = [role for role in (*recordings, *earlier) if role not in order]
    made: list[Chapter] = []
    for role in dict.fromkeys((*order, *extra)):
        tries = [*earlier.get(role, ()), *([recordings[role]] if role in recordings else ())]
        for attempt, recording in enumerate(tries, start=1):
            chapter = _chapter(role, {**recordings, role: recording}, sheet, file)
            made.append(chapter.model_copy(update={"attempt": attempt, "attempts": len(tries)}))
    return tuple(made)


def _chapter(role: str, recordings: Mapping[str, Recording], sheet: Sheet, file: job_file.JobFile) -> Chapter:
    recording = recordings[role]
    name = engine_module(recording, file.module if role != "programming" else None)
    answers = answers_of(role, recordings, sheet, file)
    return Chapter(
        role=role,
        source=source(recording, name),
        answers=tuple(answers),
        codes=codes_doc(recording.codes),
        traces=tuple(
            trace(channel, limits, _judged_s(answers)) for channel, limits in _plotted(recording, name, role, sheet)
        ),
        calibrations=latest(recording.identity, name, "calibration"),
        verification_numbers=latest(recording.identity, name, "verification_number"),
        lamp=lamp(view(recording, name)),
        faults=fault_docs(recording.faults),
        notes=recording.notes,
    )


def answers_of(role: str, recordings: Mapping[str, Recording], sheet: Sheet, file: job_file.JobFile) -> list[Judged]:
    """Everything that is asked of a capture taken for this role; of the one before, nothing by itself."""
    recording, module = recordings[role], file.module
    if role == "programming":
        return [supply(recording, sheet)]
    if role.startswith("ready."):
        return [ready(recording, role.removeprefix("ready."), sheet, module)]
    if role.startswith("steps."):
        return [steps(recording, role.removeprefix("steps."), sheet, module)]
    if role == "after":
        before = recordings.get("before")
        compared = [identity(before, recording, file.expected_calibration, module)] if before is not None else []
        return [*compared, settle(recording, sheet, module), air(recording, sheet, module)]
    return []


def _judged_s(answers: Sequence[Judged]) -> tuple[float, float] | None:
    """The span that decided: the judged idle, or the last seconds of a readiness."""
    for answer in answers:
        if isinstance(answer, SettleFindings):
            return answer.judged_s
        if isinstance(answer, ReadyFindings):
            return answer.source.duration_s - answer.hold_s, answer.source.duration_s
    return None


PLOTTED = ("engine_speed", "coolant_temperature", "control_module_voltage")


def _plotted(recording: Recording, name: str, role: str, sheet: Sheet) -> Iterable[tuple[Channel, Limits | None]]:
    channels = view(recording, name).channels
    found = supply_channel(channels)
    if role == "programming":
        return [(found, sheet.limits("supply.programming_v"))] if found is not None else []
    limits = _asked_limits(role, sheet)
    return [(channels[key], limits.get(key)) for key in PLOTTED if key in channels]


def _asked_limits(role: str, sheet: Sheet) -> Mapping[str, Limits | None]:
    """The limits that a capture's own questions hold its channels against; nothing is asked of the one before."""
    if role == "after":
        return {"engine_speed": target(sheet), "coolant_temperature": sheet.limits("warm.coolant_c")}
    if not role.startswith("ready."):
        return {}
    return {
        row.channel: sheet.limits(row.limits)
        for row in procedure(role.removeprefix("ready.")).preconditions
        if row.channel is not None and row.limits is not None
    }


def vin(recording: Recording | None) -> str | None:
    """The VIN a capture holds, the engine module's before any other's (checks.identity.read_vin)."""
    return read_vin(recording.identity, engine_module(recording, None)) if recording is not None else None


def calibrations(recording: Recording | None, module: str | None) -> tuple[str, ...]:
    """The engine module's newest calibration identifications; none without a capture."""
    if recording is None:
        return ()
    return latest(recording.identity, engine_module(recording, module), "calibration")


def _cautions(planned: PlanFindings) -> tuple[TextLine, ...]:
    return cautions([one.id for relearn in planned.relearns for one in relearn.cautions])
