"""The demo job as a folder, through the command line: plan, before, write, each relearn by its steps, after, report.

Which capture shows what is told in captures/README.md; where a step capture is missing, a person's word stands for it.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from relearn.findings.base import to_json
from relearn.findings.reading import from_json
from tests.cli.run import CAPTURES, Ran, relearn
from tests.jobs.build import BY, VIN

PEDAL, THROTTLE, IDLE = "accelerator-closed-position", "throttle-closed-position", "idle-air-volume"
BY_EYE = (
    "park-or-neutral",
    "lamps-off",
    "blower-off",
    "air-conditioning-off",
    "rear-defogger-off",
    "wheels-straight",
    "transmission-warm",
)


class Shop:
    """A job folder on the command line, with a book of its own."""

    def __init__(self, path: Path) -> None:
        self.folder, self.book = path / "job", path / "jobs.sqlite3"

    def job(self, *words: object) -> Ran:
        return relearn("job", *words, "--folder", self.folder, "--book", self.book)

    def start(self) -> Ran:
        words = ("--after", "reprogrammed", "--sheet", "demo-car", "--vin", VIN, "--workshop", "Demo Workshop")
        more = ("--by", BY, "--expect", "DEMO-ENG20A-0203", "--title", "Engine module reprogrammed (demo)")
        return relearn("job", "start", self.folder, *words, *more, "--book", self.book)

    def add(self, capture: str, role: str, relearn: str | None = None, *more: str) -> str:
        """Its verdict; a capture of which nothing is asked is a yes."""
        chosen = ("--relearn", relearn) if relearn is not None else ()
        ran = self.job("add", CAPTURES / capture, "--as", role, *chosen, *more)
        assert ran.code in (0, 1, 3), ran.err
        return ran.verdict

    def confirm(self, *items: str) -> None:
        ran = self.job("confirm", *items, "--by", BY)
        assert ran.code == 0, ran.err

    def stage(self) -> str | None:
        return json.loads(self.job("next", "--json").out)["stage"]  # type: ignore[no-any-return]

    def status(self) -> dict[str, object]:
        return json.loads(self.job("status", "--json").out)  # type: ignore[no-any-return]


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Shop:
    """The whole job done, with each relearn's steps captured and one first try that failed."""
    made = Shop(tmp_path_factory.mktemp("walk"))
    assert relearn("plan", "--after", "reprogrammed", "--sheet", "demo-car").code == 0
    assert made.start().code == 0
    asked = []
    for capture, role, name, verdict in (
        ("demo-before.log", "before", None, "yes"),
        ("demo-programming-supply.csv", "write", None, "yes"),
        ("steps-write-wait-right.log", "steps", "after-write", "yes"),
        ("demo-ready-pedal.log", "ready", PEDAL, "yes"),
        ("steps-pedal-short-off.log", "steps", PEDAL, "no"),
        ("steps-pedal-right.log", "steps", PEDAL, "yes"),
        ("demo-ready-throttle.log", "ready", THROTTLE, "yes"),
        ("steps-throttle-right.log", "steps", THROTTLE, "yes"),
        ("demo-ready-idle.log", "ready", IDLE, "yes"),
        (None, "confirm", IDLE, ""),
        ("steps-idle-right.log", "steps", IDLE, "yes"),
        ("demo-after.log", "after", None, "yes"),
    ):
        stage = made.stage()
        asked.append(stage)
        assert stage == (name or role), asked
        if capture is None:
            made.confirm(*BY_EYE)
        else:
            assert made.add(capture, role, name) == verdict, capture
    return made


def test_every_stage_is_a_yes_and_nothing_is_left(shop: Shop) -> None:
    status = shop.status()
    assert (status["verdict"], shop.stage()) == ("yes", None)
    assert {row["verdict"] for row in status["stages"]} == {"yes"}  # type: ignore[attr-defined]
    assert status["anyway"] == []


def test_the_report_is_the_one_of_relearn_report_with_the_record_in_it(shop: Shop, tmp_path: Path) -> None:
    page = tmp_path / "report.html"
    ran = shop.job("report", "--out", page, "--json")
    assert ran.verdict == "yes", ran.out
    document = json.loads(ran.out)
    assert to_json(from_json(ran.out)) == ran.out
    assert document["calibration_before"] == ["DEMO-ENG20A-0107"]  # captures/README.md
    assert document["calibration_after"] == ["DEMO-ENG20A-0203"]
    assert [one["verdict"] for one in document["proofs"]] == ["yes"] * 4
    tries = [(one["source"]["file"], one["attempt"]) for one in document["chapters"] if one.get("attempts", 1) > 1]
    assert tries == [(f"steps-{PEDAL}.log", 1), (f"steps-{PEDAL}-2.log", 2)]
    text = page.read_text(encoding="utf-8")
    assert "try 1 of 2: a later one counts" in text
    for chapter in document["chapters"]:
        assert chapter["source"]["sha256"] in text


