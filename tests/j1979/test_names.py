"""Headers to channels. Source: SAE J1979 names and J1930 abbreviations (the parameter table); other spellings are
common practice, no source."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from relearn.j1979.names import known, match, near
from relearn.j1979.table import signals

HEADERS = [
    ("Engine speed (rpm)", "engine_speed", "rpm"),
    ("RPM", "engine_speed", "RPM"),
    ("Engine RPM", "engine_speed", "RPM"),
    ("engine_speed_rpm", "engine_speed", "rpm"),
    ("EngineSpeed", "engine_speed", ""),
    ("Engine speed ()", "engine_speed", ""),
    ("ECT", "coolant_temperature", ""),
    ("ECT [°F]", "coolant_temperature", "°F"),
    ("Coolant temp, F", "coolant_temperature", "F"),
    ("Coolant temp deg C", "coolant_temperature", "deg C"),
    ("coolant_temp_C", "coolant_temperature", "C"),
    ("Engine coolant temperature (ECT) (°C)", "coolant_temperature", "°C"),
    ("VSS mph", "vehicle_speed", "mph"),
    ("MAF (lb/min)", "mass_air_flow", "lb/min"),
    ("MAP [inHg]", "intake_manifold_pressure", "inHg"),
    ("IAT", "intake_air_temperature", ""),
    ("TP%", "throttle_position", "%"),
    ("APP", "accelerator_pedal_position_d", ""),
    ("accelerator_pedal_position_f", "accelerator_pedal_position_f", ""),  # the last letter is no °F
    ("Short term fuel trim, bank 1", "short_term_fuel_trim_bank_1", ""),
    ("Short term fuel trim, bank 1, %", "short_term_fuel_trim_bank_1", "%"),
    ("LONGFT1", "long_term_fuel_trim_bank_1", ""),
    ("SHRTFT2 (%)", "short_term_fuel_trim_bank_2", "%"),
    ("SPARKADV [°]", "timing_advance", "°"),
    ("Control module voltage (V)", "control_module_voltage", "V"),
    ("Battery voltage", "battery_voltage", ""),
    ("Voltage [mV]", "battery_voltage", "mV"),
    ("MIL", "malfunction_lamp", ""),
    ("O2S11 (V)", "oxygen_sensor_1_voltage", "V"),  # with this unit it can only be the voltage
]


@pytest.mark.parametrize(("header", "channel", "unit"), HEADERS)
def test_header_names_a_channel(header: str, channel: str, unit: str) -> None:
    found = match(header)
    assert found is not None and (found[0].name, found[1]) == (channel, unit)


@pytest.mark.parametrize(
    "header",
    [
        "",
        "time",
        "Engine speed target",
        "Target engine speed",
        "GPS speed (mph)",
        "Throttle",
        "FRP",
        "O2S11",
        "Engine speed km/h",
        "Speed",
    ],
)
def test_header_that_names_none_or_more_than_one_is_no_channel(header: str) -> None:
    assert match(header) is None


def test_unit_that_does_not_fit_is_given_back_for_the_caller_to_refuse() -> None:
    found = match("Engine speed (furlongs)")
    assert found is not None and found[1] == "furlongs"


def test_a_meter_is_not_the_control_module() -> None:
    assert "battery_voltage" in known() and "battery_voltage" not in signals()


def test_every_channel_is_found_by_its_own_name() -> None:
    found = {name: match(name) for name in known()}
    assert {name: one and one[0].name for name, one in found.items()} == {name: name for name in known()}


@given(st.sampled_from([row for row in HEADERS if not row[2]]), st.data())
def test_case_and_punctuation_do_not_matter(row: tuple[str, str, str], data: st.DataObject) -> None:
    changed = data.draw(st.sampled_from([row[0].upper(), row[0].lower(), row[0].replace(" ", "_"), f" {row[0]}. "]))
    found = match(changed)
    assert found is not None and found[0].name == row[1]


def test_near_names_are_offered() -> None:
    assert "engine_speed" in near("engin_sped", known())
