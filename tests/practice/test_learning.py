"""The module's side of the idle relearn by the pedal: hand-written timelines in, lamp and stage out.

The times asked are those of the relearn's steps (from memory); what the invented module makes of a mistake is invented.
"""

from itertools import pairwise

import pytest

from relearn.practice.engine import load
from relearn.practice.governor import Command
from relearn.practice.learning import UNTAUGHT, Learning, Stage, Watched, handed_over, lamp, learn

ASKS = load().learning
STEP_S = 0.1
ON, OFF, DOWN, RUN = (12.5, 0.0, False), None, (12.5, 100.0, False), (14.0, 0.0, True)
SAG = (11.2, 100.0, False)
PRESS = [(0.3, DOWN), (0.6, ON)]
FIVE = [(3.5, ON), *PRESS * 4, (0.3, DOWN)]


def told(timeline, begin=UNTAUGHT):
    """Every step of a timeline of (seconds, (supply, pedal, running) or OFF)."""
    found, now = [], begin
    for seconds, acts in timeline:
        supply_v, pedal_pct, running = acts or (12.5, 0.0, False)
        for _ in range(round(seconds / STEP_S)):
            now = learn(ASKS, now, Watched(acts is not OFF, pedal_pct, running, supply_v), STEP_S)
            found.append(now)
    return found


def test_done_as_asked_it_blinks_once_a_second_stays_lit_and_learns():
    steps = told([*FIVE, (7.0, ON), (21.0, DOWN), (2.0, ON), (15.0, RUN)])
    hold = [step for step in steps if step.stage is Stage.HOLD]
    lit = [lamp(ASKS, step) for step in hold]
    assert len(hold) * STEP_S == pytest.approx(20.0, abs=0.2)
    assert sum(lit) == pytest.approx(90, abs=2)  # half of the 18 s in which it blinks
    assert sum(a != b for a, b in pairwise(lit)) == pytest.approx(36, abs=1)
    waiting = [step for step in steps if step.stage in (Stage.LIT, Stage.ACCEPTED)]
    assert all(lamp(ASKS, step) for step in waiting)
    assert (steps[-1].stage, lamp(ASKS, steps[-1])) == (Stage.LEARNING, False)


@pytest.mark.parametrize(
    ("timeline", "reached"),
    [
        ([(1.0, ON), *PRESS * 5], Stage.READY),  # pressed too soon after ignition on
        ([(3.5, ON), *PRESS * 4, (7.0, ON), (21.0, DOWN)], Stage.PRESSES),  # four presses
        ([(3.5, ON), *[(0.3, DOWN), (1.2, ON)] * 5], Stage.PRESSES),  # five in 7.5 s
        ([*FIVE, (3.0, ON), (21.0, DOWN)], Stage.WAIT),  # held after 3 s
        ([*FIVE, (12.0, ON), (21.0, DOWN)], Stage.WAIT),  # held after 12 s
        ([*FIVE, (7.0, ON), (12.0, DOWN), (9.0, ON)], Stage.HOLD),  # held 12 s
        ([*FIVE, (7.0, ON), (9.0, DOWN), (1.0, SAG), (12.0, DOWN)], Stage.HOLD),  # supply sags
        ([*FIVE, (7.0, ON), (24.0, DOWN), (2.0, ON)], Stage.LIT),  # released 4 s after the lamp stays lit
        ([*FIVE, (7.0, ON), (9.0, DOWN), (2.0, RUN)], Stage.HOLD),  # engine started in the hold
    ],
)
def test_a_mistake_ends_it_where_it_was_made(timeline, reached):
    steps = told(timeline)
    assert steps[-1].stage is Stage.OTHERWISE
    assert not lamp(ASKS, steps[-1])
    assert next(step.stage for step in reversed(steps) if step.stage is not Stage.OTHERWISE) is reached


def test_a_half_press_is_none_and_six_are_too_many():
    half = (12.5, 50.0, False)
    assert told([(3.5, ON), *[(0.3, half), (0.6, ON)] * 5])[-1].presses == 0
    assert told([(3.5, ON), *[(0.2, DOWN), (0.3, ON)] * 6])[-1].stage is Stage.OTHERWISE


def test_switching_off_begins_anew_and_keeps_what_was_learned():
    assert told([(1.0, ON), *PRESS, (1.0, OFF)], Learning(offset_pct=-1.4))[-1] == Learning(offset_pct=-1.4)
    assert told([(1.0, ON), *PRESS, (1.0, OFF), *FIVE, (7.0, ON), (5.0, DOWN)])[-1].stage is Stage.HOLD


def test_learning_moves_the_integral_and_leaves_their_sum():
    before = Command(3.0, 15.0, integral_pct=-0.8)
    kept, after = handed_over(ASKS, Learning(Stage.LEARNING, offset_pct=-0.2), before, STEP_S)
    assert kept.offset_pct + after.integral_pct == pytest.approx(-1.0)
    assert kept.offset_pct < -0.2
    assert handed_over(ASKS, Learning(Stage.HOLD), before, STEP_S) == (Learning(Stage.HOLD), before)
