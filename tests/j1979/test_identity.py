"""Identification texts, and the check digit of a VIN."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from vininfo import Vin

from relearn.j1979.identity import INFOTYPES, check_digit, counted, entries, extent, text, vin_check
from relearn.verdict import Outcome

VIN, CALIBRATION, NUMBER, NAME = (INFOTYPES[one] for one in (0x02, 0x04, 0x06, 0x0A))
ALPHABET = "ABCDEFGHJKLMNPRSTUVWXYZ0123456789"  # ISO 3779: no I, O, Q


@pytest.mark.parametrize(
    ("data", "read"),
    [
        (b"ABC\0\0", "ABC"),
        (b"\xff\xffABC", "ABC"),
        (b"  ABC ", "ABC"),
        (b"A\x1bC", "A\\x1bC"),
        (b"\0\0", ""),
        (b"A\0C", "A\\x00C"),
        ("Ü".encode("latin-1"), "\\xdc"),
        (b"<b>", "<b>"),
    ],
)
def test_padding_goes_and_what_does_not_print_shows(data: bytes, read: str) -> None:
    assert text(data) == read


def test_count_bytes_are_told_by_the_length() -> None:
    assert entries(VIN, b"1M8GDM9AXKP042788") == entries(VIN, b"\x011M8GDM9AXKP042788") == ("1M8GDM9AXKP042788",)
    assert entries(NUMBER, bytes.fromhex("020000000100000002")) == ("00000001", "00000002")
    assert entries(NUMBER, bytes.fromhex("0000000100000002")) == ("00000001", "00000002")
    assert entries(VIN, b"\x01\0\0\0" + b"1M8GDM9AXKP042788") == ("1M8GDM9AXKP042788",)  # filler of older protocols
    assert counted(CALIBRATION, b"A" * 16) is None and entries(CALIBRATION, b"A" * 16) == ("A" * 16,)
    assert entries(NAME, b"\x01" + b"ECM\0-EngineControl\0\0") == ("ECM-EngineControl",)
    assert entries(VIN, bytes(17)) == ("",)  # never written
    assert entries(CALIBRATION, b"\x01" + b"A" * 15) is None  # a count byte, and one character too few


@pytest.mark.parametrize(("kind", "data"), [(NUMBER, b"\x02" + bytes(4)), (CALIBRATION, bytes(15)), (VIN, b"")])
def test_a_length_that_fits_nothing_is_nothing(kind: object, data: bytes) -> None:
    assert entries(kind, data) is None  # type: ignore[arg-type]


def test_where_an_identification_ends_before_another_identifier() -> None:
    more = bytes.fromhex("F40C1AF8")
    assert extent(NUMBER, bytes(4) + more) is None  # two numbers, or one and a parameter
    assert extent(NUMBER, bytes(4) + more + b"\0") == 4
    assert extent(VIN, b"1M8GDM9AXKP042788" + more) == 17
    assert extent(CALIBRATION, b"\x01" + b"CAL-0001".ljust(16, b"\0") + more) == 17
    assert extent(CALIBRATION, b"CAL-0001".ljust(16, b"\0") + b"\x00\x00") is None


def test_the_worked_example_of_the_rule() -> None:
    """49 CFR 565.15: 1M8GDM9A_KP042788 has the check digit X."""
    assert check_digit("1M8GDM9A0KP042788") == "X"
    assert vin_check("1M8GDM9AXKP042788").outcome is Outcome.YES


def test_all_ones() -> None:
    """A well-known self-check: seventeen ones have the check digit 1 (the weights add up to 89)."""
    assert check_digit("1" * 17) == "1"


@pytest.mark.parametrize(
    ("vin", "outcome", "said"),
    [
        ("1M8GDM9A1KP042788", Outcome.NO, "should be X"),
        ("1M8GDM9AXKP04278", Outcome.NO, "has 16"),
        ("", Outcome.NO, "has 0"),
        ("1M8GDM9AXKPO42788", Outcome.NO, "cannot contain O"),
        ("1m8GDM9AXKP042788", Outcome.NO, "cannot contain m"),
        ("WM8GDM9AXKP042788", Outcome.CANNOT_TELL, "need not use"),
        ("WM8GDM9AZKP042788", Outcome.CANNOT_TELL, "need not use"),
    ],
)
def test_three_outcomes(vin: str, outcome: Outcome, said: str) -> None:
    found = vin_check(vin)
    assert found.outcome is outcome and said in found.reason


@settings(max_examples=150, deadline=None)
@given(st.sampled_from("12345"), st.text(ALPHABET, min_size=7, max_size=7), st.text(ALPHABET, min_size=8, max_size=8))
def test_as_vininfo_checks_it(region: str, head: str, tail: str) -> None:
    digit = check_digit(f"{region}{head}0{tail}")
    for place in "0123456789X":
        vin = f"{region}{head}{place}{tail}"
        assert (vin_check(vin).outcome is Outcome.YES) == Vin(vin).verify_checksum(check_year=False) == (place == digit)
