"""The print, read back by pypdf: one or two pages, everything that must be on it, text of a car as plain text, and the
same bytes each time. Paper sizes: ISO 216 (A4, 210 × 297 mm) and ANSI (Letter, 8.5 × 11 in), in points of 1/72 in."""

from __future__ import annotations

import io
import os
import subprocess
import sys
from datetime import datetime
from typing import get_args

import pypdfium2
import pytest
from pypdf import PdfReader

from relearn.findings.base import TextLine, to_json
from relearn.findings.job import AnywayDoc, Chapter, Confirmation, JobFindings, Proof
from relearn.findings.reading import from_json
from relearn.report.pdf import Paper, pdf_page
from relearn.report.words import plain
from tests.report.jobs import EMPTY, JOB, TRACE
from tests.report.test_html import HOSTILE, poisoned

SIZES: dict[Paper, tuple[float, float]] = {"a4": (595.28, 841.89), "letter": (612.0, 792.0)}
MARGIN_PT = 15 / 25.4 * 72
MADE = pdf_page(JOB)


def read(made: bytes) -> PdfReader:
    return PdfReader(io.BytesIO(made))


def text(made: bytes) -> str:
    """All text, with blanks and line ends alike, and without the marks at which a long word may break."""
    pages = " ".join(page.extract_text() for page in read(made).pages)
    return " ".join(pages.replace("\u200b", "").split())


SAID = text(MADE)


def squeezed(shown: str) -> str:
    """Without any blanks, since a text may be broken anywhere."""
    return "".join(shown.split())


def many(rows: tuple[object, ...], count: int) -> tuple[object, ...]:
    return tuple(rows[place % len(rows)] for place in range(count))


def overfull(letters: str) -> JobFindings:
    """Every text replaced by a very long one, and every list of twenty."""
    job = JobFindings.model_validate(poisoned(JOB.model_dump(), letters))
    after = job.chapters[-1].model_copy(update={"role": "after", "traces": job.chapters[-1].traces * 3})
    return job.model_copy(
        update={
            "chapters": (*many(job.chapters, 20), job.chapters[1].model_copy(update={"role": "programming"}), after),
            "confirmations": many(job.confirmations, 20),
            "reasons": many(job.reasons, 20),
            "cautions": many(job.cautions, 20),
            "remarks": (letters,) * 20,
            "anyway": (AnywayDoc(what=letters, overrode=(letters,) * 9, reason=letters, by=letters),) * 20,
            "proofs": (Proof(id="x", title=letters, verdict="no", reason=letters),) * 20,
        }
    )


def ink_outside_the_margins(made: bytes) -> bool:
    """Anything drawn nearer than 5 mm to a paper's edge, where nothing belongs."""
    for page in pypdfium2.PdfDocument(made):
        grey = page.render(scale=1).to_numpy().min(axis=2)
        edge = int(5 / 25.4 * 72)
        inside = grey[edge:-edge, edge:-edge]
        if (grey < 250).sum() != (inside < 250).sum():
            return True
    return False


def drawn_beside_the_column(made: bytes) -> float:
    """How much ink stands more than 1 pt to the left or right of the text column."""
    ink = 0.0
    for page in pypdfium2.PdfDocument(made):
        grey = page.render(scale=1).to_numpy().min(axis=2)
        left = int(MARGIN_PT) - 1
        ink += float((grey[:, :left] < 250).sum() + (grey[:, grey.shape[1] - left :] < 250).sum())
    return ink


def test_there_is_a_size_for_every_paper() -> None:
    assert set(SIZES) == set(get_args(Paper))


@pytest.mark.parametrize("paper", SIZES)
def test_one_or_two_pages_of_the_paper_asked_for(paper: Paper) -> None:
    pages = read(pdf_page(JOB, paper)).pages
    assert 1 <= len(pages) <= 2
    for page in pages:
        assert (float(page.mediabox.width), float(page.mediabox.height)) == pytest.approx(SIZES[paper], abs=0.1)


@pytest.mark.parametrize(
    "said",
    [
        "Job one",
        "CANNOT TELL",
        "25 November 2026, 07:22:04 UTC+01:00",
        "30ZDEML28TD000001",
        "OLD-0107 → NEW-0203",
        "P0171 (lamp on) → not read (lamp off)",
        "Was the supply held?",
        "Ready for: Idle air volume?",
        "Did the idle settle?",
        "coolant is cold",
        "not confirmed by eye: blower off",
        "blower off not confirmed",
        "wheels straight T. Person at noon",
        "Fans can start unasked.",
        "Engine speed (band: 600 to 700 rpm)",
        "seconds since the start of the capture",
        "judged",
        "After the work",
        "While the module was written",
        "of the trade",  # a standing in the legend
        "are not this vehicle's specification",
        "made by relearn 0.1.0",
    ],
)
def test_it_says(said: str) -> None:
    assert said in SAID


def test_letters_that_matter_are_drawn_by_a_font_that_comes_with_it() -> None:
    """° ± → – and ✓: no glyph is missing (glyph 0), and every font is in the file."""
    job = JOB.model_copy(update={"title": "70 °C ± 5 → 80 – ≥ µ é Ж"})
    made = pdf_page(job)
    assert "70 °C ± 5 → 80 – ≥ µ é Ж" in text(made)
    fonts = {
        str(font.get_object()["/BaseFont"])
        for page in read(made).pages
        for font in page["/Resources"]["/Font"].values()
    }
    assert {name.split("+")[1].split("-")[0] for name in fonts} == {"LibertinusSerif", "DejaVuSans", "DejaVuSansMono"}


