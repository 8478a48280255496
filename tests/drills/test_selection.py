"""A lesson out of all that could be asked: hand-made candidates, and what must hold of any."""

from __future__ import annotations

from collections import Counter
from itertools import combinations

from hypothesis import given
from hypothesis import strategies as st

from relearn.drills.drill_file import Kind, Stop
from relearn.drills.selection import CLOSE_S, Candidate, alike, chosen


def candidate(
    kind: Kind,
    right: str,
    capture: str = "a.log",
    at_s: float = 30.0,
    *,
    turns: bool = False,
    signs: int = 1,
    steady_s: int = 10,
    together: object = None,
) -> Candidate:
    stop = Stop(
        capture=capture, at_s=at_s, kind=kind, relearn="idle-air-volume" if kind in ("ready", "missing") else None
    )
    return Candidate(stop, frozenset({right}), right, together or (kind, right, capture, at_s), turns, signs, steady_s)


def places(found: tuple[Candidate, ...]) -> list[tuple[str, float]]:
    return [(one.stop.capture, one.stop.at_s) for one in found]


def test_the_same_answer_a_few_seconds_later_is_asked_once() -> None:
    near = [candidate("ready", "no", at_s=12.0), candidate("ready", "no", at_s=15.0, turns=True)]
    assert places(chosen(near, 9)) == [("a.log", 15.0)]
    far = candidate("ready", "no", at_s=15.0 + CLOSE_S)
    assert places(chosen([*near, far], 9)) == [("a.log", 15.0), ("a.log", 15.0 + CLOSE_S)]


def test_what_is_missing_is_not_asked_right_after_why_it_is_not_ready() -> None:
    ready = candidate("ready", "no", at_s=12.0, together="pedal")
    missing = candidate("missing", "pedal-released", at_s=15.0, together="pedal")
    assert alike(ready, missing) and len(chosen([ready, missing], 9)) == 1
    at_once = candidate("missing", "pedal-released", at_s=12.0, together="pedal")  # neither is told before the other
    assert not alike(ready, at_once)


def test_another_answer_of_the_same_capture_may_follow_at_once() -> None:
    assert len(chosen([candidate("ready", "no", at_s=28.0), candidate("ready", "yes", at_s=31.0)], 9)) == 2


def test_kinds_then_answers_are_asked_equally_often() -> None:
    kinds: tuple[Kind, ...] = ("ready", "missing", "settle", "happened")
    many = [
        candidate(kind, answer, f"{n}.log", turns=answer == "no")
        for kind in kinds
        for answer, number in (("no", 9), ("yes", 4), ("cannot tell", 1))
        for n in range(number)
    ]
    counted = Counter((one.stop.kind, one.answer) for one in chosen(many, 12))
    assert counted == dict.fromkeys([(kind, answer) for kind in kinds for answer in ("no", "yes", "cannot tell")], 1)


def test_a_change_comes_first_then_what_is_easily_taken_for_something_else_then_the_surest() -> None:
    turning = candidate("settle", "no", "turning.log", turns=True, signs=3)
    hidden = candidate("settle", "no", "hidden.log", signs=1)
    sure = candidate("settle", "no", "sure.log", signs=2, steady_s=99)
    short = candidate("settle", "no", "short.log", signs=2, steady_s=4)
    order = [turning, hidden, sure, short]
    for most in range(1, 5):
        assert set(places(chosen(order[::-1], most))) == set(places(tuple(order[:most])))


ANY = st.builds(
    candidate,
    st.sampled_from(["ready", "missing", "settle", "happened"]),
    st.sampled_from(["yes", "no", "cannot tell"]),
    st.sampled_from(["a.log", "b.log", "c.log"]),
    st.floats(0, 300),
    turns=st.booleans(),
    signs=st.integers(0, 3),
)


@given(st.lists(ANY, max_size=25), st.integers(1, 15))
def test_never_more_than_asked_for_never_two_alike_and_in_the_order_given(many: list[Candidate], most: int) -> None:
    found = chosen(many, most)
    assert len(found) <= most and (bool(found) or not many)
    assert not any(alike(a, b) for a, b in combinations(found, 2))
    assert list(found) == [one for one in many if any(one is taken for taken in found)]
    assert found == chosen(many, most)


@given(st.lists(ANY, max_size=15))
def test_fewer_than_asked_for_only_where_all_others_are_alike(many: list[Candidate]) -> None:
    found = chosen(many, 99)
    assert all(any(one is taken or alike(one, taken) for taken in found) for one in many)