def test_the_default_report_goes_into_the_folder_and_never_over_another(shop: Shop) -> None:
    for name in ("report", "report-2"):
        assert shop.job("report").code == 0
        assert (shop.folder / f"{name}.html").is_file()
        assert (shop.folder / f"{name}.json").is_file()


def test_all_is_as_it_was_written(shop: Shop) -> None:
    ran = shop.job("verify", "--json")
    assert ran.verdict == "yes"
    assert json.loads(ran.out)["lines"] == 1 + 11 + len(BY_EYE)


def test_the_book_has_it(shop: Shop) -> None:
    (row,) = json.loads(relearn("jobs", "--book", shop.book, "--vin", VIN, "--json").out)["jobs"]
    assert (row["verdict"], row["workshop"], row["calibration_after"]) == ("yes", "Demo Workshop", "DEMO-ENG20A-0203")
    assert row["folder"] == str(shop.folder.resolve())


@pytest.mark.parametrize("words", [("next",), ("status",), ("verify",)])
def test_each_page_fits_80_columns_and_each_document_reads_back(shop: Shop, words: tuple[str, ...]) -> None:
    assert max(len(line) for line in shop.job(*words).out.splitlines()) <= 80
    ran = shop.job(*words, "--json")
    assert to_json(from_json(ran.out)) == ran.out


def test_what_came_in_is_a_document_too(tmp_path: Path) -> None:
    shop = Shop(tmp_path)
    shop.start()
    ran = shop.job("add", CAPTURES / "demo-before.log", "--as", "before", "--json")
    document = json.loads(ran.out)
    assert (ran.code, document["kind"], document["file"], document["line"]) == (0, "added", "captures/before.log", 2)
    assert (document["vin"], document["verdict"]) == (VIN, None)
    assert to_json(from_json(ran.out)) == ran.out


def test_the_reason_for_going_on_stands_in_status_and_report(tmp_path: Path) -> None:
    shop = Shop(tmp_path)
    shop.start()
    ran = shop.job("add", CAPTURES / "demo-programming-supply.csv", "--as", "write")
    assert (ran.code, ran.out) == (2, "")
    assert ran.err.startswith("relearn: ")
    assert ran.err.count("\n") == 1
    assert shop.add("demo-programming-supply.csv", "write", None, "--anyway", "the <old> module is dead") == "yes"
    assert "the <old> module is dead" in shop.job("status").out
    page = tmp_path / "report.html"
    assert shop.job("report", "--out", page).verdict == "cannot tell"
    assert "the &lt;old&gt; module is dead" in page.read_text(encoding="utf-8")


def test_steps_that_were_not_done_keep_the_next_relearn_out(tmp_path: Path) -> None:
    shop = Shop(tmp_path)
    shop.start()
    shop.add("demo-before.log", "before")
    shop.add("demo-programming-supply.csv", "write")
    shop.confirm("after-write")
    shop.add("demo-ready-pedal.log", "ready", PEDAL)
    assert shop.add("steps-pedal-short-off.log", "steps", PEDAL) == "no"
    ran = shop.job("add", CAPTURES / "demo-ready-throttle.log", "--as", "ready", "--relearn", THROTTLE)
    assert "comes after Accelerator closed (released) position, which is not shown to be done" in ran.err
    assert "shows that its steps were not done" in shop.job("confirm", PEDAL, "--by", BY).err
    assert shop.job("status").verdict == "no"
    assert "Do the relearn again" in shop.job("next").out


def test_an_old_job_file_takes_steps_tries_and_reasons_too(tmp_path: Path) -> None:
    """The same additions in a job file without a record: relearn report judges the last tries and shows the rest."""
    path = tmp_path / "job.toml"
    demo = (
        (CAPTURES / "demo-job.toml").read_text(encoding="utf-8").replace('= "demo-', f'= "{CAPTURES.as_posix()}/demo-')
    )
    path.write_text(
        demo.replace(f'"{CAPTURES.as_posix()}/demo-car"', '"demo-car"')
        + f"""
[captures.steps]
{PEDAL} = "{CAPTURES.as_posix()}/steps-pedal-right.log"

[[earlier]]
role = "steps.{PEDAL}"
file = "{CAPTURES.as_posix()}/steps-pedal-short-off.log"

[[anyway]]
what = "the write"
reason = "no other day was free"
""",
        encoding="utf-8",
    )
    ran = relearn("report", path, "--json")
    assert ran.verdict == "yes", ran.out
    document = json.loads(ran.out)
    assert [one["reason"] for one in document["anyway"]] == ["no other day was free"]
    steps = [one["answers"][0]["verdict"] for one in document["chapters"] if one["role"].startswith("steps")]
    assert steps == ["no", "yes"]
    assert "no other day was free" in (tmp_path / "job.html").read_text(encoding="utf-8")
