"""The steps: which one is under way, how long yet, and what the data shows of it."""

from __future__ import annotations

from math import isfinite

from relearn.analysis.steps import course, steps
from relearn.checks.step_measures import Measure
from relearn.checks.step_progress import enough, progress, steady_lamp, timed
from relearn.checks.steps import Done
from relearn.checks.timeline import RUNNING
from relearn.checks.view import View
from relearn.coach.scene import OFF, ON, Scene, since_s
from relearn.coach.signs import signs
from relearn.coach.standing import Standing
from relearn.coach.told import Told
from relearn.findings.advice import Countdown, StepLine, StepNow, StepState
from relearn.findings.base import Answer
from relearn.procedures.sheets import Sheet
from relearn.procedures.steps import PlannedStep, planned_steps
from relearn.recording import Recording
from relearn.verdict import Outcome

AGAIN = (
    "This try no longer counts. Begin again with the first step, unless the service information says how to go on "
    "from here."
)


def stepping(recording: Recording, seen: View, standing: Standing, sheet: Sheet) -> Told:
    """The fields of Advice of this stage; once all is done, the verdict is that of `relearn steps`."""
    planned, asked = planned_steps(standing.relearn, sheet), course(standing.relearn, sheet)
    begun_s = standing.since_s - (recording.start_unix_s or 0.0)
    found = progress(seen, asked, sheet, begun_s, leaves=not planned[0].shows)
    scene = Scene(planned, asked, found, seen.end_s)
    now = _now(scene)
    verdict, reasons = _verdict(scene, recording, standing.relearn, sheet)
    return Told(
        verdict=verdict,
        reasons=reasons,
        steps=tuple(_line(scene, one) for one in planned),
        now=now,
        wrong=_wrong(scene),
        say=_say(scene, now),
        silence_expected=silence_expected(scene),
    )


def silence_expected(scene: Scene) -> bool:
    """The ignition is to be off now, or to go off or on next; or nothing is left to be done."""
    one = scene.under_way
    return one is None or scene.found.leaving or bool({OFF, ON} & set(one.step.shows))


def _verdict(scene: Scene, recording: Recording, relearn: str, sheet: Sheet) -> tuple[Answer, tuple[str, ...]]:
    """Of all steps: what the finished recording would be told, once all of them are there."""
    if scene.found.outcome is Outcome.YES:
        judged = steps(recording, relearn, sheet)
        return judged.verdict, judged.reasons
    if scene.found.failed and not _begun(scene):
        return "no", tuple(_failures(scene))
    return "cannot tell", ("the steps are under way",)


def _begun(scene: Scene) -> bool:
    return any(one.outcome is Outcome.YES for one in scene.found.done)


def _failures(scene: Scene) -> list[str]:
    """Step by step; what lapsed comes before what it cut short."""
    return [f"{one.step.id}: {_lapses(one) or one.reason}" for one in scene.found.failed if one.outcome is Outcome.NO]


def _lapses(done: Done) -> str:
    return "; ".join(one.reason for one in done.conditions if one.outcome is Outcome.NO)


def _wrong(scene: Scene) -> tuple[str, ...]:
    """What went wrong in the newest try and what a new one needs, until a new one is well under way."""
    if not scene.found.failed or sum(one.outcome is Outcome.YES for one in scene.found.done) > 1:
        return ()
    return (*_failures(scene)[:1], AGAIN)


def _line(scene: Scene, step: PlannedStep) -> StepLine:
    """Of the try under way; until anything of it is seen, of the one that went wrong."""
    shown = scene.found.done if _begun(scene) or not scene.found.failed else scene.found.failed
    done = next((one for one in shown if one.step == step), None)
    if done is None or done.outcome is None:
        return StepLine(id=step.id, text=step.text, state="by eye", reason=done.reason if done is not None else "")
    return StepLine(id=step.id, text=step.text, state=_state(scene, done), reason=_seen(done))


def _seen(done: Done) -> str:
    """Why it is a yes or a no; of a step that is still open, what was measured so far."""
    if done.outcome is not Outcome.CANNOT_TELL:
        return done.reason
    return "; ".join(f"{one.what.rstrip(',')} {one.shown}" for one in done.measures)


def _state(scene: Scene, done: Done) -> StepState:
    if done.outcome is Outcome.YES:
        return "done"
    if done.outcome is Outcome.NO:
        return "wrong"
    if done is scene.under_way:
        return "now"
    at = scene.found.at
    later = at is not None and done in scene.found.done[at + 1 :]
    return "cannot tell" if not later and (done.open or enough(done)) else "to come"


