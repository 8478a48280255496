"""Rows of a chart: one time order for several channels, a silence that breaks a line, rows that come in parts."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from relearn.screen.series import BEFORE_S, Drawn, Rows, drawn
from tests.build import channel, every

NONE, GAP = np.nan, np.inf


def test_two_channels_share_one_time_column() -> None:
    speed = channel("engine_speed", (0.0, 1.0, 2.0), (700, 710, 720))
    coolant = channel("coolant_temperature", (0.5, 1.0), (80, 81))
    found = drawn({"engine_speed": speed, "coolant_temperature": coolant}, ("engine_speed", "coolant_temperature"))
    np.testing.assert_array_equal(found.time_s, (0.0, 0.5, 1.0, 2.0))
    np.testing.assert_array_equal(found.value, [[700, NONE], [NONE, 80], [710, 81], [720, NONE]])
    assert [found.until(at_s) for at_s in (-0.1, 0.0, 0.7, 2.0, 9.0)] == [0, 1, 2, 4, 4]


def test_a_silence_breaks_the_line_just_before_it_is_taken_up_again() -> None:
    times = np.concatenate((every(0.5, 0.0, 5.0), every(0.5, 30.0, 35.0)))
    found = drawn({"engine_speed": channel("engine_speed", times, 700.0)}, ("engine_speed",))
    (broken,) = np.flatnonzero(found.value[:, 0] == GAP)
    assert found.time_s[broken] == 30.0 - BEFORE_S
    assert len(found) == len(times) + 1


def test_a_line_goes_on_at_the_usual_pace_and_over_no_silence_beyond_it() -> None:
    """A value of 2.2 s ago is fresh still, but nobody has read what lies between: as after the first questions."""
    for times, breaks in (
        ((0.6, 2.8, 2.9, 3.0, 3.1), [2.8]),
        ((0.6, 2.8), [2.8]),
        (every(2.0, 0.0, 20.0), []),
        (np.append(every(0.1, 0.0, 5.0), every(0.1, 6.3, 9.0)), [6.3]),
    ):
        found = drawn({"engine_speed": channel("engine_speed", times, 700.0)}, ("engine_speed",))
        np.testing.assert_allclose(found.time_s[found.value[:, 0] == GAP], np.array(breaks) - BEFORE_S)


def test_a_channel_that_is_not_there_has_no_row() -> None:
    assert len(drawn({}, ("engine_speed", "coolant_temperature"))) == 0
    assert drawn({}, ("engine_speed", "coolant_temperature")).value.shape == (0, 2)


@given(st.lists(st.integers(0, 3000), max_size=5), st.sampled_from([(0,), (1,), (0, 1)]))
def test_rows_that_come_in_parts_are_kept_in_order(counts: list[int], columns: tuple[int, ...]) -> None:
    rows, begun = Rows(2), 0
    for count in counts:
        numbers = np.arange(begun, begun + count, dtype=np.float64)
        rows.add(Drawn(numbers, np.column_stack((numbers, -numbers)).astype(np.float32)))
        begun += count
    found = rows.drawn(columns)
    np.testing.assert_array_equal(found.time_s, np.arange(begun))
    np.testing.assert_array_equal(found.value, np.column_stack((np.arange(begun), -np.arange(begun)))[:, columns])
    assert rows.last_s() == (begun - 1 if begun else -np.inf)
