"""What the commands refuse and write down, on the demo captures: refusals with their reason, --anyway in plain sight,
second tries beside the first, other cars, edited files."""

from __future__ import annotations

from pathlib import Path

import pytest

from relearn.analysis import job_file
from relearn.capture import sha256
from relearn.errors import CaptureError, ChoiceError, JobError, SheetError
from relearn.jobs import record
from relearn.jobs.begin import begin
from relearn.jobs.record import Added, Confirmed, Edited, Started
from relearn.jobs.status import recorded_job, report, status
from tests.cli.run import CAPTURES
from tests.jobs.build import BEFORE, BY, PEDAL, VIN, added, clock, confirmed, small_job, started, working

THROTTLE = "throttle-closed-position"
READY = CAPTURES / "demo-ready-throttle.log"


def lines(folder: Path) -> int:
    return (folder / record.FILE).read_bytes().count(b"\n")


def test_start_writes_a_file_to_read_and_a_line_that_holds_it(tmp_path: Path) -> None:
    folder = started(tmp_path / "job", "reprogrammed", vin=VIN.lower(), expected="DEMO-ENG20A-0203")
    file = job_file.read(folder / "job.toml")
    assert (file.vin, file.expected_calibration, file.sheet) == (VIN, "DEMO-ENG20A-0203", "demo-car")
    assert (file.title, file.people.technician) == ("Module reprogrammed", BY)
    with working(folder) as work:
        line = work.opened.lines[0]
        assert line.time.isoformat() == "2026-05-18T10:00:00+02:00"
        assert line.files == {"job.toml": sha256(folder / "job.toml")}
        assert isinstance(line.what, Started)
        assert line.what.texts["job.toml"].encode() == (folder / "job.toml").read_bytes()


def test_a_sheet_of_ones_own_is_copied_in_and_used(tmp_path: Path) -> None:
    sheet = tmp_path / "mine.toml"
    sheet.write_bytes(b'title = "Mine"\r\nsource = "a page"\r\n[warm]\r\ncoolant_c = [80, 100]\r\n')
    begin(tmp_path / "job", ["battery-disconnected"], sheet=str(sheet), now=clock())
    sheet.unlink()
    assert b"\r\n" in (tmp_path / "job/sheet.toml").read_bytes()
    with working(tmp_path / "job") as work:
        assert work.sheet.title == "Mine"
        assert set(work.opened.lines[0].files) == {"job.toml", "sheet.toml"}


@pytest.mark.parametrize(
    ("given", "error", "why"),
    [
        ({"events": ["repainted"]}, ChoiceError, "no event called 'repainted'"),
        ({"events": []}, ChoiceError, "no event was given"),
        ({"vin": "SHORT"}, ChoiceError, "17 characters"),
        ({"vin": "O" * 17}, ChoiceError, "cannot contain O"),
        ({"sheet": "nowhere.toml"}, SheetError, "nowhere.toml"),
    ],
)
def test_what_cannot_be_started_leaves_no_folder(
    tmp_path: Path, given: dict[str, object], error: type[Exception], why: str
) -> None:
    with pytest.raises(error, match=why):
        begin(tmp_path / "job", **{"events": ["reprogrammed"], "now": clock(), **given})  # type: ignore[arg-type]
    assert not (tmp_path / "job").exists()


def test_a_folder_with_a_job_or_with_what_would_be_written_over_is_refused(tmp_path: Path) -> None:
    folder = started(tmp_path / "job")
    with pytest.raises(JobError, match="there is a job in this folder already"):
        started(folder)
    (tmp_path / "other").mkdir()
    (tmp_path / "other/job.toml").write_text("mine")
    with pytest.raises(JobError, match=r"job.toml is there, and nothing is written over"):
        started(tmp_path / "other")
    assert (tmp_path / "other/job.toml").read_text() == "mine"


def test_a_capture_comes_in_with_its_hash_and_what_it_says(tmp_path: Path) -> None:
    folder = started(tmp_path / "job", "reprogrammed", vin=VIN)
    work = added(folder, BEFORE, "before")
    line = work.opened.lines[-1]
    assert line.files == {"captures/before.log": sha256(BEFORE)}
    assert isinstance(line.what, Added)
    assert (line.what.original, line.what.vin) == ("demo-before.log", VIN)
    assert line.what.calibrations == ("DEMO-ENG20A-0107",)  # captures/README.md
    assert (line.what.verdict, line.what.answers, line.what.by) == (None, (), BY)


