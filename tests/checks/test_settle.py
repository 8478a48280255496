"""Did the idle settle: whole answers on made timelines. Target, warm window and 20 s: trade facts, common practice or
from memory, no source; the three-way rule is the project's own."""

import numpy as np
import pytest

from relearn.checks.settle import Settling, settle
from relearn.j1979.records import Support
from relearn.procedures.sheets import generic, given_instead
from relearn.verdict import Limits, Outcome
from tests.build import channel, every, view

TARGET = Limits(600, 700, "rpm", "test")
TIME_S = every(0.1, 0, 60)
SLOW_S = every(1, 0, 60)


def flare(at_s: float = 5.0) -> np.ndarray:
    """Off, then a start at at_s that flares to 1,400 and decays to 650 with a time constant of 2 s."""
    return np.where(at_s > TIME_S, 0.0, 650 + 750 * np.exp(-(TIME_S - at_s) / 2.0))


def car(speed: object = None, coolant: object = 88.0, vehicle: object = 0.0, pedal: object = 15.0, **more: object):
    """A view with 10 engine speeds a second and the rest once a second; None leaves a channel out."""
    made = {
        "engine_speed": (TIME_S, flare() if speed is None else speed),
        "coolant_temperature": (SLOW_S, coolant),
        "vehicle_speed": (SLOW_S, vehicle),
        "accelerator_pedal_position_d": (SLOW_S, pedal),
    }
    return view(*(channel(name, times, value) for name, (times, value) in made.items() if value is not None), **more)  # type: ignore[arg-type]


def asked(seen, target: Limits | None = TARGET) -> Settling:
    return settle(seen, generic(), target)


def test_a_start_that_settles() -> None:
    """750·e^(−t/2) is within 50 after 2·ln 15 = 5.42 s."""
    found = asked(car())
    assert found.verdict.outcome is Outcome.YES
    assert found.settle_s == pytest.approx(5.5, abs=0.1)
    assert found.steady is not None
    assert found.steady.mean_rpm == pytest.approx(650, abs=10)
    assert found.steady.hunting is None


@pytest.mark.parametrize(
    ("seen", "outcome", "why"),
    [
        (car(speed=np.where(TIME_S < 5, 0.0, 900.0)), Outcome.NO, "did not stay"),
        (car(speed=650 + 80 * np.sin(2 * np.pi * 0.4 * TIME_S)), Outcome.NO, "keeps leaving"),
        (car(speed=np.where(TIME_S < 50, 650.0, 0.0)), Outcome.NO, "stalled at 50.0 s"),
        (car(coolant=45.0), Outcome.NO, "coolant is 45 °C"),
        (car(coolant=-40.0), Outcome.CANNOT_TELL, "broken circuit"),
        (car(coolant=None), Outcome.CANNOT_TELL, "no coolant temperature"),
        (car(vehicle=None), Outcome.CANNOT_TELL, "no vehicle speed"),
        (car(coolant=np.where(SLOW_S < 50, 68.0, 75.0)), Outcome.CANNOT_TELL, "for only 10.0 s"),
        (car(speed=np.where(TIME_S < 45, 0.0, 650.0)), Outcome.CANNOT_TELL, "no idle lasted long enough"),
        (
            car(speed=np.where(TIME_S < 5, 0.0, np.where(TIME_S < 48, 850.0, 660.0))),
            Outcome.CANNOT_TELL,
            "for only 12.0 s",
        ),
        (view(channel("coolant_temperature", SLOW_S, 88.0)), Outcome.CANNOT_TELL, "no engine speed"),
    ],
)
def test_what_is_not_settled(seen, outcome: Outcome, why: str) -> None:
    found = asked(seen)
    assert found.verdict.outcome is outcome
    assert why in found.verdict.reason


def test_without_a_target_it_cannot_tell_but_still_measures() -> None:
    found = asked(car(), None)
    assert found.verdict.outcome is Outcome.CANNOT_TELL
    assert found.steady is not None
    assert (found.steady.from_s, found.steady.samples) == (32.5, 276)  # the later half of 5 to 60 s


def test_hunting_has_frequency_and_amplitude() -> None:
    found = asked(car(speed=650 + 80 * np.sin(2 * np.pi * 0.4 * TIME_S)))
    assert found.steady is not None and found.steady.hunting is not None
    assert found.steady.hunting.frequency_hz == pytest.approx(0.4, abs=0.01)
    assert found.steady.hunting.amplitude_rpm == pytest.approx(80, rel=0.05)


def test_an_unknown_pedal_is_said_and_does_not_block() -> None:
    found = asked(car(pedal=None))
    assert found.verdict.outcome is Outcome.YES
    assert any("pedal unknown" in remark for remark in found.remarks)


def test_a_parameter_the_module_lacks_goes_by_eye() -> None:
    masks = Support(frozenset({0}), frozenset({0x05, 0x0C}))
    found = asked(car(vehicle=None, support=masks))
    assert found.verdict.outcome is Outcome.YES
    assert "no vehicle speed: confirm by eye" in found.verdict.reason


