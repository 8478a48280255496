"""From a recording and where the coaching stands to what is said now. Pure: the same checks and verdicts as the
commands that judge a finished recording, and nothing that remembers."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from relearn.analysis.common import cautions, engine_module, others_with_codes, others_with_engine_speed, view
from relearn.checks.view import View
from relearn.coach.getting_ready import getting_ready
from relearn.coach.idling import idling
from relearn.coach.standing import Standing
from relearn.coach.stepping import stepping
from relearn.coach.told import Told
from relearn.findings.advice import Advice, HeldRow, StageName, StepLine
from relearn.findings.answers import SettleFindings
from relearn.findings.base import TextLine
from relearn.procedures.loader import catalogue, procedure
from relearn.procedures.models import AFTER_WRITE
from relearn.procedures.sheets import Sheet
from relearn.recording import Recording

STOPPED_S = 1.0  # without any answer for longer, the data has stopped: a tester asks several times a second
STOPPED_INTERVALS = 2.0
STOPPED_AT_MOST_S = 1.5  # so that it is said within 2 s
USUAL_OF = 200  # answers that tell the pace
WHO = {"vin": "VIN", "calibration": "calibration"}
ONLY_ADVISES = "reads-only"
TITLE_AFTER_WRITE = "The wait after a write"
CHECK_CABLE = "ignition off, or the connector or cable is loose"


@dataclass(frozen=True)
class Heard:
    """silent_s: since the module last answered, None if never. stopped: too long for its pace."""

    silent_s: float | None
    stopped: bool


def advise(
    recording: Recording, now_s: float, standing: Standing, sheet: Sheet, settled: SettleFindings | None = None
) -> Advice:
    """What is so and what is to be done now. now_s: seconds since 1970, and not before the recording's end.

    settled: the idle as it was judged a moment ago (coach.idling.judge), which takes long; judged here without it.
    While the module is silent and should not be, nothing is advised: no value shows, and the verdict is a cannot tell.
    """
    at_s = now_s - (recording.start_unix_s if recording.start_unix_s is not None else now_s)
    recording = replace(recording, duration_s=max(at_s, recording.duration_s))
    module = engine_module(recording, None)
    seen = view(recording, module)
    heard = _heard(seen, recording.duration_s)
    stage = partial(idling, found=settled) if standing.stage == "idle" else STAGES[standing.stage]
    made = stage(recording, seen, standing, sheet)
    quiet, stopped = _silence(heard, made.silence_expected)
    said = _nothing_more(made, stopped) if stopped else made
    return Advice(
        relearn=standing.relearn,
        title=TITLE_AFTER_WRITE if standing.relearn == AFTER_WRITE else procedure(standing.relearn).title,
        sheet=sheet.title,
        stage=standing.stage,
        time_s=now_s,
        at_s=round(at_s, 3),
        silent_s=None if heard.silent_s is None else round(heard.silent_s, 1),
        stopped=stopped,
        quiet=quiet,
        gone_on=tuple(TextLine(id=one.stage, text=one.against, why=one.reason) for one in standing.gone_on),
        cars=_cars(recording) if standing.stage == "getting ready" else (),
        notes=(*said.notes, *others_with_engine_speed(recording, module), *others_with_codes(recording, module)),
        cautions=_cautions(standing.relearn),
        only_advises=catalogue().cautions[ONLY_ADVISES].text,
        verdict=said.verdict,
        reasons=said.reasons,
        say=said.say,
        preconditions=said.preconditions,
        warm_up=said.warm_up,
        by_eye=said.by_eye,
        steps=said.steps,
        now=said.now,
        wrong=said.wrong,
        lost=said.lost,
        idle=said.idle,
    )


def halted(advice: Advice, why: str) -> Advice:
    """The same without anything that would be taken for the present, for a reason that the values do not show."""
    return advice.model_copy(
        update={
            "stopped": why,
            "verdict": "cannot tell",
            "reasons": (why,),
            "say": f"{why[0].upper()}{why[1:]}.",
            "preconditions": _unknown(advice.preconditions, why),
            "steps": _none_now(advice.steps),
            "quiet": "",
            "now": None,
            "idle": None,
            "lost": (),
        }
    )


def _unknown(rows: tuple[HeldRow, ...], why: str) -> tuple[HeldRow, ...]:
    unknown = {"verdict": "cannot tell", "value": None, "margin": None, "trend_per_min": None, "reason": why}
    return tuple(one.model_copy(update=unknown) for one in rows)


def _none_now(steps: tuple[StepLine, ...]) -> tuple[StepLine, ...]:
    return tuple(one.model_copy(update={"state": "to come"}) if one.state == "now" else one for one in steps)


def _cautions(relearn: str) -> tuple[TextLine, ...]:
    """Those of the relearn first, then those that are said for every job."""
    own = () if relearn == AFTER_WRITE else procedure(relearn).cautions
    return tuple(sorted(cautions(own), key=lambda one: one.id not in own))


def _heard(seen: View, now_s: float) -> Heard:
    answered_s = seen.traffic.answered_s if seen.traffic is not None else np.empty(0)
    if not len(answered_s):
        return Heard(None, True)
    usual_s = float(np.median(np.diff(answered_s[-USUAL_OF:]))) if len(answered_s) > 1 else 0.0
    allowed_s = min(max(STOPPED_S, STOPPED_INTERVALS * usual_s), STOPPED_AT_MOST_S)
    silent_s = max(0.0, now_s - float(answered_s[-1]))
    return Heard(silent_s, silent_s > allowed_s)


def _silence(heard: Heard, expected: bool) -> tuple[str, str]:
    """What is said of it: as it should be, or that the data has stopped."""
    if not heard.stopped:
        return "", ""
    if heard.silent_s is None:
        return "", "no module has answered yet: see that the ignition is on, the connector seated, the bitrate right"
    said = f"no answers for {heard.silent_s:.0f} s"
    if expected:
        return f"{said}: ignition off, or the cable", ""
    return "", f"{said}: {CHECK_CABLE}. No advice until answers come again"


def _nothing_more(made: Told, stopped: str) -> Told:
    """The same without anything that would be taken for the present."""
    return Told(
        verdict="cannot tell",
        reasons=(stopped,),
        say=f"{stopped[0].upper()}{stopped[1:]}.",
        preconditions=_unknown(made.preconditions, stopped),
        by_eye=made.by_eye,
        steps=_none_now(made.steps),
    )


def _cars(recording: Recording) -> tuple[str, ...]:
    """Who the modules say they are, by VIN and calibration: so that one sees that it is the right car."""
    told = {(one.module, one.item): one.values for one in recording.identity if one.item in WHO}
    return tuple(
        f"{module}: {WHO[item]} {', '.join(filter(None, values)) or 'not given'}"
        for (module, item), values in told.items()
    )


def _done(recording: Recording, seen: View, standing: Standing, sheet: Sheet) -> Told:
    """How the stage before came out; one that was left on a person's word is a cannot tell."""
    before = standing.stages[-2]
    left = next((one for one in standing.gone_on if one.stage == before), None)
    reasons = (f"left on your word: {left.reason}",) if left is not None else (OVER[before],)
    asked = "relearn steps and relearn settle do, each" if before == "idle" else "relearn steps does"
    return Told("cannot tell" if left is not None else "yes", reasons, END.format(asked), silence_expected=True)


STAGES: Mapping[str, Callable[[Recording, View, Standing, Sheet], Told]] = {
    "getting ready": getting_ready,
    "steps": stepping,
    "done": _done,
}
OVER: Mapping[StageName, str] = {
    "steps": "every step that scan data shows was done, in time",
    "idle": "the idle settled",
}
END = "Over. End with q: the whole recording is then judged once more, as {} by itself."
