"""The three outcomes. The order no, cannot tell, yes is the project's own rule; Kleene's strong logic is its source."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from relearn.verdict import Evidence, Limits, Outcome, Verdict, combine

YES, NO, CANNOT_TELL = Outcome.YES, Outcome.NO, Outcome.CANNOT_TELL


@pytest.mark.parametrize(
    ("parts", "whole"),
    [([YES, YES], YES), ([YES, CANNOT_TELL], CANNOT_TELL), ([NO, CANNOT_TELL], NO), ([YES, NO], NO), ([], CANNOT_TELL)],
)
def test_combine(parts: list[Outcome], whole: Outcome) -> None:
    assert combine(parts) is whole


@given(st.lists(st.sampled_from(Outcome), min_size=1), st.sampled_from(Outcome))
def test_combining_in_any_order_or_nesting_is_the_same(parts: list[Outcome], more: Outcome) -> None:
    assert combine([*parts, more]) is combine([combine(parts), more]) is combine([more, *reversed(parts)])


def test_an_outcome_has_no_truth_value() -> None:
    with pytest.raises(TypeError):
        bool(YES)


@pytest.mark.parametrize(
    ("limits", "value", "holds", "margin"),
    [
        (Limits(70, 100, "°C", ""), 70.0, True, 0.0),
        (Limits(70, 100, "°C", ""), 100.0, True, 0.0),
        (Limits(70, 100, "°C", ""), 62.0, False, -8.0),
        (Limits(12.9, None, "V", "", low_open=True), 12.9, False, 0.0),
        (Limits(12.9, None, "V", "", low_open=True), 13.0, True, pytest.approx(0.1)),
        (Limits(None, 0, "km/h", ""), 1.0, False, -1.0),
        (Limits(None, None, "", ""), 5.0, True, float("inf")),
    ],
)
def test_limits(limits: Limits, value: float, holds: bool, margin: float) -> None:
    assert limits.holds(value) is holds
    assert limits.margin(value) == margin


def test_nan_is_never_inside() -> None:
    assert not Limits(None, None, "", "").holds(float("nan"))


@pytest.mark.parametrize(
    ("limits", "words"),
    [
        (Limits(70, 100, "°C", ""), "70 to 100 °C"),
        (Limits(12.9, None, "V", "", True), "over 12.9 V"),
        (Limits(12, None, "V", ""), "12 V or more"),
        (Limits(None, 0, "km/h", ""), "0 km/h"),
        (Limits(None, 20, "%", ""), "at most 20 %"),
        (Limits(0, 0, "rpm", ""), "0 rpm"),
        (Limits(None, None, "", ""), "any"),
    ],
)
def test_limits_in_words(limits: Limits, words: str) -> None:
    assert limits.describe() == words


def test_all_evidence_is_kept_after_a_no() -> None:
    child = Verdict("b", YES, "", (Evidence("second", 2.0),))
    whole = Verdict("a", NO, "", (Evidence("first", 1.0),), (child,))
    assert [one.subject for one in whole.all_evidence()] == ["first", "second"]


def test_margin_needs_a_number_and_a_limit() -> None:
    assert Evidence("x", "text", Limits(0, 1, "", "")).margin is None
    assert Evidence("x", 0.25, Limits(0, 1, "", "")).margin == 0.25
    assert Evidence("x", 0.25, Limits(None, None, "", "")).margin is None
