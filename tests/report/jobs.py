"""Findings of invented jobs, made by hand: what the page and the print are tested with."""

from relearn.findings.answers import (
    AirFindings,
    EpisodeRow,
    ExcursionRow,
    HuntingDoc,
    IdentityFindings,
    IdleReading,
    LevelRow,
    ModuleChange,
    PreconditionRow,
    ReadyFindings,
    SettleFindings,
    SteadinessDoc,
    StopRow,
    SupplyFindings,
    WarmUpDoc,
)
from relearn.findings.base import EvidenceDoc, FaultDoc, Judgement, Source, TextLine
from relearn.findings.job import Chapter, Confirmation, JobFindings, People, Trace
from relearn.findings.plan import PlanFindings, RelearnDoc, StepDoc, StepNumberDoc
from relearn.findings.show import CodesDoc

# HTML Living Standard, section 13.1.2: elements that have no end tag.


def source(file: str) -> Source:
    return Source(file=file, sha256="ab" * 32, start="2026-05-18T07:02:10+00:00", duration_s=312.4, module="7E8")


def evidence(standing: str) -> EvidenceDoc:
    return EvidenceDoc(
        subject="coolant_temperature",
        value=62.0,
        unit="°C",
        limits=(70.0, 100.0),
        margin=-8.0,
        first_s=12.0,
        last_s=22.0,
        samples=10,
        frames=(6921, 7315),
        standing=standing,
    )


