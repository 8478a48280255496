"""CSV tables of decoded values. The files are written out here, cell by cell; what they hold can be read off."""

from __future__ import annotations

import gzip
import tempfile
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from relearn.capture import Capture, Table, cells, load
from relearn.errors import CaptureError


def read(folder: Path, text: str, encoding: str = "utf-8") -> Capture:
    path = folder / "values.csv"
    path.write_bytes(text.encode(encoding))
    return load(path)


def table(capture: Capture) -> Table:
    assert capture.table is not None
    return capture.table


def columns(capture: Capture) -> dict[str, list[float | None]]:
    """Values by header, None for NaN."""
    return {
        column.header: [None if value != value else value for value in column.values.tolist()]
        for column in table(capture).columns
    }


SIMPLE = {"Engine speed (rpm)": [800.0, 812.5], "ECT [°C]": [20.0, -1.0]}


@pytest.mark.parametrize(
    ("text", "encoding"),
    [
        ("time_s,Engine speed (rpm),ECT [°C]\n0.0,800,20\n0.5,812.5,-1\n", "utf-8"),
        ("time_s,Engine speed (rpm),ECT [°C]\r\n0.0,800,20\r\n0.5,812.5,-1", "utf-8"),
        ("time_s,Engine speed (rpm),ECT [°C]\n0.0,800,20\n0.5,812.5,-1\n", "utf-8-sig"),
        ("time_s,Engine speed (rpm),ECT [°C]\n0.0,800,20\n0.5,812.5,-1\n", "utf-16"),
        ("time_s,Engine speed (rpm),ECT [°C]\n0.0,800,20\n0.5,812.5,-1\n", "cp1252"),
        ("time_s;Engine speed (rpm);ECT [°C]\n0,0;800;20\n0,5;812,5;-1\n", "utf-8"),
        ("time_s;Engine speed (rpm);ECT [°C]\n0.0;800;20\n0.5;812.5;-1\n", "utf-8"),
        ("time_s\tEngine speed (rpm)\tECT [°C]\n0.0\t800\t20\n0.5\t812.5\t-1\n", "utf-8"),
        ("time_s,Engine speed (rpm),ECT [°C],\n0.0,800,20,\n0.5,812.5,-1,\n", "utf-8"),
        ("time_s,Engine speed (rpm),ECT [°C]\n0.0,800,20,\n0.5,812.5,-1,,\n", "utf-8"),
        ('"time_s","Engine speed (rpm)","ECT [°C]"\n"0.0","800","20"\n"0.5","812.5","-1"\n', "utf-8"),
        ("# a logger, start time 12:00\n\ntime_s,Engine speed (rpm),ECT [°C]\n0.0,800,20\n\n0.5,812.5,-1\n", "utf-8"),
        ("sep=;\ntime_s;Engine speed (rpm);ECT [°C]\n0.0;800;20\n0.5;812.5;-1\n", "utf-8"),
        ("Engine speed (rpm),time_s,ECT [°C]\n 800 ,0.0, 20\n8.125e2, 0.5,-1\n", "utf-8"),
    ],
)
def test_the_same_table_written_in_many_ways(tmp_path: Path, text: str, encoding: str) -> None:
    capture = read(tmp_path, text, encoding)
    assert columns(capture) == SIMPLE
    assert table(capture).time_s.tolist() == [0.0, 0.5]
    assert (capture.total_frames, capture.duration_s, capture.faults) == (2, 0.5, ())


@settings(max_examples=30, deadline=None)
@given(st.lists(st.floats(allow_nan=False, allow_infinity=False, width=32), min_size=1, max_size=20))
def test_numbers_as_pandas_writes_them_come_back(values: list[float]) -> None:
    frame = pd.DataFrame({"time [s]": np.arange(len(values)) / 4, "value": values})
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "values.csv"
        frame.to_csv(path, index=False)
        capture = load(path)
    assert columns(capture) == {"value": values}
    assert table(capture).time_s.tolist() == frame["time [s]"].tolist()


