"""Faults switched in while the model runs: what the car then shows is what the fault is about."""

from functools import cache
from itertools import takewhile

import pytest

from relearn.errors import ChoiceError
from relearn.practice.drive import Moment, moments
from relearn.practice.engine import Inputs, load
from relearn.practice.faults import Fault, begins, ends, faults
from relearn.practice.scenario import Event, scenario

BEGUN_S, MENDED_S, OVER_S = 25.0, 45.0, 52.0


@cache
def driven(name: str) -> list[Moment]:
    """A sound warm idle, the fault at 25 s, mended at 45 s, to 52 s."""
    events = (
        Event(at_s=0.0, set={"ignition": 1}),
        Event(at_s=3.0, start=True),
        begins(name, BEGUN_S),
        ends(name, MENDED_S),
    )
    played = scenario("demo-before").model_copy(update={"event": events})
    return list(takewhile(lambda moment: moment.time_us < OVER_S * 1e6, moments(load(), played)))


def between(found: list[Moment], from_s: float, to_s: float) -> list[Moment]:
    return [one for one in found if from_s * 1e6 <= one.time_us < to_s * 1e6]


@pytest.mark.parametrize("name", faults())
def test_a_fault_changes_its_inputs_and_mending_puts_them_back(name: str) -> None:
    found, fault = driven(name), faults()[name]
    for one, value in fault.set.items():
        sound = getattr(Inputs(), one)
        assert getattr(between(found, BEGUN_S - 1, BEGUN_S)[-1].inputs, one) == sound
        assert getattr(between(found, MENDED_S - 1, MENDED_S)[-1].inputs, one) == pytest.approx(value)
        assert getattr(found[-1].inputs, one) == sound
        assert type(getattr(found[-1].inputs, one)) is type(sound)


def test_charging_lost_drops_the_supply_below_what_a_running_engine_has() -> None:
    """12.9 V: supply.engine_running_v, common practice, no source."""
    found = driven("charging-lost")
    assert min(one.state.battery.node_v for one in between(found, 20, BEGUN_S)) > 12.9
    assert max(one.state.battery.node_v for one in between(found, 40, MENDED_S)) < 12.9


def test_an_air_leak_leans_the_mixture_beyond_ten_percent() -> None:
    """Healthy trims are within ± 10 %: common practice, no source."""
    engine, found = load(), driven("air-leak")
    trims = [one.state.trims.short_pct + one.state.trims.long_pct(engine.fuel, 650.0) for one in found]
    assert abs(trims[2400]) < 10.0 < trims[4400]


def test_a_hunting_idle_swings_as_far_as_a_driver_feels() -> None:
    """± 50 rpm and up: common practice, no source."""
    speeds = [one.state.speed_rpm for one in between(driven("idle-hunts"), 30, MENDED_S)]
    assert (max(speeds) - min(speeds)) / 2 > 50.0


def test_a_load_dips_the_idle_and_does_not_stall_a_sound_engine() -> None:
    speeds = [one.state.speed_rpm for one in between(driven("load-on"), BEGUN_S, MENDED_S)]
    assert 500.0 < min(speeds) < 635.0


def test_without_fuel_the_engine_stands() -> None:
    assert between(driven("fuel-cut"), 44, MENDED_S)[-1].state.speed_rpm == 0.0


def test_no_two_faults_set_the_same_input() -> None:
    inputs = [one for fault in faults().values() for one in fault.set]
    assert len(inputs) == len(set(inputs))


@pytest.mark.parametrize("values", [{"gremlins": 1.0}, {"leak_mm2": 0.0}, {}])
def test_a_row_that_sets_nothing_the_model_has_is_refused(values: dict[str, float]) -> None:
    with pytest.raises(ValueError, match=r"no input|changes nothing|at least 1"):
        Fault(id="a", title="a", set=values)


def test_an_unknown_fault_names_the_known_ones() -> None:
    with pytest.raises(ChoiceError, match="air-leak"):
        begins("gremlins", 1.0)
