"""Trouble code bytes, SAE J2012 / ISO 15031-6."""

from __future__ import annotations

import importlib

import pytest

from relearn.j1979.codes import trouble_code, trouble_codes


@pytest.mark.parametrize(
    ("number", "code"),
    [  # two bits system (P, C, B, U), two bits first digit, three hexadecimal digits
        (0x0113, "P0113"),
        (0x0000, "P0000"),
        (0x1234, "P1234"),
        (0x2463, "P2463"),
        (0x3FFF, "P3FFF"),
        (0x4035, "C0035"),
        (0x9234, "B1234"),
        (0xC123, "U0123"),
        (0xFABC, "U3ABC"),
        (0x0A1F, "P0A1F"),
    ],
)
def test_bytes_to_code(number: int, code: str) -> None:
    assert trouble_code(number) == code


def test_every_number_as_scapy_reads_it() -> None:
    layer = importlib.import_module("scapy.contrib.automotive.obd.services").OBD_DTC
    for number in range(0, 0x10000, 97):
        theirs = layer(number.to_bytes(2, "big"))
        digits = f"{theirs.code1:X}{theirs.code2:X}{theirs.code3:X}{theirs.code4:X}"
        assert trouble_code(number) == "PCBU"[theirs.location] + digits


@pytest.mark.parametrize(
    ("data", "codes", "trouble"),
    [
        ("00", (), None),
        ("010113", ("P0113",), None),
        ("020113C123", ("P0113", "U0123"), None),
        ("0101130000", ("P0113",), None),  # zero padding is no code
        ("01011300", ("P0113",), None),
        ("0000000000", (), None),
        ("020113", ("P0113",), "announces 2 codes and carries 1"),
        ("000113", ("P0113",), "announces 0 codes and carries 1"),
        ("0201130300" + "01", ("P0113", "P0300"), "cut short"),
        ("", (), "no count"),
    ],
)
def test_answers(data: str, codes: tuple[str, ...], trouble: str | None) -> None:
    found, said = trouble_codes(bytes.fromhex(data))
    assert found == codes
    assert said is None if trouble is None else trouble in (said or "")
