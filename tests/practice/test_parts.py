"""The engine's parts against closed forms, conservation and signs."""

from dataclasses import replace
from math import exp, pi

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants

from relearn.practice.crank import clutch_nm, friction_nm, starter_nm
from relearn.practice.cylinders import filling_kg, indicated_nm, pumping_nm
from relearn.practice.electrics import Battery, Source, share
from relearn.practice.engine import load
from relearn.practice.fuel import Loop, Trims, loop_state, trim
from relearn.practice.governor import Command, Seen, govern
from relearn.practice.thermal import Temperatures, loss_w_k, warm
from relearn.practice.throttle import Plate, area_m2, follow

ENGINE = load()


@pytest.mark.parametrize("heating_w", [0.0, 1000.0])
def test_warm_up_with_the_thermostat_shut_is_newtons_law(heating_w):
    """T(t) = T_end + (T_0 − T_end) · exp(−t · h/C), T_end = T_ambient + Q/h: Newton's law of cooling, closed form."""
    heat, ambient_c, dt, steps = ENGINE.heat, 10.0, 0.01, 60_000
    now = Temperatures(20.0 if heating_w else 70.0, 20.0, 20.0)
    end_c = ambient_c + heating_w / heat.body_w_k
    expected = end_c + (now.coolant_c - end_c) * exp(-steps * dt * heat.body_w_k / heat.coolant_j_k)
    for _ in range(steps):
        now = warm(heat, now, heating_w, ambient_c, 0.0, dt)
    assert now.thermostat == 0.0
    assert now.coolant_c == pytest.approx(expected, abs=0.01)


def test_the_open_thermostat_holds_the_coolant_where_heat_in_is_heat_out():
    heat, now = ENGINE.heat, Temperatures(92.0, 90.0, 30.0, 0.5)
    for _ in range(60_000):
        now = warm(heat, now, 3000.0, 20.0, 0.0, 0.05)
    assert loss_w_k(heat, now.thermostat, 0.0) * (now.coolant_c - 20.0) == pytest.approx(3000.0, rel=1e-3)
    assert heat.thermostat_opens_c < now.coolant_c < heat.thermostat_full_c


@given(st.floats(0.0, 200.0), st.floats(0.0, 150.0), st.floats(0.0, 1.4))
def test_currents_and_voltages_add_up(load_a, able_a, lifted_v):
    """Kirchhoff: what the source does not give comes from the battery, through its resistance."""
    electrics = ENGINE.electrics
    after = share(electrics, Battery(lifted_v, 12.6), Source(14.05, able_a), load_a, 0.01)
    open_v = electrics.rest_v + lifted_v
    assert after.node_v == pytest.approx(open_v - electrics.resistance_ohm * (load_a - after.source_a))
    assert 0.0 <= after.source_a <= able_a
    assert after.source_a == able_a or after.node_v == pytest.approx(14.05)


def test_an_ideal_gas_fills_the_cylinders():
    """m = n · M = p · V / (R · T) · M with the universal gas constant (scipy) and air's molar mass (ISO 2533)."""
    full = replace(ENGINE.cylinders, ve_base=1.0, ve_per_pressure_ratio=0.0, ve_per_rpm=0.0)
    expected = 30_000.0 * 0.002 / (constants.R * 308.15) * 0.028964420
    assert filling_kg(full, 650.0, 30_000.0, 101325.0, 308.15) == pytest.approx(expected, rel=5e-5)


@given(st.floats(1e-5, 3e-3), st.floats(-20.0, 60.0))
def test_combustion_never_gives_more_work_than_heat(charge_kg, timing_deg):
    cylinders = ENGINE.cylinders
    heat_j = charge_kg / cylinders.air_fuel_ratio * cylinders.heating_value_j_kg
    work_j = indicated_nm(cylinders, charge_kg, timing_deg) * 4.0 * pi
    assert 0.0 <= work_j <= cylinders.indicated_efficiency * heat_j * (1 + 1e-12) < heat_j


