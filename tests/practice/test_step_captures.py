"""The captures of steps: silence, lamp and pedal as their scripts say, read from the frames by hand."""

from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest

from relearn.practice.live_car import awake
from relearn.practice.scenario import Press, car, scenario, written

CAPTURES = Path(__file__).parents[2] / "captures"


@dataclass(frozen=True)
class Frame:
    time_s: float
    identifier: str
    data: bytes


@cache
def frames(name):
    lines = (CAPTURES / f"{name}.log").read_text(encoding="ascii").splitlines()
    split = [(float(line[1:18]), *line[20:].split()[1].split("#")) for line in lines]
    return [Frame(time_s - split[0][0], identifier, bytes.fromhex(data)) for time_s, identifier, data in split]


def answers(name):
    return [frame for frame in frames(name) if frame.identifier == "7E8"]


def parameter(name, pid):
    """Times and first data byte of the answers to one parameter of service 01."""
    return [(frame.time_s, frame.data[3]) for frame in answers(name) if frame.data[1:3] == bytes((0x41, pid))]


def silences(name):
    """(least, most): from the first to the last unanswered request, and from the last to the first answer."""
    said = [frame.time_s for frame in answers(name)]
    asked = [frame.time_s for frame in frames(name) if frame.identifier == "7DF"]
    gaps = [(a, b) for a, b in pairwise(said) if b - a > 3.0]
    within = [[time_s for time_s in asked if a < time_s < b][:-1] for a, b in gaps]
    return [(alone[-1] - alone[0], b - a) for alone, (a, b) in zip(within, gaps, strict=True)]


@pytest.mark.parametrize(
    ("name", "expected_s"),
    [
        ("steps-pedal-right", [13.1, 13.1]),
        ("steps-pedal-short-off", [13.1, 6.1]),
        ("steps-throttle-right", [13.1]),
        ("steps-throttle-engine-started", [13.1]),
        ("steps-write-wait-right", [65.1]),
        ("steps-write-wait-short", [30.1]),
        ("steps-idle-right", [11.1]),
    ],
)
def test_the_module_is_silent_for_as_long_as_the_ignition_is_off_while_the_tester_asks_on(name, expected_s):
    found = silences(name)
    assert [most for _, most in found] == pytest.approx(expected_s, abs=0.15)
    assert all(most - least < 0.6 for least, most in found)


def test_the_straddling_silence_is_known_only_to_a_polling_interval_at_each_end():
    least_s, most_s = silences("steps-pedal-straddle")[1]
    assert least_s < most_s - 1.2 < 10.0 < most_s
    assert silences("steps-pedal-straddle")[0][0] > 10.0


@pytest.mark.parametrize(
    ("name", "presses", "lamp_changes"),
    [
        ("right", 5, 38),  # 18 blinks, on, and off again at the start
        ("four-presses", 4, 0),
        ("short-hold", 5, 20),
        ("late-release", 5, 38),
        ("supply-sag", 5, 14),
    ],
)
def test_presses_and_lamp_of_the_idle_relearn_can_be_seen(name, presses, lamp_changes):
    """SAE J1979: the lamp is bit 7 of the first byte of parameter 01; 49 is a share of 255."""
    lamp = [value >> 7 for _, value in parameter(f"steps-idle-{name}", 0x01)]
    full = [value > 0.7 * 255 for _, value in parameter(f"steps-idle-{name}", 0x49)]
    assert sum(a != b for a, b in pairwise(lamp)) == lamp_changes
    assert sum(b > a for a, b in pairwise(full)) == presses + 1  # and the hold


def test_lamp_and_pedal_are_seen_ten_times_a_second():
    for pid in (0x01, 0x49, 0x0C):
        times_s = [time_s for time_s, _ in parameter("steps-idle-right", pid)]
        assert sorted(b - a for a, b in pairwise(times_s))[-2] < 0.25  # all but the ignition off


def test_the_captures_of_steps_stay_small():
    for name in written():
        if name.startswith("steps-"):
            assert (CAPTURES / scenario(name).file).stat().st_size < 700_000
            assert 40.0 <= scenario(name).duration_s <= 180.0


@pytest.mark.parametrize(
    ("ignition", "since_s", "answers"),
    [(True, 0.39, False), (True, 0.4, True), (False, 0.29, True), (False, 0.3, False)],
)
def test_a_module_falls_asleep_and_boots(ignition, since_s, answers):
    assert awake(car().modules["engine"], ignition, since_s) is answers


def test_presses_become_events_down_and_up():
    press = Press(at_s=3.0, times=2, every_s=1.0, held_s=0.25, over_s=0.25, pedal_pct=90.0)
    events = [(event.at_s, event.over_s, event.set["pedal_pct"]) for event in press.events()]
    assert events == [(3.0, 0.25, 90.0), (3.5, 0.25, 0.0), (4.0, 0.25, 90.0), (4.5, 0.25, 0.0)]
