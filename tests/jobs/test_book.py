"""The job book: kept current by every command, made anew from the folders alone, never in the way of a job."""

from __future__ import annotations

import csv
import io
import json
import sqlite3
from collections.abc import Iterable
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from relearn.findings.base import Answer
from relearn.findings.record import BookRow
from relearn.jobs import book
from relearn.jobs.book import Wanted
from relearn.jobs.verify import verify
from tests.cli.run import relearn
from tests.jobs.build import PEDAL, VIN, small_job

DAY = datetime(2026, 1, 1, 12, tzinfo=UTC)
VERDICTS: tuple[Answer, ...] = ("yes", "no", "cannot tell")


def made_up(number: int) -> BookRow:
    """A job nobody did."""
    when = (DAY + timedelta(hours=number)).isoformat()
    return BookRow(
        id=f"{number:016x}",
        folder=f"/jobs/{number}",
        title=f"Job {number}",
        vin=f"30ZDEML28TD{number:06d}",
        workshop=("Demo Workshop", "Größte Werkstatt")[number % 2],
        technician="Demo Technician",
        customer="",
        vehicle="",
        order="",
        events="reprogrammed",
        calibration_before="",
        calibration_after="",
        started=when,
        changed=when,
        verdict=VERDICTS[number % 3],
        reason="invented",
        next="nothing",
        lines=number + 1,
        head="0" * 64,
    )