@given(st.floats(0.0, 6000.0), st.floats(-30.0, 130.0))
def test_friction_always_brakes_and_cold_oil_brakes_more(speed_rpm, oil_c):
    assert friction_nm(ENGINE.crank, speed_rpm, oil_c) > 0.0
    assert friction_nm(ENGINE.crank, speed_rpm, oil_c - 10.0) >= friction_nm(ENGINE.crank, speed_rpm, oil_c)


def test_pumping_costs_nothing_without_a_vacuum_and_more_with_a_deeper_one():
    assert pumping_nm(ENGINE.cylinders, 101325.0, 101325.0) == 0.0
    assert pumping_nm(ENGINE.cylinders, 101325.0, 20_000.0) > pumping_nm(ENGINE.cylinders, 101325.0, 60_000.0) > 0.0


@given(st.floats(0.0, 6000.0))
def test_the_starter_only_ever_helps(speed_rpm):
    assert starter_nm(ENGINE.crank, speed_rpm) >= 0.0


@given(st.floats(600.0, 4000.0), st.floats(0.0, 80.0), st.integers(0, 5))
def test_the_driveline_pulls_the_engine_toward_its_own_speed(speed_rpm, vehicle_km_h, gear):
    driveline_rpm = ENGINE.crank.rpm_per_km_h[gear] * vehicle_km_h
    assert clutch_nm(ENGINE.crank, speed_rpm, vehicle_km_h, gear) * (speed_rpm - driveline_rpm) >= 0.0


def test_a_steady_metering_error_ends_in_trims_that_cancel_it():
    trims = Trims()
    for _ in range(200_000):
        trims = trim(ENGINE.fuel, trims, Loop.CLOSED, 12.0, 650.0, 0.01)
    assert trims.short_pct + trims.long_idle_pct == pytest.approx(12.0, abs=0.01)
    assert trims.long_idle_pct > 11.0
    assert trims.long_cruise_pct == 0.0


@pytest.mark.parametrize(
    ("running_s", "coolant_c", "expected"),
    [(0.0, 90.0, Loop.OFF), (5.0, 90.0, Loop.OPEN_NOT_YET), (60.0, 10.0, Loop.OPEN_NOT_YET), (60.0, 90.0, Loop.CLOSED)],
)
def test_the_loop_closes_when_warm_and_running_for_a_while(running_s, coolant_c, expected):
    assert loop_state(ENGINE.fuel, running_s, coolant_c) is expected


@given(st.floats(0.0, 60.0), st.floats(0.0, 60.0))
def test_a_wider_plate_leaves_more_area(one, other):
    small, large = sorted((one, other))
    assert area_m2(ENGINE.throttle, small) <= area_m2(ENGINE.throttle, large)


def test_the_wide_open_throttle_is_about_the_bore():
    throttle = ENGINE.throttle
    bore = throttle.discharge * pi / 4.0 * throttle.bore_m**2
    assert area_m2(throttle, 100.0) == pytest.approx(bore + 2.5e-6, rel=1e-9)


def test_a_sticking_plate_waits_then_moves_the_whole_way():
    plate = follow(ENGINE.throttle, Plate(3.0), 3.5, 0.7, 0.01)
    assert plate == Plate(3.0)
    for _ in range(200):
        plate = follow(ENGINE.throttle, plate, 3.8, 0.7, 0.01)
    assert plate.opening_pct == pytest.approx(3.8, abs=0.03)


@given(st.floats(500.0, 640.0))
def test_too_slow_an_idle_gets_more_air_and_more_spark(speed_rpm):
    slow = Seen(speed_rpm, 89.0, 0.0, 0.0, 60.0, True)
    right = slow._replace(speed_rpm=650.0)
    before = Command(3.4, 15.0)
    assert (
        govern(ENGINE.governor, 1.0, before, slow, 0.01).opening_pct
        > govern(ENGINE.governor, 1.0, before, right, 0.01).opening_pct
    )
    assert govern(ENGINE.governor, 1.0, before, slow, 0.01).timing_deg > 15.0