def test_gzipped(tmp_path: Path) -> None:
    path = tmp_path / "values.csv.gz"
    path.write_bytes(gzip.compress(b"time [s],rpm\n0,800\n1,801\n", mtime=0))
    assert columns(load(path)) == {"rpm": [800.0, 801.0]}


def test_a_row_of_units_joins_the_headers(tmp_path: Path) -> None:
    capture = read(tmp_path, "Time,Engine speed,ECT,Gear\nms,rpm,(°C),\n0,800,20,1\n500,801,21,1\n")
    assert list(columns(capture)) == ["Engine speed [rpm]", "ECT [°C]", "Gear"]
    assert table(capture).time_s.tolist() == [0.0, 0.5]
    assert table(capture).line.tolist() == [3, 4]


def test_blank_cells_are_missing_and_no_fault(tmp_path: Path) -> None:
    capture = read(tmp_path, "time [s],rpm,ect\n0,800,\n1, ,20\n2,802\n")
    assert columns(capture) == {"rpm": [800.0, None, 802.0], "ect": [None, 20.0, None]}
    assert capture.faults == ()


@pytest.mark.parametrize("cell", ["N/A", "12 V", "1_000", "nan", "inf", "0x10", "1,5", "--", "1.2.3", "٣"])
def test_text_is_never_a_number(tmp_path: Path, cell: str) -> None:
    capture = read(tmp_path, f'time [s],rpm\n0,800\n1,"{cell}"\n2,802\n3,"{cell}"\n')
    assert columns(capture) == {"rpm": [800.0, None, 802.0, None]}
    assert table(capture).columns[0].texts == (cell,)
    [fault] = capture.faults
    assert (fault.kind, fault.count, fault.first_frame, fault.last_frame) == ("not-a-number", 2, 3, 5)


def test_rows_that_are_not_whole_are_left_out(tmp_path: Path) -> None:
    capture = read(tmp_path, "time [s],rpm,ect\n0,800,20\n0,5,801,20\nx,802,20\n1,803,20\n2,80")
    assert columns(capture) == {"rpm": [800.0, 803.0], "ect": [20.0, 20.0]}
    assert [(fault.kind, fault.first_frame) for fault in capture.faults] == [
        ("malformed-line", 3),
        ("truncated-last-line", 6),
        ("malformed-line", 4),
    ]


@pytest.mark.parametrize(
    ("text", "line"),
    [("time [s],rpm\n0,800\n1,801\n0.98,802\n", 4), ("time,rpm\n12:00:00,800\n12:00:01,801\n\n11:59:59,802\n", 5)],
)
def test_time_going_backwards_is_an_error_with_its_line(tmp_path: Path, text: str, line: int) -> None:
    with pytest.raises(CaptureError, match=rf"line {line}: time goes backwards"):
        read(tmp_path, text)


def test_times_a_little_out_of_order_are_put_in_order(tmp_path: Path) -> None:
    capture = read(tmp_path, "time [s],rpm\n0,800\n1.005,801\n1.000,802\n")
    assert columns(capture) == {"rpm": [800.0, 802.0, 801.0]}
    assert table(capture).line.tolist() == [2, 4, 3]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("rpm,ect\n800,20\n", "has no time column.*'rpm,ect'.*name the time column"),
        ("engine run time (s),ect\n800,20\n", "has no time column"),
        ("time\n1\n", "has no time column"),
        ("time,rpm\nnoon,800\nlater,801\n", r"line 2: has times that are not understood, such as 'noon' below 'time'"),
    ],
)
def test_no_time_no_table(tmp_path: Path, text: str, message: str) -> None:
    with pytest.raises(CaptureError, match=message):
        read(tmp_path, text)


def test_a_small_file_that_unpacks_to_a_huge_table_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cells, "MOST_BYTES", 1 << 20)
    path = tmp_path / "values.csv.gz"
    path.write_bytes(gzip.compress(b"time [s],rpm\n" + b"0,800\n" * 200_000, mtime=0))
    with pytest.raises(CaptureError, match=r"holds more than 1 MiB of text.*cut it into shorter"):
        load(path)
