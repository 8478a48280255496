"""One file read all the way up, by literal candump lines; values by the public J1979 formulas."""

import copy
import pickle
import threading
from pathlib import Path

import pytest

from relearn.analysis.settle import settle
from relearn.analysis.show import show
from relearn.capture import sha256
from relearn.errors import CaptureError, MapError
from relearn.export import write
from relearn.procedures.sheets import generic
from relearn.recording import NO_DATABASE, Recording, read
from tests.cli.run import CAPTURES

EXAMPLES = CAPTURES.parent / "dbc_examples"
BROADCAST = (CAPTURES / "passive-broadcast.log", EXAMPLES / "broadcast.dbc", EXAMPLES / "broadcast-map.toml")


def recorded(tmp_path: Path, *frames: str) -> Recording:
    path = tmp_path / "a.log"
    path.write_text(
        "".join(f"(1700000000.{at:06d}) can0 {frame}\n" for at, frame in enumerate(frames)), encoding="ascii"
    )
    return read(path)


def test_values_identity_and_refusals_of_one_module(tmp_path: Path) -> None:
    found = recorded(
        tmp_path,
        "7DF#02010C0000000000",
        "7E8#04410C0AF0000000",  # (0x0A × 256 + 0xF0) / 4 = 700 rpm
        "7E8#0341055F00000000",  # 0x5F − 40 = 55 °C
        "7E8#037F0912AAAAAAAA",  # service 09: sub-function not supported
        "7E8#0443010113000000",  # one stored code, P0113 (SAE J2012)
    )
    rows = {row.channel: (row.value, row.unit, row.frame) for row in found.samples.itertuples()}
    assert rows == {"engine_speed": (700.0, "rpm", 2), "coolant_temperature": (55.0, "°C", 3)}
    assert found.modules == ("7E8",)
    assert [(one.kind, one.codes) for one in found.codes] == [("stored", ("P0113",))]
    assert [(one.service, one.code) for one in found.refusals] == [(0x09, 0x12)]
    assert found.start_unix_s == pytest.approx(1700000000.0)


def test_a_lost_frame_is_told_with_its_number_and_gives_no_vin(tmp_path: Path) -> None:
    found = recorded(
        tmp_path,
        "7E8#1014490201314D38",
        "7E0#3000000000000000",
        "7E8#21474441394C505A",
        "7E8#234D3132333435AA",
        "7E8#04410C0AF0000000",
    )
    assert found.identity == ()
    assert [one.kind for one in found.faults] == ["lost-frame"]


def test_requests_alone_are_no_capture(tmp_path: Path) -> None:
    with pytest.raises(CaptureError, match="only requests"):
        recorded(tmp_path, "7DF#02010C0000000000", "7DF#02010C0000000000")


@pytest.mark.parametrize(
    "given",
    [(CAPTURES / "demo-after.log",), (CAPTURES / "sagging-supply.csv",), BROADCAST],
    ids=lambda one: one[0].name,
)
def test_a_recording_pickled_or_copied_answers_the_same(given: tuple[Path, ...]) -> None:
    found = read(*given)
    for again in (pickle.loads(pickle.dumps(found)), copy.deepcopy(found)):
        assert [one.signal for one in again.series] == [one.signal for one in found.series]
        assert show(again, None) == show(found, None) and settle(again, generic(), None) == settle(
            found, generic(), None
        )
        with pytest.raises(TypeError):
            again.series[0].signal.states[0] = "changed"


def test_a_recording_is_told_in_one_short_line() -> None:
    path = CAPTURES / "two-modules.log"
    found = read(path)
    assert repr(found) == (
        f"<Recording {path}: {found.duration_s:.1f} s; modules: 7E8, 7E9; channels: {len(found.series)}>"
    )


def test_whoever_changes_the_table_changes_no_recording() -> None:
    found = read(CAPTURES / "sagging-supply.csv")
    before = found.samples.copy()
    table = found.samples
    table.loc[:, "value"] = 0.0
    table["mine"] = 1
    assert found.samples.equals(before) and found.table.equals(before)


@pytest.mark.parametrize("name", ["own.csv", "own.mf4", "own.parquet"])
@pytest.mark.parametrize("database", [None, BROADCAST[1]], ids=["alone", "with a database"])
def test_what_relearn_wrote_of_a_capture_is_no_capture(name: str, database: Path | None, tmp_path: Path) -> None:
    write(read(CAPTURES / "two-modules.log"), tmp_path / name)
    with pytest.raises(CaptureError, match=r"the samples that relearn wrote.*ask the capture that they came from"):
        read(tmp_path / name, database)


def test_a_spreadsheet_may_have_saved_them_again(tmp_path: Path) -> None:
    for name, delimiter in (("semicolons.csv", ";"), ("tabs.csv", "\t")):
        (tmp_path / name).write_text(delimiter.join(["time_s", "module", "channel", "value", "unit", "frame"]) + "\n")
        with pytest.raises(CaptureError, match="the samples that relearn wrote"):
            read(tmp_path / name)


@pytest.mark.parametrize("content", [b"", b"PAR1", b"\xff\xff\xff\xffPAR1", bytes(8) + b"PAR1"])
def test_another_parquet_file_has_no_format_of_a_capture(content: bytes, tmp_path: Path) -> None:
    (tmp_path / "other.parquet").write_bytes(content)
    with pytest.raises(CaptureError, match=r"is empty|names no format"):
        read(tmp_path / "other.parquet")


def test_a_table_is_read_as_without_the_database() -> None:
    table = CAPTURES / "sagging-supply.csv"
    alone, beside = read(table), read(table, BROADCAST[1], BROADCAST[2])
    assert beside.samples.equals(alone.samples) and beside.modules == alone.modules
    assert (NO_DATABASE in beside.notes, NO_DATABASE in alone.notes) == (True, False)


def test_no_sentence_of_the_library_speaks_of_options() -> None:
    for given in ((BROADCAST[0],), (CAPTURES / "demo-after.log", None, BROADCAST[2])):
        with pytest.raises((CaptureError, MapError)) as wrong:
            read(*given)
        assert "--" not in str(wrong.value) and "database" in str(wrong.value)


def test_a_name_with_a_nul_is_a_sentence_and_no_trace_of_a_thread(monkeypatch: pytest.MonkeyPatch) -> None:
    ended: list[object] = []
    monkeypatch.setattr(threading, "excepthook", ended.append)
    with pytest.raises(CaptureError, match="it holds a NUL"):
        read(Path("a\0.log"))
    with pytest.raises(CaptureError, match="cannot be read"):
        sha256(Path("a\0.log"))
    for one in threading.enumerate():
        if one.daemon and one is not threading.current_thread():
            one.join(5)
    assert not ended
