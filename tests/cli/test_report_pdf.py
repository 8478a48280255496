"""`relearn report --pdf`: the demo job's print beside its page, and nothing written over."""

import io
from pathlib import Path

import pytest
from pypdf import PdfReader

from tests.cli.run import CAPTURES, relearn

JOB = CAPTURES / "demo-job.toml"


@pytest.mark.parametrize(("paper", "height_pt"), [((), 841.9), (("--paper", "letter"), 792.0)])
def test_the_demo_job_is_printed(tmp_path: Path, paper: tuple[str, ...], height_pt: float) -> None:
    pdf = tmp_path / "out.pdf"
    ran = relearn("report", JOB, "--out", tmp_path / "r.html", "--pdf", pdf, *paper)
    assert ran.verdict == "yes" and str(pdf) in ran.out
    pages = PdfReader(io.BytesIO(pdf.read_bytes())).pages
    shown = " ".join(" ".join(page.extract_text() for page in pages).split())
    assert 1 <= len(pages) <= 2 and float(pages[0].mediabox.height) == pytest.approx(height_pt, abs=0.1)
    assert "DEMO-ENG20A-0107 → DEMO-ENG20A-0203" in shown
    assert "Control module voltage" in shown and "Battery voltage" in shown
    assert "more: see the page" not in shown


@pytest.mark.parametrize("name", ["there.pdf", "r.html", "r.json"])
def test_nothing_is_written_over_nor_two_into_one(tmp_path: Path, name: str) -> None:
    there = tmp_path / "there.pdf"
    there.write_text("mine", encoding="utf-8")
    ran = relearn("report", JOB, "--out", tmp_path / "r.html", "--pdf", tmp_path / name)
    assert (ran.code, ran.out) == (2, "")
    assert name in ran.err
    assert [path.name for path in tmp_path.iterdir()] == ["there.pdf"]
    assert there.read_text(encoding="utf-8") == "mine"


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    ran = relearn("report", JOB, "--out", tmp_path / "r.html", "--pdf", tmp_path / "gone" / "out.pdf")
    assert ran.code == 2
    assert "cannot be written" in ran.err and len(ran.err.splitlines()) == 1