def test_the_last_long_episode_is_judged_and_all_are_listed() -> None:
    pressed = np.where((SLOW_S >= 30) & (SLOW_S < 35), 40.0, 15.0)
    found = asked(car(speed=np.where(TIME_S < 35, 900.0, 650.0), pedal=pressed))
    assert found.verdict.outcome is Outcome.YES
    assert [(one.from_s, one.ended) for one in found.episodes] == [(0.0, "pedal-pressed"), (35.0, "capture-end")]


def test_a_stall_after_the_judged_idle_is_a_no() -> None:
    speed = np.where(TIME_S < 40, 650.0, np.where(TIME_S < 42, 0.0, np.where(TIME_S < 50, 650.0, 0.0)))
    assert "stalled" in asked(car(speed=speed)).verdict.reason


def test_stopping_itself_after_a_drive_is_told_and_is_no_stall() -> None:
    moved = np.where(SLOW_S < 10, 30.0, 0.0)
    speed = np.where((TIME_S >= 15) & (TIME_S < 20), 0.0, 650.0)
    found = asked(car(speed=speed, vehicle=moved))
    assert found.verdict.outcome is Outcome.YES
    assert any("stopped itself at 15.0 s" in remark for remark in found.remarks)


def test_a_limit_of_the_vehicles_own_sheet_asks_for_the_reading() -> None:
    sheet = given_instead(generic(), "idle.ignition_timing_deg", 15.0, "test")
    assert settle(car(), sheet, TARGET).verdict.outcome is Outcome.CANNOT_TELL
    timed = car()
    more = view(*timed.channels.values(), channel("timing_advance", SLOW_S, 8.0))
    found = settle(more, sheet, TARGET)
    assert found.verdict.outcome is Outcome.NO
    assert "ignition timing 8.0" in found.verdict.reason


def test_a_stall_before_the_judged_idle_is_said() -> None:
    speed = np.where((TIME_S >= 20) & (TIME_S < 25), 0.0, 650.0)
    found = asked(car(speed=speed))
    assert found.verdict.outcome is Outcome.YES
    assert any("stalled at 20.0 s" in remark for remark in found.remarks)


def test_a_capture_that_ends_as_the_engine_stops_cannot_tell() -> None:
    found = asked(car(speed=np.where(TIME_S < 59.5, 650.0, 0.0)))
    assert found.verdict.outcome is Outcome.CANNOT_TELL


def test_a_slow_swing_that_happens_to_end_inside_is_a_no() -> None:
    speed = 650 + 80 * np.sin(2 * np.pi * 0.035 * TIME_S)
    assert abs(speed[-1] - 650) < 50
    assert asked(car(speed=speed)).verdict.outcome is Outcome.NO


def test_settle_time_is_only_given_for_a_speed_that_stayed_and_says_how_sure() -> None:
    assert asked(car(speed=650 + 80 * np.sin(2 * np.pi * 0.4 * TIME_S))).settle_s is None
    found = asked(car(pedal=np.where(SLOW_S < 10, 40.0, 15.0)))
    assert (found.settle_s, found.settle_uncertainty_s) == (pytest.approx(0.5, abs=0.1), pytest.approx(1.0))


def test_strays_do_not_count_in_the_mean() -> None:
    speed = np.full(len(TIME_S), 650.0)
    speed[300] = 1900.0
    found = asked(car(speed=speed))
    assert found.strays == (pytest.approx(30.0),)
    assert found.steady is not None and (found.steady.mean_rpm, found.steady.max_rpm) == (650.0, 650.0)


def decisive(found: Settling, name: str) -> tuple[object, float | None]:
    """What a part shows as its evidence: the value, and from when on."""
    (evidence,) = next(part for part in found.verdict.children if part.id == name).evidence
    return evidence.value, evidence.first_s


def test_the_evidence_is_of_the_stretch_that_decided_and_not_of_the_start_before_it() -> None:
    high = np.where(TIME_S < 5, 0.0, np.where(TIME_S < 6, 300.0, 900.0))
    assert decisive(asked(car(speed=high)), "speed") == (900.0, 33.0)  # the later half of 6 to 60 s
    swinging = np.where(TIME_S < 10, 300.0, 650 + 60 * np.sin(2 * np.pi * 0.4 * TIME_S))
    value, from_s = decisive(asked(car(speed=swinging)), "speed")
    assert (abs(float(str(value)) - 650), from_s) == (pytest.approx(60, abs=1), 40.0)  # the last 20 s
    warming = asked(car(coolant=np.where(SLOW_S < 20, 40.0, 75.0)))
    assert decisive(warming, "warm") == (75.0, 20.0)
    assert decisive(asked(car(coolant=40.0 + SLOW_S / 4)), "warm") == (55.0, 60.0)