@pytest.fixture(scope="module")
def many(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A book of ten thousand jobs."""
    path = tmp_path_factory.mktemp("book") / "jobs.sqlite3"
    book.put(path, map(made_up, range(10_000)))
    return path


def numbers(rows: Iterable[BookRow]) -> list[int]:
    return [int(row.id, 16) for row in rows]


def test_ten_thousand_jobs_are_listed_newest_first(many: Path) -> None:
    assert numbers(book.listed(many, Wanted())) == list(range(9_999, -1, -1))
    assert book.listed(many, Wanted())[0] == made_up(9_999)


def test_ten_thousand_jobs_on_the_command_line(many: Path) -> None:
    assert len(json.loads(relearn("jobs", "--book", many, "--json").out)["jobs"]) == 10_000
    rows = list(csv.DictReader(io.StringIO(relearn("jobs", "--book", many, "--csv").out)))
    assert (len(rows), rows[0]["workshop"], rows[0]["verdict"]) == (10_000, "Größte Werkstatt", "yes")
    assert relearn("jobs", "--book", many).out.count("Demo Workshop") == 5_000


@pytest.mark.parametrize(
    ("words", "kept"),
    [
        (("--vin", "td000042"), {42}),
        (("--vin", "30ZDEML28TD000042"), {42}),
        (("--verdict", "no"), set(range(1, 10_000, 3))),
        (("--workshop", "GRÖSSTE"), set(range(1, 10_000, 2))),
        (("--since", "2027-02-21T11:00:00+00:00"), {9_983 + number for number in range(16)} | {9_999}),
        (("--since", "2027-02-21T13:00:00+02:00", "--verdict", "yes"), {9_984, 9_987, 9_990, 9_993, 9_996, 9_999}),
        (("--vin", "%"), set()),
    ],
)
def test_what_is_asked_for(many: Path, words: tuple[str, ...], kept: set[int]) -> None:
    rows = json.loads(relearn("jobs", "--book", many, "--json", *words).out)["jobs"]
    assert {int(row["id"], 16) for row in rows} == kept


def test_since_a_day_begins_with_it(many: Path) -> None:
    rows = book.listed(many, Wanted(since=datetime(2026, 1, 2, tzinfo=UTC)))
    assert min(numbers(rows)) == 12


@pytest.mark.parametrize("words", [("--since", "yesterday"), ("--json", "--csv"), ("--verdict", "maybe")])
def test_what_cannot_be_asked(many: Path, words: tuple[str, ...]) -> None:
    ran = relearn("jobs", "--book", many, *words)
    assert (ran.code, ran.out) == (2, "")
    assert "Traceback" not in ran.err


def test_an_empty_book_is_no_mistake(tmp_path: Path) -> None:
    ran = relearn("jobs", "--book", tmp_path / "none.sqlite3")
    assert (ran.code, ran.out.startswith("no such job in")) == (0, True)
    assert not (tmp_path / "none.sqlite3").exists()


def walk(folder: Path, path: Path) -> None:
    """A job on the command line, with a book."""
    ran = relearn("job", "start", folder, "--after", "battery-disconnected", "--sheet", "demo-car", "--book", path)
    assert ran.code == 0, ran.err
    ran = relearn("job", "add", PEDAL, "--as", "ready", "--relearn", "throttle-closed-position", "--folder", folder,
                  "--book", path)  # fmt: skip
    assert ran.code == 0, ran.err
    ran = relearn("job", "confirm", "throttle-closed-position", "--by", "D", "--folder", folder, "--book", path)
    assert ran.code == 0, ran.err


def test_rebuilding_makes_the_book_that_was_kept_current(tmp_path: Path) -> None:
    path = tmp_path / "jobs.sqlite3"
    for name in ("one", "two"):
        walk(tmp_path / "jobs" / name, path)
    kept = book.listed(path, Wanted())
    assert [row.lines for row in kept] == [3, 3]
    ran = relearn("jobs", "--book", path, "rebuild", tmp_path / "jobs")
    assert (ran.code, ran.out) == (0, f"2 jobs are in {path}\n")
    assert f"the old book is kept as {path}.old-1" in ran.err
    assert book.listed(path, Wanted()) == kept
    assert book.listed(tmp_path / "jobs.sqlite3.old-1", Wanted()) == kept


def test_rebuilding_passes_over_a_job_that_cannot_be_read_and_says_so(tmp_path: Path) -> None:
    path = tmp_path / "jobs.sqlite3"
    for name in ("one", "two"):
        walk(tmp_path / "jobs" / name, path)
    record = tmp_path / "jobs/two/record.jsonl"
    record.write_bytes(record.read_bytes().replace(b"confirm", b"confirn"))
    ran = relearn("jobs", "rebuild", "--book", path, tmp_path / "jobs")
    assert "the record of this job was changed (line 3" in ran.err
    assert [row.folder for row in book.listed(path, Wanted())] == [str(tmp_path / "jobs/one")]


def test_every_command_keeps_the_book_current(tmp_path: Path) -> None:
    path, folder = tmp_path / "jobs.sqlite3", small_job(tmp_path / "job")
    for words in (("next",), ("status",), ("report", "--out", tmp_path / "r.html")):
        path.unlink(missing_ok=True)
        relearn("job", *words, "--folder", folder, "--book", path)
        (row,) = book.listed(path, Wanted())
        assert (row.vin, row.lines, row.workshop, row.calibration_before) == (
            VIN,
            6,
            "Demo Workshop",
            "DEMO-ENG20A-0107",
        )


def broken(path: Path) -> None:
    path.write_bytes(b"this is no database, " * 400)


def newer(path: Path) -> None:
    with closing(sqlite3.connect(path)) as made:
        made.execute("PRAGMA user_version = 99")


def a_folder(path: Path) -> None:
    path.mkdir()


@pytest.mark.parametrize("spoil", [broken, newer, a_folder])
def test_a_book_that_cannot_be_used_stops_no_job_and_is_said(tmp_path: Path, spoil: object) -> None:
    path, folder = tmp_path / "jobs.sqlite3", tmp_path / "job"
    spoil(path)  # type: ignore[operator]
    walk(folder, path)
    ran = relearn("job", "verify", "--folder", folder, "--book", path)
    assert ran.code == 0
    assert ran.err.startswith(f"relearn: {path}: the job book ")
    assert ran.err.count("\n") == 1
    listing = relearn("jobs", "--book", path)
    assert (listing.code, listing.out) == (2, "")


def test_a_locked_book_stops_no_job_and_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(book, "BUSY_S", 0.05)
    path, folder = tmp_path / "jobs.sqlite3", tmp_path / "job"
    walk(folder, path)
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        ran = relearn("job", "confirm", "throttle-closed-position", "--by", "D", "--folder", folder, "--book", path)
    assert ran.code == 0
    assert "the job book cannot be used (database is locked)" in ran.err
    assert verify(folder).lines == 4


def test_a_broken_book_is_made_anew(tmp_path: Path) -> None:
    path = tmp_path / "jobs.sqlite3"
    walk(tmp_path / "job", tmp_path / "other.sqlite3")
    broken(path)
    assert relearn("jobs", "rebuild", tmp_path, "--book", path).code == 0
    assert book.listed(path, Wanted()) == book.listed(tmp_path / "other.sqlite3", Wanted())


def test_the_book_is_the_one_of_the_environment(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("RELEARN_BOOK", str(tmp_path / "mine.sqlite3"))
    relearn("job", "start", tmp_path / "job", "--after", "battery-disconnected")
    assert len(book.listed(tmp_path / "mine.sqlite3", Wanted())) == 1
    assert str(tmp_path / "job") in relearn("jobs", "--csv").out


def test_verify_asks_the_book(tmp_path: Path) -> None:
    path, folder = tmp_path / "jobs.sqlite3", tmp_path / "job"
    relearn("job", "start", folder, "--after", "battery-disconnected", "--book", path)
    with closing(sqlite3.connect(path, isolation_level=None)) as mine:
        mine.execute("UPDATE job SET head = ?", ("0" * 64,))
    ran = relearn("job", "verify", "--folder", folder, "--book", path, "--json")
    assert (ran.code, json.loads(ran.out)["verdict"]) == (1, "no")


def test_migrations_are_numbered_and_each_is_applied_once(tmp_path: Path) -> None:
    path = tmp_path / "jobs.sqlite3"
    book.put(path, [made_up(1)])
    book.put(path, [made_up(1)])
    with closing(sqlite3.connect(path)) as made:
        assert made.execute("PRAGMA user_version").fetchone() == (len(book.migrations()),)
        assert made.execute("SELECT count(*) FROM job").fetchone() == (1,)


def test_the_book_named_first_is_the_one_rebuilt(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("RELEARN_BOOK", str(tmp_path / "usual.sqlite3"))
    walk(tmp_path / "job", tmp_path / "usual.sqlite3")
    assert relearn("jobs", "--book", tmp_path / "mine.sqlite3", "rebuild", tmp_path / "job").code == 0
    assert len(book.listed(tmp_path / "mine.sqlite3", Wanted())) == 1
    assert not list(tmp_path.glob("*.old-*"))