def test_a_refused_capture_leaves_no_trace(tmp_path: Path) -> None:
    folder = started(tmp_path / "job", "reprogrammed")
    for capture, role, relearn, why in (
        (PEDAL, "ready", "accelerator-closed-position", "no capture of the write"),
        (PEDAL, "write", None, "nothing was read out before the write"),
        (PEDAL, "after", None, "Idle air volume is not shown to be done"),
    ):
        with pytest.raises(JobError, match=why):
            added(folder, capture, role, relearn)  # type: ignore[arg-type]
    assert lines(folder) == 1
    assert list((folder / "captures").iterdir()) == []


def test_anyway_goes_on_and_keeps_the_reason_with_what_stood_against_it(tmp_path: Path) -> None:
    folder = started(tmp_path / "job")
    confirmed(folder, THROTTLE, anyway=" the module is already out ")
    with working(folder) as work:
        line = work.opened.lines[-1].what
        assert isinstance(line, Confirmed)
        assert line.anyway == "the module is already out"
        assert line.refused == ("no capture shows that the car is ready for Throttle closed position",)
        shown = status(work)
        assert [one.reason for one in shown.anyway] == ["the module is already out"]
        assert shown.verdict == "cannot tell"  # going on proves nothing


def test_a_reason_where_nothing_is_against_it_is_not_kept(tmp_path: Path) -> None:
    folder = started(tmp_path / "job")
    work = added(folder, READY, "ready", THROTTLE, anyway="just in case")
    assert status(work).anyway == ()


def test_an_empty_reason_is_none(tmp_path: Path) -> None:
    folder = started(tmp_path / "job")
    with pytest.raises(ChoiceError, match="needs a reason"):
        confirmed(folder, THROTTLE, anyway="  ")
    assert lines(folder) == 1


def test_another_cars_capture_is_refused(tmp_path: Path) -> None:
    """1M8GDM9AXKP042788 is the worked example of a VIN's check digit in 49 CFR 565 (as commonly printed)."""
    folder = started(tmp_path / "job", "reprogrammed", vin="1M8GDM9AXKP042788")
    with pytest.raises(JobError, match=f"taken from the car {VIN}, and this job is for 1M8GDM9AXKP042788"):
        added(folder, BEFORE, "before")
    work = added(folder, BEFORE, "before", anyway="the module came from another car")
    assert "the module came from another car" in [one.reason for one in status(work).anyway]
    with working(folder) as held:
        made = report(held, clock())
    assert (made.verdict, [one for one in made.reasons if VIN in one]) == (
        "no",
        [f"before: it reads the VIN {VIN}, and the job is for 1M8GDM9AXKP042788"],
    )


def test_the_same_capture_twice_is_told(tmp_path: Path) -> None:
    folder = started(tmp_path / "job")
    added(folder, READY, "ready", THROTTLE)
    with pytest.raises(JobError, match=f"in the job already, as captures/ready-{THROTTLE}.log"):
        added(folder, READY, "ready", THROTTLE)


def test_second_tries_stand_beside_the_first_and_only_the_last_counts(tmp_path: Path) -> None:
    folder = small_job(tmp_path / "job")
    names = [f"captures/ready-{THROTTLE}.log", f"captures/ready-{THROTTLE}-2.log"]
    with working(folder) as work:
        file = recorded_job(work)
        assert dict(file.captures.ready) == {THROTTLE: names[1]}
        assert [(one.role, one.file) for one in file.earlier] == [(f"ready.{THROTTLE}", names[0])]
        made = report(work, clock())
    tries = [
        (one.attempt, one.attempts, one.answers[0].verdict) for one in made.chapters if one.role.startswith("ready")
    ]
    assert tries == [(1, 2, "no"), (2, 2, "yes")]
    assert not any("ready for" in one for one in made.reasons)


