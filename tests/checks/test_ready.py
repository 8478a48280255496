"""Readiness on made views, precondition by precondition. Limits: trade facts, common practice or from memory, no
source."""

from dataclasses import replace

import numpy as np
import pytest

from relearn.channels import Channel
from relearn.checks.ready import PRECONDITIONS, Readiness, ready
from relearn.j1979.records import Codes, Support
from relearn.procedures.loader import PRECONDITION_CHECKS, procedure
from relearn.procedures.sheets import generic, given_instead
from relearn.verdict import Outcome
from tests.build import channel, every, view

TIME_S = every(1, 0, 30)
IDLING = {
    "engine_speed": 780.0,
    "control_module_voltage": 13.9,
    "coolant_temperature": 85.0,
    "vehicle_speed": 0.0,
    "accelerator_pedal_position_d": 15.0,
    "stored_code_count": 0.0,
    "malfunction_lamp": 0.0,
}
ENGINE_OFF = IDLING | {"engine_speed": 0.0, "control_module_voltage": 12.4, "coolant_temperature": 20.0}


def seen(base: dict[str, float], **more: object):
    values = {
        name: value for name, value in (base | more).items() if value is not None and name not in ("support", "codes")
    }
    return view(
        *(channel(name, TIME_S, value) for name, value in values.items()),  # type: ignore[arg-type]
        support=more.get("support"),
        codes=more.get("codes", ()),
    )  # type: ignore[arg-type]


def idle_air(car, sheet=None) -> Readiness:
    return ready(car, procedure("idle-air-volume").preconditions, sheet or generic(), 10.0)


def part(found: Readiness, name: str) -> Outcome:
    return next(child.outcome for child in found.verdict.children if child.id == name)


def test_every_check_a_procedure_may_name_exists() -> None:
    assert set(PRECONDITIONS) == set(PRECONDITION_CHECKS)


def test_ready_when_all_hold_and_the_span_says_since_when() -> None:
    found = idle_air(seen(IDLING))
    assert found.verdict.outcome is Outcome.YES
    ((from_s, to_s),) = found.spans
    assert 8.5 <= from_s <= 10.0
    assert to_s == 30.0


late = np.where(TIME_S < 25, 1.0, 0.0)


@pytest.mark.parametrize(
    ("name", "value", "condition", "outcome"),
    [
        ("engine_speed", 0.0, "engine-idling", Outcome.NO),
        ("control_module_voltage", 12.9, "supply", Outcome.NO),
        ("control_module_voltage", 0.0, "supply", Outcome.CANNOT_TELL),
        ("coolant_temperature", 69.0, "coolant-warm", Outcome.NO),
        ("coolant_temperature", -40.0, "coolant-warm", Outcome.CANNOT_TELL),
        ("coolant_temperature", None, "coolant-warm", Outcome.CANNOT_TELL),
        ("vehicle_speed", late, "vehicle-stopped", Outcome.NO),
        ("accelerator_pedal_position_d", 30.0, "pedal-released", Outcome.NO),
        ("accelerator_pedal_position_d", np.where(TIME_S < 25, 15.0, 18.0), "pedal-released", Outcome.NO),
        ("accelerator_pedal_position_d", None, "pedal-released", Outcome.CANNOT_TELL),
        ("stored_code_count", 1.0, "no-stored-codes", Outcome.NO),
        ("malfunction_lamp", late, "lamp-off", Outcome.NO),
    ],
)
def test_one_thing_wrong(name: str, value: object, condition: str, outcome: Outcome) -> None:
    found = idle_air(seen(IDLING, **{name: value}))
    assert part(found, condition) is outcome
    assert found.verdict.outcome is outcome


def test_a_list_of_stored_codes_is_named() -> None:
    codes = (Codes("7E8", "stored", ("P0113",), 28.0, 900),)
    found = idle_air(seen(IDLING, codes=codes))
    assert found.verdict.outcome is Outcome.NO
    assert "P0113" in found.verdict.reason


def test_a_list_of_codes_is_not_forgotten_because_the_count_says_none() -> None:
    codes = (Codes("7E8", "stored", ("P0113",), 22.0, 900),)
    found = idle_air(seen(IDLING, codes=codes))
    assert part(found, "no-stored-codes") is Outcome.CANNOT_TELL
    assert "8 s before the end still held codes" in found.verdict.reason


