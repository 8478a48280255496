"""Where to stop: hand-worked timelines of answers, one letter a second."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from relearn.drills.moments import STRIDE_S, Run, after_changes, agrees, beside, runs, telling


def runs_of(line: str) -> tuple[Run, ...]:
    """The runs of a line whose first letter is second 1."""
    return runs(lambda second: line[second - 1], len(line))


@pytest.mark.parametrize(
    ("line", "found"),
    [
        ("nnnnnnyyyyyy", [(1, 6, "n"), (7, 12, "y")]),
        ("nnnnnnnncyyyyyyy", [(1, 8, "n"), (9, 9, "c"), (10, 16, "y")]),
        ("n", [(1, 1, "n")]),
        ("", []),
    ],
)
def test_runs(line: str, found: list[tuple[int, int, str]]) -> None:
    assert [(one.first_s, one.last_s, one.answer) for one in runs_of(line)] == found


@given(st.lists(st.tuples(st.sampled_from("nyc"), st.integers(STRIDE_S + 1, 20)), min_size=1, max_size=6))
def test_runs_longer_than_the_stride_are_all_found(parts: list[tuple[str, int]]) -> None:
    line = "".join(letter * length for letter, length in parts)
    joined = runs_of(line)
    assert "".join(one.answer * (one.last_s - one.first_s + 1) for one in joined) == line
    assert all(a.answer != b.answer for a, b in pairwise(joined))


@pytest.mark.parametrize(
    ("line", "seconds"),
    [
        ("n" * 30, (29,)),  # nothing changes: the end
        ("n" * 20 + "y" * 30, (19, 22, 49)),  # before the change, after it, the end
        ("c" * 20 + "n" * 10 + "y" * 30, (10, 29, 32, 59)),  # and the middle of what else there was
        ("n" * 20 + "yy", (19,)),  # too short to agree with both neighbours
        ("ny", ()),
    ],
)
def test_telling(line: str, seconds: tuple[int, ...]) -> None:
    assert telling(runs_of(line)) == seconds


@given(st.text(alphabet="nyc", max_size=60))
def test_no_moment_is_told_at_which_a_neighbour_disagrees(line: str) -> None:
    found = runs_of(line)
    for second in (*telling(found), *after_changes(found)):
        run = next(one for one in found if one.first_s <= second <= one.last_s)
        assert run.first_s < second < run.last_s


@pytest.mark.parametrize(
    ("second", "found"),
    [(8, ""), (9, "y"), (10, "y"), (11, "n"), (12, "n"), (13, ""), (19, "c"), (24, "y"), (32, ""), (33, ""), (1, "")],
)
def test_what_stands_beside_a_second_at_a_change(second: int, found: str) -> None:
    """The two seconds of z are too short to ask about; neither the start nor the end is a change."""
    assert [one.answer for one in beside(runs_of("n" * 10 + "y" * 10 + "zz" + "c" * 11), second)] == list(found)


def test_after_changes() -> None:
    assert after_changes(runs_of("n" * 10 + "s" * 10 + "t" * 10)) == (12, 22)
    assert after_changes(runs_of("n" * 10)) == (9,)


def test_agrees_looks_a_second_to_both_sides_and_not_beyond_the_end() -> None:
    def late(at_s: float) -> bool:
        return at_s >= 10.0

    assert agrees(late, 8.9, 20.0) and agrees(late, 11.0, 20.0)
    assert not agrees(late, 9.0, 20.0) and not agrees(late, 10.5, 20.0)
    assert agrees(late, 20.0, 20.0)
