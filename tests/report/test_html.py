"""The hand-over page: whole, escaped, self-contained, reproducible, and saying every verdict and standing."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections import Counter
from html.parser import HTMLParser
from typing import Any
from xml.etree import ElementTree

import pytest

from relearn.findings import from_json, to_json
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
from relearn.report.html import duration, html_page, moment, numbers_come_from
from relearn.report.words import plain

# HTML Living Standard, section 13.1.2: elements that have no end tag.
VOID = {"area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track", "wbr"}
HOSTILE = [
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "]]></style></svg><b>",
    "a\u202eb\x00\x1b[31m\x7f",
    "{{ 7 * 7 }}{% raw %}",
    "$\\frac{",
    "' onclick='x",
]


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


class Page(HTMLParser):
    """What a reader of the HTML standard makes of a page: elements, attributes, text, and that tags balance."""

    def __init__(self, page: str) -> None:
        super().__init__(convert_charrefs=True)
        self.elements: list[str] = []
        self.attributes: list[tuple[str, str | None]] = []
        self.texts: list[str] = []
        self._open: list[str] = []
        self.feed(page)
        self.close()
        assert self._open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append(tag)
        self.attributes += attrs
        if tag not in VOID:
            self._open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append(tag)
        self.attributes += attrs

    def handle_endtag(self, tag: str) -> None:
        assert self._open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.texts.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.texts).split())

    def values(self, name: str) -> list[str]:
        return [value or "" for key, value in self.attributes if key == name]


PAGE = html_page(JOB)
READ = Page(PAGE)


def poisoned(node: Any, poison: str) -> Any:
    """Every text of a dumped document replaced, but for the words that the document's own types fix."""
    if isinstance(node, dict):
        return {key: value if key in ("verdict", "kind") else poisoned(value, poison) for key, value in node.items()}
    if isinstance(node, list | tuple):
        return [poisoned(one, poison) for one in node]
    return poison if isinstance(node, str) else node


@pytest.mark.parametrize("poison", HOSTILE)
def test_hostile_text_in_every_field_stays_text(poison):
    page = html_page(JobFindings.model_validate(poisoned(JOB.model_dump(), poison)))
    read = Page(page)
    assert set(read.elements) <= set(READ.elements)
    assert not [name for name, _ in read.attributes if name.startswith("on")]
    assert all(letter.isprintable() or letter == "\n" for letter in page)
    assert " ".join(plain(poison).split()) in read.text
    assert "<" not in poison or poison not in page


def test_page_is_one_file_without_scripts_or_anything_from_elsewhere():
    without_namespaces = re.sub(r'xmlns(:\w+)?="[^"]*"', "", PAGE)
    assert "http://" not in without_namespaces and "https://" not in without_namespaces
    assert "@import" not in PAGE and not re.search(r"url\((?!#)", PAGE)
    assert not {"script", "link", "img", "iframe", "object", "form"} & set(READ.elements)
    assert not READ.values("src")
    assert all(one.startswith("#") for one in [*READ.values("href"), *READ.values("xlink:href")])
    assert "default-src 'none'; style-src 'unsafe-inline'" in READ.values("content")


def test_pictures_are_well_formed_xml():
    pictures = re.findall(r"<figure>\s*(<svg.*?</svg>)", PAGE, re.DOTALL)
    assert [ElementTree.fromstring(one).get("role") for one in pictures] == ["img"] * 3


def test_every_reference_inside_the_page_has_one_place():
    ids = Counter(READ.values("id"))
    assert all(number == 1 for number in ids.values())
    assert {one[1:] for one in [*READ.values("href"), *READ.values("xlink:href")]} <= set(ids)


def test_structure():
    assert READ.elements.count("h1") == 1 and READ.elements.count("figure") == 3
    titles = [
        "Why",
        "Every question asked",
        "Confirmed by eye",
        "Cautions",
        "Before the work",
        "While the module was written",
        "Before the relearn: Idle air volume",
        "After the work",
        "The plan in short",
        "Where each number comes from",
        "Limits marked common practice or from memory are not this vehicle's specification.",
    ]
    places = [READ.text.index(title) for title in titles]
    assert places == sorted(places)


