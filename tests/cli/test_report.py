"""The demo job, from its file to the page and the same findings beside it."""

import json
from pathlib import Path

from relearn.findings.base import to_json
from relearn.findings.reading import from_json
from tests.cli.run import CAPTURES, relearn

JOB = CAPTURES / "demo-job.toml"


def test_the_demo_job_is_a_yes_and_leaves_page_and_findings(tmp_path: Path) -> None:
    page, data = tmp_path / "report.html", tmp_path / "report.json"
    ran = relearn("report", JOB, "--out", page)
    assert ran.verdict == "yes", ran.out
    document = json.loads(data.read_text(encoding="utf-8"))
    assert document["calibration_before"] == ["DEMO-ENG20A-0107"]
    assert document["calibration_after"] == ["DEMO-ENG20A-0203"]
    assert to_json(from_json(data.read_text(encoding="utf-8"))) == data.read_text(encoding="utf-8")
    for chapter in document["chapters"]:
        assert chapter["source"]["sha256"] in page.read_text(encoding="utf-8")


def test_nothing_is_written_over(tmp_path: Path) -> None:
    page = tmp_path / "report.html"
    page.write_text("mine", encoding="utf-8")
    ran = relearn("report", JOB, "--out", page)
    assert ran.code == 2
    assert "nothing is written over" in ran.err
    assert page.read_text(encoding="utf-8") == "mine"


def job_without(tmp_path: Path, *needles: str) -> Path:
    """The demo job in another folder, less every line that holds a needle."""
    kept = [
        line for line in JOB.read_text(encoding="utf-8").splitlines() if not any(needle in line for needle in needles)
    ]
    path = tmp_path / "job.toml"
    path.write_text(
        "\n".join(kept)
        .replace('= "demo-', f'= "{CAPTURES.as_posix()}/demo-')
        .replace(f'"{CAPTURES.as_posix()}/demo-car"', '"demo-car"'),
        encoding="utf-8",
    )
    return path


def test_a_capture_that_is_missing_from_the_job_cannot_tell(tmp_path: Path) -> None:
    ran = relearn("report", job_without(tmp_path, "programming ="), "--out", tmp_path / "r.html", "--json")
    assert ran.verdict == "cannot tell"
    assert "programming: no capture in the job" in json.loads(ran.out)["reasons"]


def test_what_nobody_confirmed_cannot_tell_and_is_listed(tmp_path: Path) -> None:
    path = job_without(tmp_path)
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace('[[confirmed]]\nitem = "blower-off"\nby = "Demo Technician"\n', ""), encoding="utf-8")
    ran = relearn("report", path, "--out", tmp_path / "r.html", "--json")
    assert ran.verdict == "cannot tell"
    assert "not confirmed by eye: blower off" in json.loads(ran.out)["reasons"]
