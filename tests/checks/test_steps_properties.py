"""What must hold of every timeline: the clock does not matter, and missing samples never turn yes into no or back.

A sample is an exchange of request and answer; requests in vain stay in, since they tell a silent module from a
recording that paused. Lapses shorter than the freshness rule (5 s) may be missed, as in `ready`; the cases have none.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from relearn.checks.steps import Steps
from relearn.findings.base import Judgement
from relearn.verdict import Outcome
from tests.checks.steps_script import CASES, asked, case, during, seen, ticks

DECIDED = {Outcome.YES, Outcome.NO}
NAMES = [one["name"] for one in CASES if one["script"]["end_s"] < 100]
SPANS = st.lists(st.tuples(st.floats(0, 90), st.floats(0.1, 12)), max_size=3)


@cache
def whole(name: str) -> Steps:
    return asked(case(name)["relearn"], seen(case(name)["script"]))


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(NAMES), st.floats(0, 1e6))
def test_shifting_the_clock_changes_no_outcome(name: str, shift_s: float) -> None:
    shift_s = round(shift_s, 6)  # captures count microseconds
    found = asked(case(name)["relearn"], seen(case(name)["script"], shift_s=shift_s))
    assert [(one.step.id, one.judged) for one in found.done] == [(one.step.id, one.judged) for one in whole(name).done]
    assert found.verdict.outcome is whole(name).verdict.outcome


@settings(max_examples=80, deadline=None)
@given(st.sampled_from(NAMES), st.integers(0, 2**32 - 1), st.sampled_from([0.0, 0.1, 0.4, 0.8]), SPANS)
def test_dropping_samples_never_turns_yes_into_no_or_no_into_yes(
    name: str, seed: int, share: float, spans: list[tuple[float, float]]
) -> None:
    script = case(name)["script"]
    asked_s = ticks(script)
    lost = np.random.default_rng(seed).random(len(asked_s)) < share
    lost |= during(asked_s, [(at, at + length) for at, length in spans])
    found = asked(case(name)["relearn"], seen(script, ~lost | ~during(asked_s, script["on"])))
    assert Judgement.of(found.verdict).verdict == found.verdict.outcome.value  # and makes a document in any case
    assert {whole(name).verdict.outcome, found.verdict.outcome} != DECIDED, found.verdict.reason


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(NAMES), st.integers(2, 20), st.integers(0, 19), st.booleans())
def test_asking_more_slowly_never_does_either(name: str, every: int, first: int, requests: bool) -> None:
    script = case(name)["script"]
    place = np.arange(len(ticks(script)))
    found = asked(case(name)["relearn"], seen(script, place % every == first % every, requests=requests))
    assert {whole(name).verdict.outcome, found.verdict.outcome} != DECIDED, found.verdict.reason
