"""Two idles side by side, on literal timelines. The rule (difference of means against combined spread) is the
project's own; the arithmetic of each case is worked in its comment. Steps: SAE J1979 scaling (1 °C for coolant, 0.25
rpm, 100/255 % for the throttle)."""

import numpy as np
import pytest

from relearn.checks.compare import CodeChange, Compared, Reading, State, code_changes, compare
from relearn.checks.view import View
from relearn.j1979.records import Codes
from relearn.procedures.sheets import generic
from relearn.verdict import Outcome
from tests.build import channel, every, view

TIME_S = every(1, 0, 59)  # sixty samples, so that alternating values have the mean in the middle


def swinging(middle: float, by: float) -> np.ndarray:
    """Alternately `by` above and below: mean `middle`, standard deviation `by`."""
    return middle + by * np.where(np.arange(60) % 2, 1.0, -1.0)


def car(speed: object = 700.0, **more: object) -> View:
    made = {"engine_speed": speed, "coolant_temperature": 88.0, "vehicle_speed": 0.0, **more}
    return view(*(channel(name, TIME_S, value) for name, value in made.items() if value is not None))  # type: ignore[arg-type]


def beside(before: View, after: View) -> Compared:
    return compare(before, after, generic(), None)


def reading(found: Compared, name: str) -> Reading:
    return next(one for one in found.readings if one.id == name)


@pytest.mark.parametrize(
    ("before", "after", "spread", "changed"),
    [
        (swinging(715, 3), swinging(650, 4), 5.0, Outcome.YES),  # √(3² + 4²) = 5 < 65
        (swinging(700, 3), swinging(706, 4), 5.0, Outcome.YES),
        (swinging(700, 3), swinging(705, 4), 5.0, Outcome.NO),  # 5 is not more than 5
        (swinging(700, 3), swinging(695, 4), 5.0, Outcome.NO),  # nor is −5
        (swinging(700, 3), swinging(694, 4), 5.0, Outcome.YES),
        (700.0, 700.25, 0.25, Outcome.NO),  # no spread: one step of 0.25 rpm is not a change
        (700.0, 700.5, 0.25, Outcome.YES),
    ],
)
def test_changed_is_more_than_the_combined_spread(
    before: object, after: object, spread: float, changed: Outcome
) -> None:
    found = reading(beside(car(before), car(after)), "engine_speed")
    assert found.spread == pytest.approx(spread)
    assert found.changed is changed


def test_every_reading_has_its_mean_spread_and_difference() -> None:
    before = car(
        throttle_position=swinging(16, 1),
        mass_air_flow=2.5,
        short_term_fuel_trim_bank_1=swinging(1, 2),
        long_term_fuel_trim_bank_1=3.0,
        timing_advance=12.0,
        calculated_load=20.0,
    )
    after = car(
        throttle_position=swinging(14, 1),
        mass_air_flow=2.0,
        short_term_fuel_trim_bank_1=swinging(-1, 2),
        long_term_fuel_trim_bank_1=3.0,
        timing_advance=15.0,
        calculated_load=20.0,
    )
    found = beside(before, after)
    assert {one.id: round(one.difference or 0.0, 6) for one in found.readings} == {
        "engine_speed": 0.0,
        "throttle_position": -2.0,  # more than √2
        "mass_air_flow": -0.5,
        "short_trim_bank_1": -2.0,  # less than √8
        "long_trim_bank_1": 0.0,
        "trim_sum_bank_1": -2.0,
        "ignition_timing": 3.0,
        "load": 0.0,
        "coolant_temperature": 0.0,
    }
    changed = {one.id for one in found.readings if one.changed is Outcome.YES}
    assert changed == {"throttle_position", "mass_air_flow", "ignition_timing"}
    trims = reading(found, "trim_sum_bank_1").before
    assert trims is not None and (trims.mean, trims.sd, trims.samples) == (pytest.approx(4), pytest.approx(2), 30)


def test_both_banks() -> None:
    banks = {f"{term}_term_fuel_trim_bank_{bank}": 1.0 * bank for term in ("short", "long") for bank in (1, 2)}
    after = reading(beside(car(), car(**banks)), "trim_sum_bank_2").after
    assert after is not None and after.mean == pytest.approx(4.0)


@pytest.mark.parametrize(
    ("seen", "why"),
    [
        (car(speed=0.0), "the longest 0 s of the 20 s asked"),
        (car(speed=np.where(TIME_S < 45, 0.0, 650.0)), "the longest 14 s of the 20 s asked"),
        (car(speed=None), "no engine speed in the capture"),
    ],
)
def test_a_side_without_an_idle_is_empty_and_says_so(seen: View, why: str) -> None:
    for found, side in ((beside(seen, car()), "before"), (beside(car(), seen), "after")):
        empty = getattr(found, side)
        assert empty.span_s is None and why in empty.missing
        assert [getattr(one, side) for one in found.readings] == [None, None]
        assert {one.changed for one in found.readings} == {Outcome.CANNOT_TELL}
        assert found.loop.changed is Outcome.CANNOT_TELL


def test_two_sides_without_an_idle_show_nothing() -> None:
    found = beside(car(speed=0.0), car(speed=0.0))
    assert found.readings == ()


def test_a_single_sample_shows_no_spread() -> None:
    once = view(*car().channels.values(), channel("timing_advance", [30.0], 15.0))
    found = reading(beside(once, car(timing_advance=25.0)), "ignition_timing")
    assert found.before is not None and found.before.sd is None
    assert (found.changed, found.difference) == (Outcome.CANNOT_TELL, None)


def test_a_broken_circuit_is_no_reading() -> None:
    assert reading(beside(car(coolant_temperature=-40.0), car()), "coolant_temperature").before is None


def test_the_fuel_loop_is_named() -> None:
    """SAE J1979 parameter 03: 1 is open loop for want of temperature, 2 closed loop."""
    found = beside(car(fuel_system_1_status=1.0), car(fuel_system_1_status=2.0))
    assert found.loop.changed is Outcome.YES
    assert found.loop.before is not None and "open loop" in found.loop.before
    assert found.loop.after == "closed loop"


def test_states() -> None:
    assert State("lamp", "on", "off").changed is Outcome.YES
    assert State("lamp", "on", "on").changed is Outcome.NO
    assert State("lamp", None, "on").changed is Outcome.CANNOT_TELL


def test_codes_gained_and_lost_are_told_for_lists_read_on_both_sides() -> None:
    before = (
        Codes("7E8", "stored", ("P0171",), 1.0, 1),
        Codes("7E8", "stored", ("P0171", "P0505"), 9.0, 9),  # the newer reading counts
        Codes("7E9", "stored", ("P0700",), 1.0, 2),
    )
    after = (Codes("7E8", "stored", ("P0505", "P0113"), 1.0, 1), Codes("7E8", "pending", (), 1.0, 2))
    found = code_changes(before, after)
    assert found == (
        CodeChange("7E8", "stored", ("P0171", "P0505"), ("P0505", "P0113")),
        CodeChange("7E8", "pending", None, ()),
        CodeChange("7E9", "stored", ("P0700",), None),
    )
    assert [(one.gained, one.lost) for one in found] == [(("P0113",), ("P0171",)), (None, None), (None, None)]


def test_swapping_the_captures_swaps_the_sides() -> None:
    one, other = car(swinging(715, 3)), car(swinging(650, 4))
    there, back = reading(beside(one, other), "engine_speed"), reading(beside(other, one), "engine_speed")
    assert there.difference == -(back.difference or 0.0)
    assert (there.before, there.changed, there.spread) == (back.after, back.changed, back.spread)
