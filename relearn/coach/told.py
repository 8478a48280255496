"""What one stage has to tell; the fields of Advice that are a stage's own."""

from __future__ import annotations

from dataclasses import dataclass

from relearn.findings.advice import EyeRow, HeldRow, IdleNow, StepLine, StepNow
from relearn.findings.base import Answer


@dataclass(frozen=True)
class Told:
    """silence_expected: the module may be silent, as the ignition is to be off now or next. The rest as in Advice."""

    verdict: Answer
    reasons: tuple[str, ...]
    say: str
    silence_expected: bool = False
    preconditions: tuple[HeldRow, ...] = ()
    warm_up: str = ""
    notes: tuple[str, ...] = ()
    by_eye: tuple[EyeRow, ...] = ()
    steps: tuple[StepLine, ...] = ()
    now: StepNow | None = None
    wrong: tuple[str, ...] = ()
    lost: tuple[str, ...] = ()
    idle: IdleNow | None = None
