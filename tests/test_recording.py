"""One file read all the way up, by literal candump lines; values by the public J1979 formulas."""

from pathlib import Path

import pytest

from relearn.errors import CaptureError
from relearn.recording import Recording, read


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