def test_a_name_that_somebody_took_is_not_written_over(tmp_path: Path) -> None:
    folder = started(tmp_path / "job")
    (folder / "captures/before.asc").write_text("mine")
    added(folder, BEFORE, "before")
    assert (folder / "captures/before-2.log").read_bytes() == BEFORE.read_bytes()
    assert (folder / "captures/before.asc").read_text() == "mine"


@pytest.mark.parametrize(
    ("role", "relearn", "why"),
    [
        ("ready", None, "'ready' needs a relearn"),
        ("ready", "idle-air-volume", "asks for no 'idle-air-volume'"),
        ("ready", "after-write", "asks for no 'after-write'"),
        ("steps", "after-write", "asks for no 'after-write'"),  # nothing is written in this job
        ("before", THROTTLE, "belongs to no single relearn"),
    ],
)
def test_a_role_with_the_wrong_relearn(tmp_path: Path, role: str, relearn: str | None, why: str) -> None:
    folder = started(tmp_path / "job")
    with pytest.raises(ChoiceError, match=why):
        added(folder, PEDAL, role, relearn)  # type: ignore[arg-type]


def test_a_capture_that_cannot_be_used_is_an_error_and_no_line(tmp_path: Path) -> None:
    folder, empty = started(tmp_path / "job"), tmp_path / "empty.log"
    empty.touch()
    with pytest.raises(CaptureError, match="empty"):
        added(folder, empty, "before")
    assert lines(folder) == 1


def test_what_is_not_in_the_job_cannot_be_confirmed_and_nothing_of_the_command_is_written(tmp_path: Path) -> None:
    folder = started(tmp_path / "job", "throttle-body-cleaned")
    for items, error in ((("lamps-off", "roof-closed"), ChoiceError), (("lamps-off", THROTTLE), JobError)):
        with pytest.raises(error):
            confirmed(folder, *items)
        assert lines(folder) == 1


def test_items_given_with_a_relearn_count_for_it(tmp_path: Path) -> None:
    folder = started(tmp_path / "job", "throttle-body-cleaned")
    added(folder, READY, "ready", THROTTLE)
    work = confirmed(folder, THROTTLE, "lamps-off", "blower-off")
    assert [getattr(line.what, "item", "") for line in work.opened.lines[2:]] == [THROTTLE, "lamps-off", "blower-off"]


def test_an_edit_is_found_written_down_whole_and_used(tmp_path: Path) -> None:
    folder = started(tmp_path / "job")
    path = folder / "job.toml"
    path.write_text(path.read_text().replace('customer = ""', 'customer = "Demo Customer"'))
    with working(folder) as work:
        assert status(work).remarks == ("job.toml was edited by hand; the next add or confirm writes that down",)
    work = added(folder, BEFORE, "before")
    line = work.opened.lines[1]
    assert isinstance(line.what, Edited)
    assert line.what.texts["job.toml"] == path.read_text()
    assert work.file.people.customer == "Demo Customer"


def test_an_edit_that_cannot_be_used_names_its_key(tmp_path: Path) -> None:
    folder = started(tmp_path / "job")
    with (folder / "job.toml").open("a") as file:
        file.write('colour = "red"\n')
    with pytest.raises(SheetError, match=r"people\.colour"):
        added(folder, BEFORE, "before")
    assert lines(folder) == 1


def test_the_report_refuses_a_changed_capture(tmp_path: Path) -> None:
    folder = small_job(tmp_path / "job")
    with (folder / "captures/after.log").open("ab") as file:
        file.write(b"\n")
    with pytest.raises(JobError, match=r"after\.log: is not as it was recorded"), working(folder) as work:
        report(work)


def test_the_report_says_where_it_judges_otherwise_than_the_record(tmp_path: Path) -> None:
    """A supply that a sheet edited afterwards asks more of."""
    sheet = tmp_path / "mine.toml"
    sheet.write_text('title = "Mine"\nsource = "a page"\n')
    folder = tmp_path / "job"
    begin(folder, ["battery-disconnected"], sheet=str(sheet), now=clock())
    added(folder, READY, "ready", THROTTLE)
    (folder / "sheet.toml").write_text('title = "Mine"\nsource = "a page"\n[supply]\nengine_off_v = 13.0\n')
    with working(folder) as work:
        made = report(work, clock())
    assert made.remarks[-1] == "ready of line 2 was written down as yes and is judged no now"
