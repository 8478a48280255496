"""Air against the ideal gas and the trade's reading of trims."""

import numpy as np
import pytest

from relearn.checks.air import GAS_CONSTANT_AIR_J_PER_KG_K, air, speed_density_g_per_s
from relearn.procedures.sheets import generic, given_instead
from relearn.verdict import Outcome
from tests.build import channel, every, view

TIME_S = every(0.5, 0, 80)
SHEET = given_instead(
    given_instead(
        given_instead(generic(), "engine.displacement_l", 2.0, "test"),
        "engine.volumetric_efficiency_idle_percent",
        (55.0, 90.0),
        "test",
    ),
    "engine.volumetric_efficiency_2500_percent",
    (65.0, 95.0),
    "test",
)


def test_density_of_the_standard_atmosphere() -> None:
    """ISO 2533: 1.225 kg/m³ at 101.325 kPa and 15 °C. One litre drawn once a second (120 rpm, four strokes) is 1.225
    g/s."""
    flow = speed_density_g_per_s(np.array([101.325]), np.array([15.0]), np.array([120.0]), 1.0)
    assert flow[0] == pytest.approx(1.225, rel=1e-4)
    assert GAS_CONSTANT_AIR_J_PER_KG_K == 287.053  # ISO 2533, to the digits used


def engine(idle_trim: float, fast_trim: float, flow_factor: float = 1.0):
    """40 s at 650 rpm, then 40 s at 2,500 rpm; volumetric efficiency 75 %, warm, closed loop."""
    fast = TIME_S >= 40
    speed, pressure = np.where(fast, 2500.0, 650.0), np.where(fast, 32.0, 26.0)
    flow = 0.75 * speed_density_g_per_s(pressure, np.full(len(TIME_S), 40.0), speed, 2.0) * flow_factor
    values = {
        "engine_speed": speed,
        "intake_manifold_pressure": pressure,
        "intake_air_temperature": 40.0,
        "mass_air_flow": flow,
        "short_term_fuel_trim_bank_1": np.where(fast, fast_trim, idle_trim),
        "long_term_fuel_trim_bank_1": 0.0,
        "coolant_temperature": 88.0,
        "vehicle_speed": 0.0,
        "fuel_system_1_status": 2.0,
        "accelerator_pedal_position_d": np.where(fast, 25.0, 15.0),
    }
    return view(*(channel(name, TIME_S, value) for name, value in values.items()))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("car", "outcome", "points_to"),
    [
        (engine(1.0, 1.0), Outcome.YES, "breathes as it meters"),
        (engine(16.0, 2.0), Outcome.NO, "unmetered air downstream"),
        (engine(15.0, 14.0), Outcome.NO, "metering or fuel delivery"),
        (engine(-15.0, -14.0), Outcome.NO, "over-read"),
        (engine(1.0, 1.0, 0.6), Outcome.NO, "does not fit the engine although the trims do"),
    ],
)
def test_which_way_it_points(car, outcome: Outcome, points_to: str) -> None:
    """Trims beyond ± 10 % at idle and near zero at 2,500 rpm point to unmetered air: common practice, no source."""
    found = air(car, SHEET)
    assert found.verdict.outcome is outcome
    assert points_to in found.points_to


def test_without_the_second_speed_it_cannot_tell() -> None:
    whole = engine(1.0, 1.0)
    idle_only = view(*(one.take(one.time_s < 40) for one in whole.channels.values()))
    found = air(idle_only, SHEET)
    assert found.verdict.outcome is Outcome.CANNOT_TELL
    assert "20 s near 2,500 rpm" in found.would_settle


def test_airflow_parts_without_a_sheet_are_told_and_do_not_decide() -> None:
    found = air(engine(1.0, 1.0), generic())
    assert found.verdict.outcome is Outcome.YES
    assert [part.outcome for part in found.verdict.children].count(Outcome.CANNOT_TELL) == 3


def test_open_loop_trims_do_not_count() -> None:
    whole = engine(16.0, 2.0)
    opened = dict(whole.channels) | {"fuel_system_1_status": channel("fuel_system_1_status", TIME_S, 4.0)}
    assert air(view(*opened.values()), SHEET).verdict.outcome is Outcome.CANNOT_TELL