def lamp(module: str, *values: float) -> Channel:
    return replace(channel("malfunction_lamp", TIME_S[: len(values)], values), module=module)


@pytest.mark.parametrize(
    ("lit", "outcome"),
    [
        (lamp("7E9", *[1.0] * 31), Outcome.NO),
        (lamp("7E9", *[0.0] * 31), Outcome.YES),
        (lamp("7E9", 1.0), Outcome.CANNOT_TELL),
    ],
)
def test_the_car_has_one_lamp_whoever_lights_it(lit: Channel, outcome: Outcome) -> None:
    found = idle_air(replace(seen(IDLING), other_lamps=(lit,)))
    assert part(found, "lamp-off") is outcome


def test_an_engine_held_at_2500_rpm_is_not_idling() -> None:
    found = idle_air(seen(IDLING, engine_speed=2500.0, accelerator_pedal_position_d=18.5))
    assert part(found, "engine-idling") is Outcome.NO


def test_pending_codes_are_not_stored_codes() -> None:
    assert (
        idle_air(seen(IDLING, codes=(Codes("7E8", "pending", ("P0113",), 28.0, 900),))).verdict.outcome is Outcome.YES
    )


def test_an_old_list_of_codes_alone_cannot_tell() -> None:
    codes = (Codes("7E8", "stored", (), 2.0, 20),)
    assert part(idle_air(seen(IDLING, stored_code_count=None, codes=codes)), "no-stored-codes") is Outcome.CANNOT_TELL


def test_a_parameter_the_module_lacks_moves_to_by_eye_and_is_named() -> None:
    masks = Support(frozenset({0x00, 0x20, 0x40}), frozenset({0x05, 0x0C, 0x0D, 0x49}))
    found = idle_air(seen(IDLING, control_module_voltage=None, support=masks))
    assert found.verdict.outcome is Outcome.YES
    assert found.moved == (("supply", "supply voltage with the engine running"),)
    assert "confirm by eye: supply voltage" in found.verdict.reason


def test_masks_that_were_never_asked_leave_it_untold() -> None:
    masks = Support(frozenset({0x00}), frozenset({0x05, 0x0C, 0x0D, 0x20}))
    found = idle_air(seen(IDLING, control_module_voltage=None, support=masks))
    assert found.verdict.outcome is Outcome.CANNOT_TELL


def test_the_sheets_own_released_value_is_what_counts() -> None:
    sheet = given_instead(generic(), "pedal.released_percent", 25.0, "test")
    assert idle_air(seen(IDLING, accelerator_pedal_position_d=25.5), sheet).verdict.outcome is Outcome.YES
    assert idle_air(seen(IDLING), sheet).verdict.outcome is Outcome.NO


def test_a_relative_pedal_position_is_enough() -> None:
    car = seen(IDLING, accelerator_pedal_position_d=None, relative_accelerator_pedal_position=0.0)
    assert idle_air(car).verdict.outcome is Outcome.YES


@pytest.mark.parametrize("relearn", ["accelerator-closed-position", "throttle-closed-position"])
@pytest.mark.parametrize(
    ("more", "outcome"),
    [
        ({}, Outcome.YES),
        ({"engine_speed": 780.0}, Outcome.NO),
        ({"control_module_voltage": 11.9}, Outcome.NO),
        ({"engine_speed": None}, Outcome.CANNOT_TELL),
    ],
)
def test_engine_off_relearns(relearn: str, more: dict[str, object], outcome: Outcome) -> None:
    found = ready(seen(ENGINE_OFF, **more), procedure(relearn).preconditions, generic(), 10.0)
    assert found.verdict.outcome is outcome


def test_a_module_that_fell_silent_is_not_ignition_on() -> None:
    car = view(*seen(ENGINE_OFF).channels.values(), end_s=45.0)
    found = ready(car, procedure("accelerator-closed-position").preconditions, generic(), 10.0)
    assert part(found, "ignition-on") is Outcome.CANNOT_TELL
    assert found.verdict.outcome is Outcome.CANNOT_TELL