def _say(scene: Scene, now: StepNow | None) -> str:
    """The one thing to do."""
    if now is None:
        return _say_at_end(scene)
    if scene.found.leaving:
        return scene.planned[0].text
    if scene.spent:
        return f"Switch the ignition off. Then begin again: {now.text}"
    if now.reached and scene.following is not None:
        return f"Now: {scene.following.text}"
    return now.text


def _say_at_end(scene: Scene) -> str:
    """Nothing is left to be done: it is all there, or a moment is still needed, or something could not be read."""
    waiting = [one for one in scene.found.done if enough(one)]
    lost = [one for one in scene.found.done if one.outcome is Outcome.CANNOT_TELL and one.open]
    if waiting:
        return f"Enough: nothing more until {waiting[0].step.id} is certain."
    if lost:
        return f"Begin a new try, or go on with n and a reason: {lost[0].step.id} cannot be told, {lost[0].reason}."
    return "All steps are done."


def _now(scene: Scene) -> StepNow | None:
    one = scene.under_way
    if one is None:
        return None
    if scene.found.leaving:
        first = scene.planned[0]
        return StepNow(id=first.id, text=first.text, countdown=None, signs=_still_on(scene), reached=False)
    lit = _released_from(scene, one)
    return StepNow(
        id=one.step.id,
        text=one.step.text,
        countdown=_release(scene, lit) if lit is not None else _countdown(timed(one), one) if not scene.spent else None,
        signs=signs(scene, one),
        reached=lit is not None or _reached(one),
    )


def _still_on(scene: Scene) -> tuple[str, ...]:
    running = scene.found.cycle is not None and since_s(scene.found.cycle, RUNNING) is not None
    return ("ignition on, engine running" if running else "ignition on",)


def _released_from(scene: Scene, one: Done) -> float | None:
    """Since when the lamp seems to stay lit, in a step that waits for it."""
    cycle = scene.found.cycle
    lit = steady_lamp(cycle) if cycle is not None and "lamp-lit" in one.step.shows else None
    return lit.began.latest_s if lit is not None else None


def _release(scene: Scene, lit_s: float) -> Countdown | None:
    """Of the step behind, which is timed from the lamp."""
    following = scene.following
    within = next((one for one in following.numbers if one.name == "within_s"), None) if following else None
    if within is None:
        return None
    elapsed_s = scene.now_s - lit_s
    left_s = max(0.0, within.value - elapsed_s)
    words = f"within {within.value:g} {within.unit}"
    return Countdown(
        what="lamp lit", asked=words, elapsed_s=round(elapsed_s, 2), left_s=0.0, too_late_s=round(left_s, 2)
    )


def _countdown(measure: Measure | None, one: Done) -> Countdown | None:
    """How long so far, and how long yet; before anything of it is seen, all of what is asked."""
    number = next((each for each in one.step.numbers if each.name.endswith(("_s", "_min"))), None)
    if measure is None and number is None:
        return None
    if measure is None:
        target_s = number.value * (60 if number.unit == "min" else 1) if number is not None else 0.0
        within = number is not None and number.name.startswith("within")
        return Countdown(
            what=one.step.id,
            asked=f"{number.value:g} {number.unit}" if number is not None else "",
            elapsed_s=0.0,
            left_s=0.0 if within else target_s,
            too_late_s=target_s if within else None,
        )
    target_s, high = _target_s(one, measure), measure.limits.high
    return Countdown(
        what=measure.what.rstrip(","),
        asked=measure.words,
        elapsed_s=round(measure.least, 2),
        left_s=round(max(0.0, target_s - measure.least), 2),
        too_late_s=None if high is None else round(max(0.0, high - measure.least), 2),
    )


def _target_s(one: Done, measure: Measure) -> float:
    """What the step says: 'about 7 s' is 7 s, not the least that would still do."""
    about = next((number for number in one.step.numbers if number.name == "about_s"), None)
    return about.value if about is not None else measure.limits.low or 0.0


def _reached(one: Done) -> bool:
    """What is asked is there, and only the next step ends it: a rest that is long enough. A lamp is waited for."""
    measure = timed(one)
    if measure is None or {"lamp-lit", "pedal-presses", "pedal-released-after"} & set(one.step.shows):
        return False
    return not isfinite(measure.most) and measure.least >= _target_s(one, measure)
