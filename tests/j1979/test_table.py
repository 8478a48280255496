"""The parameter table holds together, and says where when a row does not."""

from __future__ import annotations

from pathlib import Path

import pytest

from relearn.errors import ProcedureError
from relearn.j1979.table import Signal, parameters, parse, signals

# SAE J1979 / ISO 15031-5: mode 01 parameters 00 to 6F, and A4, A6 of later editions.
WANTED = set(range(0x70)) | {0xA4, 0xA6}

GOOD = """
source = "somewhere"
[states.off_on]
0 = "off"
1 = "on"
[pid.0C]
title = "Engine RPM"
length = 2
signals.engine_speed = { field = "AB", unit = "rpm", scale = 0.25 }
"""


def test_every_parameter_of_the_standard_is_there() -> None:
    assert set(parameters()) >= WANTED


def test_lookups_agree() -> None:
    assert all(signals()[signal.name] is signal for row in parameters().values() for signal in row.signals)


def test_letters_of_the_standard_become_bits() -> None:
    """Bit numbering of the public tables: A7 is the first bit on the wire, A0 the eighth."""
    lamp, count = parameters()[0x01].signals[:2]
    assert (lamp.first_bit, lamp.bits, count.first_bit, count.bits) == (0, 1, 1, 7)
    status = signals()["neutral_drive_status"]
    assert (status.first_bit, status.bits, status.present_bit) == (14, 1, 6)


def test_an_open_or_shorted_temperature_circuit_is_not_plausible() -> None:
    """SAE J1979 scaling: 00 is -40 °C, an open circuit; FF is 215 °C, a short."""
    low, high = signals()["coolant_temperature"].plausible or (0.0, 0.0)
    assert -40 < low < high < 215


def test_what_a_field_can_carry() -> None:
    trim = Signal("trim", "Trim", 0, 8, scale=100 / 128, offset=-100, not_used=255)
    assert trim.raw_limits() == (0, 254)
    assert Signal("pressure", "Pressure", 0, 16, signed=True, scale=0.25).limits() == (-8192.0, 8191.75)


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ("unit =", "units =", "pid.0C.signals.engine_speed.units"),
        ("length = 2\n", "", "pid.0C.length"),
        ("length = 2", "length = 1", "pid.0C.signals.engine_speed"),
        ('field = "AB"', 'field = "AC"', "pid.0C.signals.engine_speed.field"),
        ('field = "AB"', 'field = "A0-3"', "pid.0C.signals.engine_speed.field"),
        ('field = "AB"', 'field = "A8"', "pid.0C.signals.engine_speed.field"),
        ("scale = 0.25", "scale = 0", "pid.0C.signals.engine_speed.scale"),
        ("scale = 0.25", 'scale = "1/0"', "pid.0C.signals.engine_speed.scale"),
        ("scale = 0.25", 'scale = "quarter"', "pid.0C.signals.engine_speed.scale"),
        ("scale = 0.25", 'states = "on_off"', "pid.0C.signals.engine_speed.states"),
        ("scale = 0.25", "plausible = [10, 0]", "pid.0C.signals.engine_speed.plausible"),
        ('0 = "off"', 'zero = "off"', "states.off_on.zero"),
        ("pid.0C", "pid.C", "pid.C"),
        ("signals.eng", 'signals.other = { field = "A" }\nsignals.eng', "pid.0C.signals.engine_speed"),
    ],
)
def test_a_malformed_row_is_told_with_its_key(old: str, new: str, key: str) -> None:
    assert parse(GOOD, Path("parameters.toml"))[0x0C].signals[0].scale == 0.25
    with pytest.raises(ProcedureError) as caught:
        parse(GOOD.replace(old, new), Path("parameters.toml"))
    assert (caught.value.key or "").startswith(key)
    assert "parameters.toml" in str(caught.value)


def test_a_channel_name_used_twice_is_told() -> None:
    with pytest.raises(ProcedureError, match=r"pid\.0D\.signals\.engine_speed.*twice"):
        parse(GOOD + GOOD[GOOD.index("[pid.0C]") :].replace("0C", "0D"), Path("parameters.toml"))


def test_a_text_that_is_no_toml_is_told() -> None:
    with pytest.raises(ProcedureError, match="not TOML"):
        parse("= =", Path("parameters.toml"))
