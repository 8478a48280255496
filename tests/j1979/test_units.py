"""Conversions. Source: scipy.constants (CODATA and the exact definitions), beside literal values of the definitions."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants

from relearn.j1979.table import signals
from relearn.j1979.units import UNITS, Unit, convert, find


def one(value: float, unit: str, wanted: str) -> float:
    converted = convert(np.array([value]), unit, wanted)
    assert converted is not None
    return float(converted[0])


# value, unit, the value that scipy.constants gives, unit
SCIPY = [
    (68.0, "mph", 68.0 * constants.mph * 3.6, "km/h"),
    (14.5, "psi", 14.5 * constants.psi / 1000, "kPa"),
    (29.92, "inHg", 29.92 * 25.4 * constants.mmHg / 1000, "kPa"),
    (760.0, "mmHg", constants.atm / 1000, "kPa"),
    (1.0, "bar", constants.bar / 1000, "kPa"),
    (2.0, "lb/min", 2.0 * constants.pound * 1000 / 60, "g/s"),
    (90.0, "lb/h", 90.0 * constants.pound * 1000 / 3600, "g/s"),
    (3.0, "mi", 3.0 * constants.mile / 1000, "km"),
    (1.0, "gal/h", constants.gallon * 1000, "L/h"),
    (100.0, "lb·ft", 100.0 * constants.lbf * constants.foot, "N·m"),
    (273.15, "K", 273.15 - constants.zero_Celsius, "°C"),
]


@pytest.mark.parametrize(("value", "unit", "expected", "wanted"), SCIPY)
def test_against_scipy_constants(value: float, unit: str, expected: float, wanted: str) -> None:
    assert one(value, unit, wanted) == pytest.approx(expected, rel=1e-6)


@given(st.floats(-80, 1000))
def test_fahrenheit_against_scipy(value: float) -> None:
    expected = float(constants.convert_temperature(value, "Fahrenheit", "Celsius"))
    assert one(value, "°F", "°C") == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize(
    ("value", "unit", "expected", "wanted"),
    [
        (-40.0, "degF", -40.0, "°C"),
        (212.0, "F", 100.0, "°C"),
        (12_600.0, "mV", 12.6, "V"),
        (36.0, "kg/h", 10.0, "g/s"),
        (1013.25, "mbar", 101.325, "kPa"),
        (10.0, "m/s", 36.0, "km/h"),
        (1.5, "min", 90.0, "s"),
        (0.25, "A", 250.0, "mA"),
        (407.0, "inH2O", 101.379, "kPa"),
    ],
)
def test_literal_conversions(value: float, unit: str, expected: float, wanted: str) -> None:
    assert one(value, unit, wanted) == pytest.approx(expected, rel=1e-5)


@pytest.mark.parametrize(("unit", "wanted"), [("rpm", "km/h"), ("furlong", "km"), ("%", ""), ("", "V"), ("ratio", "%")])
def test_what_cannot_be_converted_is_none(unit: str, wanted: str) -> None:
    assert convert(np.array([1.0]), unit, wanted) is None


@pytest.mark.parametrize(
    ("text", "name"),
    [("RPM", "rpm"), ("Deg C", "°C"), ("ºF", "°F"), ("1/min", "rpm"), ("in Hg", "inHg"), ("KPH", "km/h")],
)
def test_spellings(text: str, name: str) -> None:
    found = find(text)
    assert found is not None and found.name == name


def test_no_spelling_belongs_to_two_units() -> None:
    for unit in UNITS:
        assert all(find(text) == unit for text in (unit.name, *unit.spellings))


def test_every_unit_of_the_parameter_table_is_known() -> None:
    assert {signal.unit for signal in signals().values() if find(signal.unit) is None} == set()


@given(st.sampled_from(UNITS), st.sampled_from(UNITS), st.floats(-1e6, 1e6))
def test_there_and_back(unit: Unit, other: Unit, value: float) -> None:
    there = convert(np.array([value]), unit.name, other.name)
    if there is not None:
        back = convert(there, other.name, unit.name)
        assert back is not None and back[0] == pytest.approx(value, rel=1e-9, abs=1e-6)
