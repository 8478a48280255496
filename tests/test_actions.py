"""Moments, stretches and the ignition on literal timelines. P2 of 50 ms, N_Cr of 1 s: ISO 15765; the rest invented."""

from math import inf

import numpy as np
import pytest

from relearn.actions import Moment, Phase, as_off, as_on, changes, elapsed_s, holes, ignition, sooner, stretches
from relearn.traffic import Traffic
from tests.build import channel, every

NOTHING = np.empty(0)


def heard(answered_s, asked_s=NOTHING, others_s=NOTHING) -> Traffic:
    answered = np.asarray(answered_s, np.float64)
    return Traffic(answered, np.arange(1, len(answered) + 1), np.asarray(asked_s, np.float64), np.asarray(others_s))


def said(phases: tuple[Phase, ...]) -> list[tuple[str, tuple[float, float], tuple[float, float]]]:
    return [
        (one.kind, (one.began.earliest_s, one.began.latest_s), (one.ended.earliest_s, one.ended.latest_s))
        for one in phases
    ]


def test_elapsed_is_least_and_most() -> None:
    assert elapsed_s(Moment(1.0, 2.0), Moment(5.0, 5.5)) == (3.0, 4.5)
    assert elapsed_s(Moment(-inf, 2.0), Moment(5.0, inf)) == (3.0, inf)
    assert sooner(Moment(1.0, 4.0), Moment(2.0, 3.0)) == Moment(1.0, 3.0)


def test_a_stretch_begins_and_ends_between_two_samples() -> None:
    lamp = channel("malfunction_lamp", [10, 11, 12, 13, 14], [0, 1, 1, 0, 1])
    first, second = stretches(lamp, lamp.value > 0, Moment(9.5, 9.8), Moment(14.0, 20.0))
    assert (first.began, first.ended, first.frames) == (Moment(10, 11), Moment(12, 13), (2, 3))
    assert (first.least_s, first.most_s) == (1.0, 3.0)
    assert (second.began, second.ended) == (Moment(13, 14), Moment(14, 20))


def test_a_stretch_from_the_first_sample_on_may_have_begun_with_what_comes_before() -> None:
    lamp = channel("malfunction_lamp", [10, 11], [1, 1])
    (only,) = stretches(lamp, lamp.value > 0, Moment(9.5, 9.8), Moment(11.0, inf))
    assert (only.began, only.ended) == (Moment(9.5, 10), Moment(11, inf))


def test_holes_and_changes() -> None:
    pedal = channel("accelerator_pedal_position_d", [1.0, 1.5, 3.0, 3.4], [15, 80, 80, 15])
    assert holes(pedal, 1.0, 4.0, 0.5) == ((1.5, 3.0), (3.4, 4.0))
    assert holes(pedal, -inf, inf, 0.5) == ((1.5, 3.0),)
    assert holes(pedal, 4.0, 1.0, 0.5) == ()
    assert changes(pedal) == 2


def test_silence_while_being_asked_is_off_to_one_request_on_both_sides() -> None:
    """Answers to 3.0 and from 13.0 on, asked every half second, each answered 10 ms later."""
    asked = every(0.5, 0, 16)
    answered = np.array([at + 0.01 for at in asked if at <= 3 or at >= 13])
    assert said(ignition(heard(answered, asked))) == [
        ("on", (-inf, 0.01), (3.01, 3.5)),
        ("off", (3.01, 3.5), (12.5, 13.01)),
        ("on", (12.5, 13.01), (16.01, inf)),
    ]


def test_asked_in_vain_before_the_first_answer_and_after_the_last() -> None:
    asked = every(0.5, 0, 20)
    answered = np.array([at + 0.01 for at in asked if 5 <= at <= 8])
    assert said(ignition(heard(answered, asked))) == [
        ("off", (-inf, 0.0), (4.5, 5.01)),
        ("on", (4.5, 5.01), (8.01, 8.5)),
        ("off", (8.01, 8.5), (20.0, inf)),
    ]


def test_without_requests_everything_silent_is_off_to_one_usual_interval() -> None:
    answered = [*every(0.5, 0, 3), *every(0.5, 13, 16)]
    off = ignition(heard(answered))[1]
    assert (off.kind, off.began, off.ended, off.frames) == ("off", Moment(3.0, 3.5), Moment(12.5, 13.0), (7, 8))


@pytest.mark.parametrize("others", [[8.0], every(1, 0, 16)])
def test_without_requests_a_bus_that_is_heard_leaves_it_unknown(others) -> None:
    phases = ignition(heard([*every(0.5, 0, 3), *every(0.5, 13, 16)], others_s=others))
    assert [one.kind for one in phases] == ["on", "unknown", "on"]
    assert [one.kind for one in as_on(phases)] == ["on"]
    assert said(as_off(phases))[1] == ("off", (3.0, 13.0), (3.0, 13.0))


def test_a_tester_seen_asking_in_vain_has_paused_where_it_does_not_ask() -> None:
    """Asked in vain from 4 to 14; nobody asks from 20 to 32."""
    asked = [at for at in every(0.5, 0, 40) if not 20 < at < 32]
    answered = [at + 0.01 for at in asked if not 4 <= at <= 14]
    assert [one.kind for one in ignition(heard(answered, asked))] == ["on", "off", "on", "unknown", "on"]


def test_a_pause_of_the_asking_inside_a_silence_may_hide_an_ignition_on() -> None:
    """Silent from 4 to 20, but nobody asks from 8 to 12: off for 3.5 s or so twice, or once for 16 s."""
    asked = [at for at in every(0.5, 0, 24) if not 8 < at < 12]
    answered = [at + 0.01 for at in asked if not 4 <= at <= 20]
    phases = ignition(heard(answered, asked))
    assert [one.kind for one in phases] == ["on", "off", "unknown", "off", "on"]
    assert [one.kind for one in as_on(phases)] == ["on", "off", "on", "off", "on"]
    assert said(as_off(phases))[1] == ("off", (3.51, 4.0), (20.0, 20.51))


def test_asking_slowly_is_no_ignition_off() -> None:
    assert [one.kind for one in ignition(heard(every(3, 0, 60)))] == ["on"]
    bursts = np.sort(np.concatenate([every(3, 0, 60) + part for part in (0.0, 0.05, 0.1)]))
    assert [one.kind for one in ignition(heard(bursts))] == ["on"]


def test_the_wait_for_a_lost_frame_is_no_ignition_off() -> None:
    """N_Cr: a tester waits up to a second for a consecutive frame, and asks nothing meanwhile."""
    assert [one.kind for one in ignition(heard([*every(0.1, 0, 5), *every(0.1, 6.1, 10)]))] == ["on"]


def test_nobody_answers() -> None:
    assert ignition(heard([], every(0.5, 0, 10))) == ()


def test_answers_lost_by_chance_are_no_ignition_off() -> None:
    """Asked every half second, every second answer lost, and by chance seven in a row: 4 s without an answer."""
    asked = every(0.5, 0, 20)
    answered = [at + 0.01 for at in every(1.0, 0, 20) if at not in (8.0, 9.0, 10.0)]
    assert [one.kind for one in ignition(heard(answered, asked))] == ["on", "unknown", "on"]
    all_but_those = [at + 0.01 for at in asked if not 7.0 < at < 11.0]
    assert [one.kind for one in ignition(heard(all_but_those, asked))] == ["on", "off", "on"]