def test_what_no_font_has_becomes_an_escape() -> None:
    assert r"\x5c71\x7530" in text(pdf_page(JOB.model_copy(update={"title": "山田"})))


@pytest.mark.parametrize("poison", [*HOSTILE, '#strong[x] $x^2$ *b* _i_ `r` @ref <l> #panic("no") // \\ = ~ --- "q"'])
def test_hostile_text_in_every_field_stays_text(poison: str) -> None:
    made = pdf_page(JobFindings.model_validate(poisoned(JOB.model_dump(), poison)))
    assert len(read(made).pages) <= 2
    assert squeezed(text(made)).count(squeezed(plain(poison))) >= 10


@pytest.mark.parametrize(
    ("paper", "letters"), [("a4", "W" * 900), ("letter", "W" * 900), ("letter", "several words of a long remark " * 30)]
)
def test_long_fields_and_lists_stay_on_two_pages_and_inside_the_column(paper: Paper, letters: str) -> None:
    made = pdf_page(overfull(letters), paper)
    assert len(read(made).pages) == 2
    assert not ink_outside_the_margins(made)
    assert drawn_beside_the_column(made) == 0
    shown = text(made)
    assert shown.count("more: see the page or its JSON.") >= 7
    assert "are not this vehicle's specification" in shown


def test_a_text_that_is_cut_says_so() -> None:
    assert "…" not in SAID
    for letters in ("i" * 700, "word " * 100):
        assert "…" in text(pdf_page(JOB.model_copy(update={"reasons": (letters,)})))


def test_every_caution_and_hash_of_a_full_job_is_there() -> None:
    """Nine cautions, eight captures, fourteen things by eye: more than the demo job has of each."""
    cautions = tuple(TextLine(id=f"c{n}", text=f"Caution {n}: keep away from what moves by itself.") for n in range(9))
    hashes = [f"{n:x}" * 64 for n in range(8)]
    base = JOB.chapters[-1]
    chapters = tuple(
        Chapter(
            role="after" if n == 7 else f"ready.{n}",
            source=base.source.model_copy(update={"sha256": one}),
            answers=base.answers,
            traces=(TRACE,) * 3,
        )
        for n, one in enumerate(hashes)
    )
    eyes = tuple(Confirmation(id=f"e{n}", text=f"thing {n} seen", confirmed_by="T. Person") for n in range(14))
    job = JOB.model_copy(update={"cautions": cautions, "chapters": chapters, "confirmations": eyes})
    for paper in SIZES:
        made = pdf_page(job, paper)
        assert len(read(made).pages) == 2
        shown = text(made)
        assert [one.text for one in cautions if one.text not in shown] == []
        assert [one for one in hashes if one not in squeezed(shown)] == []


def test_what_was_done_in_spite_of_something_is_in_plain_sight() -> None:
    done = AnywayDoc(what="Idle air volume", overrode=("coolant is cold",), reason="customer waiting", by="T. Person")
    proof = Proof(id="x", title="Idle air volume", verdict="no", reason="pressed four times")
    job = JOB.model_copy(update={"anyway": (done,), "proofs": (proof,), "remarks": ("a line was changed",)})
    shown = text(pdf_page(job))
    for said in ("customer waiting", "against it: coolant is cold", "pressed four times", "a line was changed"):
        assert said in shown


def test_only_the_last_try_is_a_question_and_every_try_is_a_capture() -> None:
    first = JOB.chapters[2].model_copy(update={"attempt": 1, "attempts": 2})
    again = first.model_copy(update={"attempt": 2})
    shown = text(pdf_page(JOB.model_copy(update={"chapters": (first, again)})))
    assert shown.count("Ready for: Idle air volume?") == 1
    assert "(try 1 of 2)" in shown and "(try 2 of 2)" in shown


def test_a_job_with_nothing_in_it_has_a_print() -> None:
    made = pdf_page(EMPTY)
    assert len(read(made).pages) == 1
    for said in ("not read → not read", "No capture was judged.", "No plots", "some time"):
        assert said in text(made)
    assert not {"/CreationDate", "/ModDate"} & set(read(made).metadata or {})


def test_the_file_says_when_it_was_made_as_the_findings_do() -> None:
    metadata = read(MADE).metadata
    assert metadata is not None and metadata.creation_date is not None
    assert metadata.creation_date == datetime.fromisoformat(JOB.made)
    assert (metadata.title, metadata.author) == ("Job one: CANNOT TELL", "T")


def test_same_bytes_from_the_document_read_back_and_from_another_process() -> None:
    code = (
        "import sys\nfrom relearn.findings.reading import from_json\nfrom relearn.report.pdf import pdf_page\n"
        "sys.stdout.buffer.write(pdf_page(from_json(sys.stdin.buffer.read())))"
    )
    other = subprocess.run(
        [sys.executable, "-c", code],
        input=to_json(JOB).encode(),
        capture_output=True,
        check=True,
        env={**os.environ, "PYTHONHASHSEED": "7", "TZ": "Asia/Tokyo", "LC_ALL": "C", "SOURCE_DATE_EPOCH": "1"},
    )
    again = from_json(to_json(JOB))
    assert isinstance(again, JobFindings) and pdf_page(again) == MADE == other.stdout