@pytest.mark.parametrize(
    "said",
    [
        "25 November 2026, 07:22:04 UTC+01:00",
        "30ZDEML28TD000001",
        "OLD-0107 → NEW-0203",
        "ab" * 32,
        "312.4 s (5 min 12 s)",
        "18 May 2026, 07:02:10 UTC",
        "before: P0171 → after: not read; lamp on → off",
        "stored: P0171; pending: none; permanent: not read",
        "NO coolant is warm : too cold",
        "62 °C 70 to 100 °C",
        "-8 °C 12.0 to 22.0 s 10 6921 to 7315",  # evidence
        "about 171.3 s after the end of the capture (95 %: 160 to 183 s); do not rely on it: too short",
        "1.0 to 2.0 s",
        "± 70 rpm at 0.42 Hz (false-alarm probability 1e-09)",
        "650 ± 50 rpm",
        "652.0 ± 5.5 rpm",
        "1, at 61.5 s",
        "150.5 s stalled not again",
        "60.0 to 149.0 s pedal released capture end judged",
        "sag 222.0 s 12.0 s 11.25 V 0.75 V 12 224 to 235",
        "96.89 % of the time",
        "7E8 ECM-EngineControl OLD-0107 → NEW-0203 5A3C91E7 → not read YES changed",
        "Ordered calibration: NEW-0203",
        "What would settle it: a smoke test.",
        "about 2500 rpm mass air flow 7.03 g/s",
        "blower off not confirmed",
        "wheels straight T. Person at noon",
        "And 2 more",
        "Fans can start unasked.",
        "Wait 7 s.",
    ],
)
def test_page_says(said):
    assert said in READ.text


def test_cannot_tell_is_shown_as_such():
    assert "<title>Job one: CANNOT TELL</title>" in PAGE
    assert "CANNOT TELL Is everything asked of this job shown to be in order?" in READ.text
    assert "Did the idle settle? CANNOT TELL no target idle speed" in READ.text
    assert "Did the idle settle? YES" not in READ.text


def test_every_question_is_in_the_summary_with_its_verdict_and_sentence():
    summary = READ.text[READ.text.index("Every question asked") : READ.text.index("Confirmed by eye")]
    for row in (
        "Was the supply held? NO 1 sag supply.csv",
        "Ready for: Idle air volume? NO coolant is cold idle.log",
        "Same car, new calibration? YES calibration changed after.log",
        "Did the idle settle? CANNOT TELL no target idle speed after.log",
        "Does the engine breathe as it meters? CANNOT TELL not enough data after.log",
    ):
        assert row in summary


def test_every_standing_stands_in_the_last_table():
    expected = {
        "common practice",
        "of the trade",
        "seen, not measured",
        "from the sheet",
        "deep inside",
        "from memory",
        "for having ready",
        "an order",
        "a step",
        "a number",
        "a relearn",
    }
    assert set(numbers_come_from(JOB)) == expected
    table = READ.text[READ.text.index("Where each number comes from") :]
    assert all(standing in table for standing in expected)


def test_an_answer_explains_its_own_notes_beside_its_limits():
    answer = READ.text[READ.text.index("Ready for: Idle air volume? NO coolant is cold Asked") :]
    number = list(numbers_come_from(JOB)).index("of the trade") + 1
    assert f"70 to 100 °C {number}" in answer and f"{number} of the trade." in answer


def test_a_fault_stands_under_its_own_capture_only():
    assert READ.text.count("frame 1 was lost") == 1 and READ.text.count("read with patience") == 1


def test_same_page_from_the_document_read_back_and_from_another_process():
    code = (
        "import sys\nfrom relearn.findings import from_json\nfrom relearn.report.html import html_page\n"
        "sys.stdout.buffer.write(html_page(from_json(sys.stdin.buffer.read())).encode())"
    )
    other = subprocess.run(
        [sys.executable, "-c", code],
        input=to_json(JOB).encode(),
        capture_output=True,
        check=True,
        env={**os.environ, "PYTHONHASHSEED": "7"},
    )
    again = from_json(to_json(JOB))
    assert isinstance(again, JobFindings) and html_page(again) == PAGE == other.stdout.decode()


def test_a_job_with_nothing_in_it_has_a_page():
    text = Page(html_page(EMPTY)).text
    assert "Calibration not read → not read" in text and "Technician not given" in text and "some time" in text


def test_times_and_durations_in_words():
    assert moment("2026-11-25T07:22:04") == "25 November 2026, 07:22:04 no time zone given"
    assert moment(None) == "no wall-clock time"
    assert [duration(time_s) for time_s in (0.0, 119.4, 119.6, 3600.0)] == [
        "0.0 s",
        "119.4 s",
        "119.6 s (2 min 0 s)",
        "3600.0 s (60 min 0 s)",
    ]
