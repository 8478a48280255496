"""The rule of the window: literal series. Its numbers (10 s, 5 s, three intervals, 15 s) are the project's own."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from relearn.checks.holding import as_sampled, common, held, spans, union
from relearn.verdict import Limits, Outcome
from tests.build import channel, every

WARM = Limits(70, 100, "°C", "test")


def coolant(time_s: object, value: object):
    return channel("coolant_temperature", time_s, value)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("time_s", "value", "outcome", "why"),
    [
        (every(1, 0, 30), 85.0, Outcome.YES, "throughout"),
        (every(1, 0, 30), [85.0] * 30 + [69.0], Outcome.NO, "1 of 11"),
        (every(1, 0, 30), [69.0] * 20 + [85.0] * 11, Outcome.YES, "throughout"),
        (every(1, 0, 30), [69.0] * 21 + [85.0] * 10, Outcome.NO, "1 of 11"),
        (every(1, 0, 24), 85.0, Outcome.CANNOT_TELL, "6.0 s old"),
        (every(1, 22, 30), 85.0, Outcome.CANNOT_TELL, "first 2.0 s"),
        (every(1, 0, 30), [85.0] * 25 + [-40.0] + [85.0] * 5, Outcome.CANNOT_TELL, "broken circuit"),
        (every(1, 0, 30), [85.0] * 25 + [-40.0] + [60.0] * 5, Outcome.NO, "5 of 11"),
        ([*every(1, 0, 21), *every(1, 28, 30)], 85.0, Outcome.CANNOT_TELL, "gap of 7.0 s"),
        (every(4, 0, 28), 85.0, Outcome.YES, "throughout"),
    ],
)
def test_held_at_30_s(time_s: object, value: object, outcome: Outcome, why: str) -> None:
    verdict = held("coolant-warm", coolant(time_s, value), WARM, 30.0, 10.0)
    assert verdict.outcome is outcome
    assert why in verdict.reason


def test_a_channel_that_is_not_there_cannot_tell() -> None:
    assert held("coolant-warm", None, WARM, 30.0, 10.0).outcome is Outcome.CANNOT_TELL


@pytest.mark.parametrize(
    ("interval_s", "age_s", "outcome"),
    [
        (1.0, 5.0, Outcome.YES),
        (1.0, 5.1, Outcome.CANNOT_TELL),  # 5 s
        (2.0, 6.0, Outcome.YES),
        (2.0, 6.1, Outcome.CANNOT_TELL),  # three intervals of 2 s
        (8.0, 15.0, Outcome.YES),
        (8.0, 15.1, Outcome.CANNOT_TELL),  # at most 15 s
    ],
)
def test_freshness(interval_s: float, age_s: float, outcome: Outcome) -> None:
    series = coolant(every(interval_s, 0, 80), 85.0)
    assert held("coolant-warm", series, WARM, 80.0 + age_s, 10.0).outcome is outcome


def test_evidence_is_the_worst_sample_with_span_and_frames() -> None:
    verdict = held("coolant-warm", coolant(every(1, 0, 30), [90.0] * 25 + [72.0] + [90.0] * 5), WARM, 30.0, 10.0)
    shown = verdict.evidence[0]
    assert (shown.value, shown.margin, shown.samples) == (72.0, 2.0, 11)
    assert (shown.first_s, shown.last_s, shown.first_frame, shown.last_frame) == (20.0, 30.0, 21, 31)


@pytest.mark.parametrize("value", [[85.0] * 30 + [-40.0], [-40.0] * 31])
def test_what_is_no_measurement_is_shown_without_a_margin(value: list[float]) -> None:
    """−40 °C is what an open sensor circuit reads (common practice, no source): it is near to no limit."""
    shown = held("coolant-warm", coolant(every(1, 0, 30), value), WARM, 30.0, 10.0).evidence[0]
    assert (shown.value, shown.margin) == (-40.0, None)


series_of = st.lists(st.tuples(st.floats(0.1, 7.0), st.sampled_from([85.0, 60.0, -40.0])), min_size=1, max_size=40)


@settings(max_examples=200, deadline=None)
@given(series_of, st.floats(0, 200))
def test_spans_say_yes_exactly_where_the_rule_does(steps: list[tuple[float, float]], at_s: float) -> None:
    series = coolant(np.cumsum([step for step, _ in steps]), [value for _, value in steps])
    inside = any(a <= at_s <= b for a, b in spans(series, WARM, 10.0, 200.0))
    assert inside == (held("coolant-warm", series, WARM, at_s, 10.0).outcome is Outcome.YES)


@settings(max_examples=100, deadline=None)
@given(series_of, st.data())
def test_dropping_samples_never_turns_a_no_into_a_yes_at_the_newest_sample(
    steps: list[tuple[float, float]], data: st.DataObject
) -> None:
    series = coolant(np.cumsum([step for step, _ in steps]), [value for _, value in steps])
    at_s = float(series.time_s[-1])
    bad = held("coolant-warm", series, WARM, at_s, 10.0).outcome is Outcome.NO
    kept = np.array(data.draw(st.lists(st.booleans(), min_size=len(series), max_size=len(series)))) | (
        series.value < 70
    )
    assert not bad or held("coolant-warm", series.take(kept), WARM, at_s, 10.0).outcome is not Outcome.YES


def test_a_span_is_told_as_far_as_its_samples_go() -> None:
    """Held over 10 s until the samples end at 30 s: it was asked to be yes up to 35 s, but is told up to 30 s."""
    series = coolant(every(1, 0, 30), [90.0] * 31)
    found = spans(series, WARM, 10.0, 100.0)
    assert found[0][1] == pytest.approx(35.0)
    assert as_sampled(found, series, 100.0) == ((found[0][0], 30.0),)


def test_a_span_that_holds_to_the_end_ends_there() -> None:
    series = coolant(every(1, 0, 30), [90.0] * 31)
    assert as_sampled(spans(series, WARM, 10.0, 32.0), series, 32.0)[-1][1] == 32.0


def test_a_span_in_which_nothing_was_read_is_not_told() -> None:
    series = coolant(every(1, 0, 7), [90.0] * 8)
    assert spans(series, WARM, 10.0, 100.0)
    assert as_sampled(spans(series, WARM, 10.0, 100.0), series, 100.0) == ()


def test_common_and_union_of_spans() -> None:
    assert common([((0.0, 10.0), (20.0, 30.0)), ((5.0, 25.0),)]) == ((5.0, 10.0), (20.0, 25.0))
    assert common([]) == ()
    assert union([((0.0, 10.0),), ((5.0, 12.0), (20.0, 21.0))]) == ((0.0, 12.0), (20.0, 21.0))
