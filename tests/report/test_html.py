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

from relearn.findings.base import to_json
from relearn.findings.job import JobFindings
from relearn.findings.reading import from_json
from relearn.report.html import duration, html_page, moment, numbers_come_from
from relearn.report.words import plain

# HTML Living Standard, section 13.1.2: elements that have no end tag.
from tests.report.jobs import EMPTY, JOB

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
        "import sys\nfrom relearn.findings.reading import from_json\nfrom relearn.report.html import html_page\n"
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
