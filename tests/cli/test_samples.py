"""`relearn samples`: what other tools (pandas, asammdf) read from the files is what the recording holds."""

import sys
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest
from asammdf import MDF

from relearn.export import write
from relearn.recording import Recording, read
from relearn.samples import COLUMNS
from tests.cli.run import CAPTURES, relearn

CAPTURE = CAPTURES / "two-modules.log"


@pytest.fixture(scope="module")
def recording() -> Recording:
    return read(CAPTURE)


def written(path: Path, *options: object) -> Path:
    ran = relearn("samples", CAPTURE, "--out", path, *options)
    assert (ran.code, ran.err) == (0, "")
    assert str(path) in ran.out and "7E8, 7E9" in ran.out
    return path


def same(found: pd.DataFrame, recording: Recording) -> None:
    """Cell by cell and to the last bit; how a library keeps repeated words is its own affair."""
    assert tuple(found.columns) == COLUMNS
    assert found.astype(object).values.tolist() == recording.samples.astype(object).values.tolist()


def test_csv_holds_every_sample_to_the_last_digit(recording: Recording, tmp_path: Path) -> None:
    found = pd.read_csv(written(tmp_path / "out.csv"), dtype=str, keep_default_na=False)
    same(
        found.assign(time_s=found["time_s"].map(float), value=found["value"].map(float), frame=found["frame"].map(int)),
        recording,
    )


def test_parquet_holds_every_sample_and_which_capture_it_was(recording: Recording, tmp_path: Path) -> None:
    found = pd.read_parquet(written(tmp_path / "out.parquet"))
    same(found, recording)
    assert found.attrs == {
        "capture": "two-modules.log",
        "sha256": recording.sha256,
        "start_unix_s": recording.start_unix_s,
    }


def test_mf4_holds_a_group_for_each_channel_of_each_module(recording: Recording, tmp_path: Path) -> None:
    wanted = dict(tuple(recording.samples.groupby(["module", "channel"], observed=True)))
    with MDF(written(tmp_path / "out.mf4")) as found:
        assert found.start_time.timestamp() == recording.start_unix_s
        groups = {
            (group.channel_group.acq_name, group.channels[1].name): place for place, group in enumerate(found.groups)
        }
        assert set(groups) == set(wanted)
        for (module, channel), rows in wanted.items():
            signal = found.get(channel, group=groups[module, channel])
            assert signal.unit == rows["unit"].iloc[0]
            assert signal.timestamps.tolist() == rows["time_s"].tolist()
            assert signal.samples.tolist() == rows["value"].tolist()


def test_mf4_says_where_it_is_from_and_invents_no_date(tmp_path: Path) -> None:
    """MDF wants a start; a table without a wall clock has none, so 1970 stands there and the comment says why."""
    table = read(CAPTURES / "demo-programming-supply.csv")
    write(table, tmp_path / "table.mf4")
    with MDF(tmp_path / "table.mf4") as found:
        assert found.start_time.timestamp() == 0.0
        assert "no wall clock" in found.header.description and table.sha256 in found.header.description


def test_broadcast_signals_come_with_a_database(tmp_path: Path) -> None:
    examples, out = CAPTURES.parent / "dbc_examples", tmp_path / "out.csv"
    database = ("--dbc", examples / "broadcast.dbc", "--map", examples / "broadcast-map.toml")
    assert relearn("samples", CAPTURES / "passive-broadcast.log", *database, "--out", out).code == 0
    found = pd.read_csv(out)
    assert set(found["module"]) == {"broadcast"}
    assert set(found.loc[found["channel"] == "engine_speed", "unit"]) == {"rpm"}


def test_no_word_of_a_file_runs_in_a_spreadsheet(recording: Recording, tmp_path: Path) -> None:
    """OWASP, CSV injection: here a unit, which may be any text of a signal database."""
    (first, *others), out = recording.series, tmp_path / "out.csv"
    risky = replace(first, signal=replace(first.signal, unit="=1+1"))
    write(replace(recording, series=(risky, *others)), out)
    found = pd.read_csv(out, dtype=str)
    assert set(found.loc[found["channel"] == first.signal.name, "unit"]) >= {"'=1+1"}
    assert not found["unit"].dropna().str.startswith("=").any()


@pytest.mark.parametrize("suffix", ["csv", "parquet", "mf4"])
def test_a_capture_without_a_value_gives_an_empty_file(suffix: str, tmp_path: Path) -> None:
    refused, out = tmp_path / "refused.log", tmp_path / f"out.{suffix}"
    refused.write_text("(1700000000.000000) can0 7E8#037F0912AAAAAAAA\n", encoding="ascii")
    assert relearn("samples", refused, "--out", out).out.startswith("wrote 0 samples")
    assert out.stat().st_size > 0


@pytest.mark.parametrize("suffix", ["csv", "parquet", "mf4"])
def test_nothing_is_written_over(suffix: str, tmp_path: Path) -> None:
    out = tmp_path / f"out.{suffix}"
    out.write_text("mine", encoding="utf-8")
    ran = relearn("samples", CAPTURE, "--out", out)
    assert (ran.code, ran.out) == (2, "")
    assert "nothing is written over" in ran.err and str(out) in ran.err
    assert out.read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize(("suffix", "library"), [("parquet", "pyarrow"), ("mf4", "asammdf")])
def test_without_the_extra_a_sentence_says_how_to_get_it(
    suffix: str, library: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setitem(sys.modules, library, None)
    out = tmp_path / f"out.{suffix}"
    ran = relearn("samples", CAPTURE, "--out", out)
    assert (ran.code, ran.out, out.exists()) == (2, "", False)
    assert f'pip install "relearn[{suffix}]"' in ran.err and ran.err.count("\n") == 1


@pytest.mark.parametrize(("name", "why"), [("out.xls", ".csv, .parquet, .mf4"), ("nowhere/out.csv", "no folder")])
def test_a_file_that_cannot_be_made(name: str, why: str, tmp_path: Path) -> None:
    ran = relearn("samples", CAPTURE, "--out", tmp_path / name)
    assert (ran.code, ran.out) == (2, "")
    assert why in ran.err and ran.err.count("\n") == 1


def test_the_table_of_one_row_for_each_value_is_no_table_to_judge(tmp_path: Path) -> None:
    """relearn reads tables with a column for each channel; its own CSV has a row for each value."""
    for suffix in ("csv", "parquet", "mf4"):
        ran = relearn("settle", written(tmp_path / f"out.{suffix}"), "--sheet", "demo-car")
        assert (ran.code, ran.out, ran.err.count("\n")) == (2, "", 1)
        assert "samples that relearn wrote" in ran.err and "ask the capture" in ran.err
