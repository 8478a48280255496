"""Air against textbook closed forms and the standard atmosphere; numbers from memory unless a source is named."""

from math import sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants

from relearn.practice.air import (
    CRITICAL_RATIO,
    R_AIR,
    STRAIGHT_FROM,
    density_kg_m3,
    flow_factor,
    orifice_kg_s,
    standard_pressure_pa,
    standard_temperature_k,
)

GAMMA = 1.4


def test_the_critical_ratio_of_air():
    assert pytest.approx(0.5283, abs=5e-5) == CRITICAL_RATIO  # any compressible-flow textbook, gamma = 1.4


def test_choked_flow_of_air():
    # Textbook constant for air: mass flow / area = 0.0404 · p0 / sqrt(T0) in SI units.
    assert orifice_kg_s(1.0, 101325.0, 288.15, 20000.0) == pytest.approx(0.0404 * 101325.0 / sqrt(288.15), rel=1e-3)


@given(st.floats(0.0, CRITICAL_RATIO))
def test_choked_flow_does_not_depend_on_what_is_behind(ratio):
    assert flow_factor(ratio) == flow_factor(0.3)


@given(st.floats(CRITICAL_RATIO + 1e-6, STRAIGHT_FROM))
def test_unchoked_flow_is_the_isentropic_mach_number_form(ratio):
    mach = sqrt(2.0 / (GAMMA - 1.0) * (ratio ** (-(GAMMA - 1.0) / GAMMA) - 1.0))
    expected = sqrt(GAMMA) * mach * (1.0 + (GAMMA - 1.0) / 2.0 * mach**2) ** (-(GAMMA + 1.0) / (2.0 * (GAMMA - 1.0)))
    assert flow_factor(ratio) == pytest.approx(expected, rel=1e-9)


@given(st.floats(0.0, 1.2), st.floats(0.0, 1.2))
def test_more_pressure_behind_never_means_more_flow(one, other):
    assert flow_factor(max(one, other)) <= flow_factor(min(one, other)) + 1e-12


def test_nothing_flows_back():
    assert flow_factor(1.0) == flow_factor(1.1) == 0.0


@pytest.mark.parametrize(
    ("altitude_m", "pressure_pa", "density"),
    [
        # ISO 2533 / ICAO standard atmosphere by geopotential altitude, table values from memory
        (0.0, 101325.0, 1.2250),
        (1000.0, 89874.6, 1.1116),
        (5000.0, 54019.9, 0.7361),
        (11000.0, 22632.1, 0.3639),
    ],
)
def test_the_standard_atmosphere(altitude_m, pressure_pa, density):
    assert standard_pressure_pa(altitude_m) == pytest.approx(pressure_pa, rel=2e-5)
    found = density_kg_m3(standard_pressure_pa(altitude_m), standard_temperature_k(altitude_m))
    assert found == pytest.approx(density, abs=1e-4)


def test_the_gas_constant_is_the_universal_one_by_the_molar_mass_of_air():
    # ISO 2533: M = 28.964 420 kg/kmol; its universal constant is 2 parts in 100 000 below today's (scipy).
    assert pytest.approx(constants.R / 0.028964420, rel=5e-5) == R_AIR
