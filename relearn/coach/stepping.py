"""The steps: which one is under way, how long yet, and what the data shows of it."""

from __future__ import annotations

from math import inf, isfinite

from relearn.analysis.steps import course, steps
from relearn.checks.step_place import enough
from relearn.checks.step_progress import progress
from relearn.checks.steps import Done
from relearn.checks.timeline import CHANNELS, PRESSED, RUNNING, traffic_of
from relearn.checks.view import View, lacks
from relearn.coach.counting import countdown, reached
from relearn.coach.scene import OFF, ON, Scene, since_s
from relearn.coach.signs import signs
from relearn.coach.standing import Standing
from relearn.coach.told import Told
from relearn.findings.advice import StepLine, StepNow, StepState
from relearn.findings.base import Answer
from relearn.procedures.sheets import Sheet
from relearn.procedures.steps import PlannedStep, planned_steps
from relearn.recording import Recording
from relearn.verdict import Outcome

AGAIN = (
    "This try no longer counts. Begin again with the first step, unless the service information says how to go on "
    "from here."
)
GO_ON = "This try cannot become a yes: for one, begin again with the first step. What follows is told all the same."


def stepping(recording: Recording, seen: View, standing: Standing, sheet: Sheet) -> Told:
    """The fields of Advice of this stage; once all is done, the verdict is that of `relearn steps`."""
    planned, asked = planned_steps(standing.relearn, sheet), course(standing.relearn, sheet)
    begun_s = standing.since_s - (recording.start_unix_s or 0.0)
    found = progress(seen, asked, sheet, begun_s, leaves=not planned[0].shows)
    scene = Scene(planned, asked, found, seen.end_s, _heard_s(seen), _lacking(seen))
    now = _now(scene)
    verdict, reasons = _verdict(scene, recording, standing.relearn, sheet)
    return Told(
        verdict=verdict,
        reasons=reasons,
        steps=tuple(_line(scene, one) for one in planned),
        now=now,
        wrong=_wrong(scene),
        lost=_lost(scene),
        say=_say(scene, now),
        silence_expected=silence_expected(scene),
    )


def _heard_s(seen: View) -> float:
    answered_s = traffic_of(seen).answered_s
    return float(answered_s[-1]) if len(answered_s) else -inf


def _lacking(seen: View) -> frozenset[str]:
    return frozenset(source for source, names in CHANNELS.items() if lacks(seen, names))


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
    return "cannot tell", _lost(scene)[:1] or (_under_way(scene),)


def _under_way(scene: Scene) -> str:
    """Why it is no yes yet."""
    one = scene.under_way
    if scene.found.leaving:
        return f"not begun yet: {scene.planned[0].id} comes first"
    if one is not None:
        return scene.found.doubt or f"{one.step.id} is not done yet"
    return "; ".join(f"{one.step.id}: {one.reason}" for one in scene.found.done if one.outcome is Outcome.CANNOT_TELL)


def _lost(scene: Scene) -> tuple[str, ...]:
    """What can no longer be decided, said as soon as that is certain, and what it means."""
    if not scene.found.lost:
        return ()
    first, *others = scene.found.lost
    more = f" (and {len(others)} more)" if others else ""
    return f"{first.done.step.id} cannot be told: {first.why}{more}", GO_ON


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
    if scene.found.leaving and step == scene.planned[0]:
        return StepLine(id=step.id, text=step.text, state="now")
    shown = scene.found.done if _begun(scene) or not scene.found.failed else scene.found.failed
    done = next((one for one in shown if one.step == step), None)
    if done is None or done.outcome is None:
        return StepLine(id=step.id, text=step.text, state="by eye", reason=done.reason if done is not None else "")
    state = _state(scene, done)
    return StepLine(id=step.id, text=step.text, state=state, reason=_seen(scene, done, state))


def _seen(scene: Scene, done: Done, state: StepState) -> str:
    """Why it is a yes or a no, or cannot be told; of a step that is still open, what was measured so far."""
    why = next((one.why for one in scene.found.lost if one.done.step == done.step), "")
    if done.outcome is not Outcome.CANNOT_TELL or (state == "cannot tell" and not why):
        return done.reason
    measured = "; ".join(f"{one.what.rstrip(',')} {one.shown}" for one in done.measures)
    return "; ".join(one for one in (why, measured) if one)


def _state(scene: Scene, done: Done) -> StepState:
    if done.outcome is Outcome.YES:
        return "done"
    if done.outcome is Outcome.NO:
        return "wrong"
    if done is scene.under_way:
        return "to come" if scene.found.leaving else "now"
    if any(one.done.step == done.step for one in scene.found.lost):
        return "cannot tell"
    return "enough" if done in scene.found.done and enough(done) else "to come"


def _say(scene: Scene, now: StepNow | None) -> str:
    """The one thing to do."""
    one = scene.under_way
    if one is None or now is None:
        return _capital(scene.found.doubt) if scene.found.doubt else _say_at_end(scene)
    if scene.found.leaving:
        return scene.planned[0].text
    if scene.spent:
        return f"Switch the ignition off. Then begin again: {now.text}"
    if now.reached and scene.following is not None:
        return f"Now: {scene.following.text}"
    if _lamp_awaited(scene, one):
        return "Leave the ignition on, foot off the pedal: whether the lamp stays lit is certain in a moment."
    return now.text if one.span is not None or not scene.found.at else f"Now: {now.text}"


def _capital(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}. Go on from where you are."


def _lamp_awaited(scene: Scene, one: Done) -> bool:
    """The pedal has been let go, and the lamp is not yet lit for long enough to be certain."""
    over = one.span is not None and isfinite(one.span[1].latest_s)
    pressed = scene.found.cycle is not None and since_s(scene.found.cycle, PRESSED) is not None
    return over and not pressed and "lamp-lit" in one.step.shows


def _say_at_end(scene: Scene) -> str:
    """Nothing is left to be done: it is all there, or a moment is still needed, or something could not be read."""
    waiting = [one for one in scene.found.done if enough(one)]
    if scene.found.lost:
        return f"Begin a new try, or go on with n and a reason: {_lost(scene)[0]}."
    if waiting:
        return f"Enough: nothing more until {waiting[0].step.id} is certain."
    return "All steps are done."


def _now(scene: Scene) -> StepNow | None:
    one = scene.under_way
    if one is None or scene.found.doubt:
        return None
    if scene.found.leaving:
        first = scene.planned[0]
        return StepNow(id=first.id, text=first.text, countdown=None, signs=_still_on(scene), reached=False)
    return StepNow(
        id=one.step.id,
        text=one.step.text,
        countdown=countdown(scene, one),
        signs=signs(scene, one),
        reached=not scene.spent and reached(scene, one),
    )


def _still_on(scene: Scene) -> tuple[str, ...]:
    running = scene.found.cycle is not None and since_s(scene.found.cycle, RUNNING) is not None
    return ("ignition on, engine running" if running else "ignition on",)
