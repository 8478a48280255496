"""The time column of a table. Source of the Unix times: the date command (2030-05-01 12:00:00 UTC is 1903867200)."""

from __future__ import annotations

from pathlib import Path

import pytest

from relearn.capture import load
from relearn.capture.table_times import is_time
from tests.capture.test_pythoncan import in_utc

__all__ = ["in_utc"]

NOON_S = 1_903_867_200.0


@pytest.mark.parametrize(
    "header",
    [
        "time",
        "Time",
        "time_s",
        "Time (ms)",
        "timestamp",
        "TimeStamp",
        "Elapsed [s]",
        "Device Time",
        "DeviceTime",
        "seconds",
        "sec",
        "t",
        "t [s]",
        "Date",
        "Clock",
        "GPS Time",
        "Log seconds",
        "TIME [min]",
    ],
)
def test_headers_of_a_time(header: str) -> None:
    assert is_time(header)


@pytest.mark.parametrize(
    "header",
    [
        "Run time since engine start (s)",
        "run_time",
        "Time with MIL on (min)",
        "Time since trouble codes cleared",
        "Timing advance (°)",
        "Coolant T (°C)",
        "rpm",
        "O2 voltage (s)",
        "Warm-ups",
        "",
        "update",
    ],
)
def test_headers_of_a_value(header: str) -> None:
    assert not is_time(header)


@pytest.mark.parametrize(
    ("header", "cells", "expected", "start"),
    [
        ("time [s]", ("5", "5.25"), (0, 0.25), None),
        ("time (ms)", ("100", "350"), (0, 0.25), None),
        ("Time_ms", ("100", "350"), (0, 0.25), None),
        ("time [min]", ("1", "1.5"), (0, 30), None),
        ("timestamp [s]", ("1903867200.5", "1903867201"), (0, 0.5), NOON_S + 0.5),
        ("timestamp", ("1903867200.5", "1903867201"), (0, 0.5), NOON_S + 0.5),
        ("timestamp", ("1903867200500", "1903867201000"), (0, 0.5), NOON_S + 0.5),
        ("timestamp (ms)", ("1903867200500", "1903867201000"), (0, 0.5), NOON_S + 0.5),
        ("time", ("2030-05-01T12:00:00Z", "2030-05-01T12:00:00.250Z"), (0, 0.25), NOON_S),
        ("time", ("2030-05-01T14:00:00+02:00", "2030-05-01T14:00:00.25+02:00"), (0, 0.25), NOON_S),
        ("time (UTC)", ("2030-05-01 12:00:00", "2030-05-01 12:00:01"), (0, 1), NOON_S),
        ("time", ("2030/05/01 12:00:00", "2030/05/01 12:00:01.5"), (0, 1.5), NOON_S),
        ("time", ("12:00:00.500", "12:00:01"), (0, 0.5), None),
        ("time", ("23:59:59.5", "00:00:00.5"), (0, 1), None),
        ("time", ("11:59:59 AM", "12:00:00 PM", "1:00:00 PM"), (0, 1, 3601), None),
        ("time", ("59:58.5", "60:01.0"), (0, 2.5), None),
        ("date", ("05/01/2030 12:00:00", "05/01/2030 12:00:02"), (0, 2), None),
    ],
)
@pytest.mark.usefixtures("in_utc")
def test_times(
    tmp_path: Path, header: str, cells: tuple[str, ...], expected: tuple[float, ...], start: float | None
) -> None:
    path = tmp_path / "values.csv"
    path.write_text(f"{header},rpm\n" + "".join(f"{cell},800\n" for cell in cells))
    capture = load(path)
    assert capture.table is not None
    assert capture.table.time_s.tolist() == pytest.approx(list(expected), abs=1e-9)
    assert capture.start_unix_s == start


@pytest.mark.usefixtures("in_utc")
def test_a_date_column_and_a_time_column_belong_together(tmp_path: Path) -> None:
    path = tmp_path / "values.csv"
    path.write_text("Date;Time;rpm\n2030-05-01;23:59:59;800\n2030-05-02;00:00:01;801\n")
    capture = load(path)
    assert capture.table is not None
    assert [column.header for column in capture.table.columns] == ["rpm"]
    assert capture.table.time_s.tolist() == [0.0, 2.0]
    assert capture.start_unix_s == NOON_S + 12 * 3600 - 1
    assert "no time zone" in capture.notes[0]


def test_whole_seconds_that_repeat_are_spread_and_said(tmp_path: Path) -> None:
    path = tmp_path / "values.csv"
    path.write_text("time [s],rpm\n" + "".join(f"{second},800\n" for second in (7, 7, 7, 7, 8, 8, 10)))
    capture = load(path)
    assert capture.table is not None
    assert capture.table.time_s.tolist() == [0, 0.25, 0.5, 0.75, 1, 1.5, 3]
    assert "up to 4 rows in one" in capture.notes[0]


def test_repeated_times_finer_than_a_second_stay(tmp_path: Path) -> None:
    path = tmp_path / "values.csv"
    path.write_text("time [s],rpm\n0.5,800\n0.5,801\n1.5,802\n")
    capture = load(path)
    assert capture.table is not None
    assert capture.table.time_s.tolist() == [0, 0, 1]
    assert capture.notes == ()


def test_a_time_without_unit_is_taken_as_seconds_and_said(tmp_path: Path) -> None:
    path = tmp_path / "values.csv"
    path.write_text("Time,rpm\n0,800\n0.5,801\n")
    assert "names no unit; seconds are assumed" in load(path).notes[0]
