"""The time that a step goes by: so far and yet to go, by the clock, whatever can be proved of it."""

from __future__ import annotations

from math import isfinite

from relearn.checks.step_measures import Measure
from relearn.checks.step_patterns import SOURCES
from relearn.checks.step_place import PRESSES, timed
from relearn.checks.step_progress import steady_lamp
from relearn.checks.steps import Done
from relearn.checks.timeline import PRESSED
from relearn.coach.scene import Scene, since_s, unread_s
from relearn.findings.advice import Countdown


def countdown(scene: Scene, one: Done) -> Countdown | None:
    """How long so far, and how long yet; before anything of it is seen, all of what is asked. None while what it is
    read from is not read, and for a step that goes by no time."""
    lit_s = lamp_lit_s(scene, one)
    if lit_s is not None:
        return _release(scene, lit_s)
    over = one.span is not None and isfinite(one.span[1].latest_s) and PRESSES not in one.step.shows
    if scene.spent or over or _unread(scene, one):
        return None
    measure = timed(one)
    return _asked(one) if measure is None else _running(scene, one, measure)


def reached(scene: Scene, one: Done) -> bool:
    """What is asked is there, and only the next step ends it: a rest that is long enough, a lamp that stays lit."""
    if lamp_lit_s(scene, one) is not None:
        return True
    measure = timed(one)
    if measure is None or _unread(scene, one):
        return False
    if {"lamp-lit", PRESSES, "pedal-released-after"} & set(one.step.shows):
        return False
    return not isfinite(measure.most) and elapsed_s(scene, one, measure) >= _target_s(one, measure)


def lamp_lit_s(scene: Scene, one: Done) -> float | None:
    """Since when the lamp seems to stay lit, in a step that waits for it with the pedal down."""
    cycle = scene.found.cycle
    if cycle is None or "lamp-lit" not in one.step.shows or since_s(cycle, PRESSED) is None:
        return None
    lit = steady_lamp(cycle)
    return lit.began.latest_s if lit is not None else None


def elapsed_s(scene: Scene, one: Done, measure: Measure) -> float:
    """Presses count from the first of them; the rest for as long as it goes on."""
    if one.span is None or (PRESSES not in one.step.shows and isfinite(one.span[1].latest_s)):
        return measure.least
    return max(0.0, scene.now_s - one.span[0].latest_s)


def _unread(scene: Scene, one: Done) -> bool:
    source = next((SOURCES[pattern] for pattern in one.step.shows if pattern in SOURCES), None)
    return source is not None and source not in scene.lacking and unread_s(scene, source) is not None


def _release(scene: Scene, lit_s: float) -> Countdown | None:
    """Of the step behind, which is timed from the lamp."""
    following = scene.following
    within = next((one for one in following.numbers if one.name == "within_s"), None) if following else None
    if within is None:
        return None
    past_s = scene.now_s - lit_s
    return Countdown(
        what="lamp lit",
        asked=f"within {within.value:g} {within.unit}",
        elapsed_s=round(past_s, 2),
        left_s=0.0,
        too_late_s=round(max(0.0, within.value - past_s), 2),
    )


def _asked(one: Done) -> Countdown | None:
    number = next((each for each in one.step.numbers if each.name.endswith(("_s", "_min"))), None)
    if number is None:
        return None
    target_s, within = number.value * (60 if number.unit == "min" else 1), number.name.startswith("within")
    return Countdown(
        what=one.step.id,
        asked=f"{number.value:g} {number.unit}",
        elapsed_s=0.0,
        left_s=0.0 if within else target_s,
        too_late_s=target_s if within else None,
    )


def _running(scene: Scene, one: Done, measure: Measure) -> Countdown:
    past_s, target_s, high = elapsed_s(scene, one, measure), _target_s(one, measure), measure.limits.high
    return Countdown(
        what=measure.what.rstrip(","),
        asked=measure.words,
        elapsed_s=round(past_s, 2),
        left_s=round(max(0.0, target_s - past_s), 2),
        too_late_s=None if high is None else round(max(0.0, high - past_s), 2),
    )


def _target_s(one: Done, measure: Measure) -> float:
    """What the step says: 'about 7 s' is 7 s, not the least that would still do."""
    about = next((number for number in one.step.numbers if number.name == "about_s"), None)
    return about.value if about is not None else measure.limits.low or 0.0
