"""Which channels a question reads, so that whoever asks a car asks for what will be judged and for nothing else."""

from __future__ import annotations

from collections.abc import Iterator

from relearn.analysis.common import LAMP
from relearn.analysis.steps import course
from relearn.checks import air, compare, pedal, supply
from relearn.checks.extras import LOOP
from relearn.checks.ready import needs
from relearn.checks.step_patterns import SOURCES
from relearn.checks.timeline import CHANNELS
from relearn.j1979.table import signals
from relearn.procedures.loader import procedures
from relearn.procedures.models import AFTER_WRITE, Procedure
from relearn.procedures.sheets import Sheet

TARGET = "idle.target_rpm"  # a relearn after which this is expected is one after which `settle` is asked
ALWAYS = ("engine_speed", "stored_code_count", LAMP, *supply.SOURCES)
"""What belongs to every job: by what the engine module is known, codes between two readings of them, the supply."""
SETTLE = (*compare.CHANNELS.values(), *pedal.PEDALS, "vehicle_speed", LOOP)
AIR = (*air.REPORTED, "intake_air_temperature")


def wanted(relearn: str | None, sheet: Sheet) -> tuple[str, ...]:
    """The channels of the parameter table that ready, steps and settle read for a relearn, by name; None: all that any
    question reads. `relearn` may be models.AFTER_WRITE; an unknown one is a ChoiceError."""
    asked = (*procedures(), AFTER_WRITE) if relearn is None else (relearn,)
    every = {*ALWAYS, *(name for one in asked for name in _of(one, sheet)), *(AIR if relearn is None else ())}
    return tuple(sorted(every & set(signals())))


def _of(relearn: str, sheet: Sheet) -> Iterator[str]:
    walked = course(relearn, sheet)
    for condition in walked.conditions.values():
        yield from needs(condition)
    for source in {SOURCES[shown] for step in walked.steps for shown in step.shows if shown in SOURCES}:
        yield from CHANNELS[source]
    if relearn in procedures() and _settles(procedures()[relearn]):
        yield from SETTLE


def _settles(relearn: Procedure) -> bool:
    return any(TARGET in (one.around or ()) for one in relearn.afterwards)