FAULTS = tuple(
    FaultDoc(kind="lost-frame", text=f"frame {n} was lost", module="7E8", time_s=1.0, frames=(n, n), count=2)
    for n in range(1, 15)
)
READY = ReadyFindings(
    verdict="no",
    reasons=("coolant is cold",),
    sheet="Generic limits",
    source=source("idle.log"),
    parts=(
        Judgement(
            id="coolant-warm", verdict="no", reason="coolant-warm: too cold", evidence=(evidence("of the trade"),)
        ),
    ),
    faults=FAULTS[:1],
    notes=("read with patience",),
    relearn="idle-air-volume",
    title="Idle air volume",
    hold_s=10.0,
    preconditions=(
        PreconditionRow(
            id="coolant-warm",
            text="coolant is warm",
            verdict="no",
            reason="too cold",
            value=62.0,
            unit="°C",
            limits=(70.0, 100.0),
            margin=-8.0,
            first_s=12.0,
            last_s=22.0,
            samples=10,
            frames=(6921, 7315),
            standing="of the trade",
        ),
    ),
    by_eye=(TextLine(id="blower-off", text="blower off", standing="seen, not measured"),),
    ready_spans_s=((1.0, 2.0),),
    warm_up=WarmUpDoc(target_c=70.0, reach_s=171.3, low_s=160.0, high_s=183.0, trusted=False, reason="too short"),
    cautions=(),
)
SETTLE = SettleFindings(
    verdict="cannot tell",
    reasons=("no target idle speed",),
    sheet="Generic limits",
    source=source("after.log"),
    parts=(
        Judgement(
            id="speed",
            verdict="cannot tell",
            reason="no target",
            parts=(Judgement(id="stay", verdict="yes", reason="steady", evidence=(evidence("deep inside"),)),),
        ),
    ),
    target_rpm=650.0,
    tolerance_rpm=50.0,
    target_standing="from the sheet",
    settle_s=2.5,
    settle_uncertainty_s=0.1,
    mean_rpm=652.0,
    sd_rpm=5.5,
    min_rpm=604.0,
    max_rpm=690.0,
    drift_rpm_per_min=-0.25,
    hunting=HuntingDoc(frequency_hz=0.42, amplitude_rpm=70.0, false_alarm=1e-9),
    judged_s=(60.0, 149.0),
    samples=829,
    strays_s=(61.5,),
    readings=(
        IdleReading(
            id="ignition_timing",
            unit="°",
            mean=15.0,
            sd=0.3,
            state=None,
            verdict="yes",
            reason="inside",
            limits=(10.0, 20.0),
            standing="from memory",
        ),
    ),
    episodes=(EpisodeRow(began="pedal-released", from_s=60.0, to_s=149.0, ended="capture-end", judged=True),),
    stops=(StopRow(kind="stalled", time_s=150.5, restarted_s=None),),
)
SUPPLY = SupplyFindings(
    verdict="no",
    reasons=("1 sag",),
    sheet="Generic limits",
    source=source("supply.csv"),
    channel="battery_voltage",
    limits=(12.0, 13.5),
    standing="common practice",
    surges=(),
    share_inside=0.9689,
    sags=(ExcursionRow(start_s=222.0, length_s=12.0, worst_v=11.25, depth_v=0.75, samples=12, frames=(224, 235)),),
    last_minute=SteadinessDoc(span_s=60.0, mean_v=13.13, sd_v=0.688, min_v=11.25, max_v=13.41, samples=61),
)
IDENTITY = IdentityFindings(
    verdict="yes",
    reasons=("calibration changed",),
    sheet="",
    source=source("after.log"),
    before=source("before.log"),
    vin_before="30ZDEML28TD000001",
    vin_after="30ZDEML28TD000001",
    expected="NEW-0203",
    modules=(
        ModuleChange(
            module="7E8",
            name="ECM-EngineControl",
            calibrations_before=("OLD-0107",),
            calibrations_after=("NEW-0203",),
            verification_before=("5A3C91E7",),
            verification_after=(),
            verdict="yes",
            reason="changed",
        ),
    ),
)
AIR = AirFindings(
    verdict="cannot tell",
    reasons=("not enough data",),
    sheet="Generic limits",
    source=source("after.log"),
    points_to="unmetered air",
    would_settle="a smoke test",
    levels=(LevelRow(regime="2500", channel="mass_air_flow", unit="g/s", mean=7.03, sd=0.49, samples=55),),
)
TRACE = Trace(
    channel="engine_speed",
    title="Engine speed",
    unit="rpm",
    time_s=(0.0, 1.0),
    value=(0.0, 700.0),
    limits=(600.0, 700.0),
    judged_s=(0.5, 1.0),
)
PLAN = PlanFindings(
    events=("reprogrammed",),
    sheet="Generic limits",
    programming=None,
    cautions=(),
    have_ready=(TextLine(id="tool", text="a tool", standing="for having ready"),),
    relearns=(
        RelearnDoc(
            id="idle-air-volume",
            title="Idle air volume",
            because=("Module reprogrammed: learned air is gone.",),
            comes_after=(),
            comes_after_why=(TextLine(id="x", text="After the pedal.", standing="an order"),),
            done_before=(),
            measured=(),
            by_eye=(),
            how="By the pedal.",
            afterwards=(),
            cautions=(),
            standing="a relearn",
            steps=(
                StepDoc(
                    id="wait",
                    text="Wait 7 s.",
                    standing="a step",
                    numbers=(StepNumberDoc(name="about_s", value=7.0, unit="s", standing="a number"),),
                ),
            ),
        ),
    ),
)
BEFORE = Chapter(
    role="before",
    source=source("before.log"),
    answers=(),
    traces=(),
    faults=FAULTS,
    lamp=True,
    codes=CodesDoc(stored=("P0171",), pending=()),
    notes=("a note",),
)
JOB = JobFindings(
    verdict="cannot tell",
    reasons=("not confirmed by eye: blower off",),
    made="2026-11-25T07:22:04+01:00",
    version="0.1.0",
    title="Job one",
    people=People(workshop="W", technician="T", customer="C", vehicle="V", order="O"),
    vin="30ZDEML28TD000001",
    calibration_before=("OLD-0107",),
    calibration_after=("NEW-0203",),
    plan=PLAN,
    chapters=(
        BEFORE,
        Chapter(role="programming", source=source("supply.csv"), answers=(SUPPLY,), traces=(TRACE,)),
        Chapter(role="ready.idle-air-volume", source=source("idle.log"), answers=(READY,), traces=(TRACE,)),
        Chapter(role="after", source=source("after.log"), answers=(IDENTITY, SETTLE, AIR), traces=(TRACE,), lamp=False),
    ),
    confirmations=(
        Confirmation(id="blower-off", text="blower off", confirmed_by=None),
        Confirmation(id="straight", text="wheels straight", confirmed_by="T. Person", note="at noon"),
    ),
    cautions=(TextLine(id="fans", text="Fans can start unasked."),),
)
EMPTY = JobFindings(
    verdict="cannot tell",
    reasons=(),
    made="some time",
    version="0",
    title="T",
    people=People(),
    vin=None,
    calibration_before=(),
    calibration_after=(),
    chapters=(),
    confirmations=(),
    cautions=(),
    plan=PlanFindings(events=(), sheet="", have_ready=(), programming=None, relearns=(), cautions=()),
)
