"""A car and its driver as a literal timeline: what the tests of the steps write down, and the view that a tester gets.

Everything is asked at every tick; the module answers while the ignition is on.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from relearn.analysis.steps import course
from relearn.checks.steps import Steps, steps
from relearn.checks.view import View
from relearn.procedures.sheets import Sheet, generic
from relearn.traffic import Traffic
from tests.build import channel, view

Times = NDArray[np.float64]
CASES: list[dict[str, Any]] = tomllib.loads(Path(__file__).with_name("steps_cases.toml").read_text(encoding="utf-8"))[
    "case"
]
RELEASED, FULL = 15.0, 80.0


def during(times_s: Times, spans: Iterable[Sequence[float]]) -> NDArray[np.bool_]:
    """True at the times from ≤ t < to of any span."""
    mask = np.zeros(len(times_s), bool)
    for span in spans:
        mask |= (times_s >= span[0]) & (times_s < span[1])
    return mask


def filled(times_s: Times, spans: Iterable[Sequence[float]], otherwise: float, usual: float) -> Times:
    """The third number of the span a time lies in (or the usual one), elsewhere another."""
    values = np.full(len(times_s), otherwise)
    for span in spans:
        values[during(times_s, [span])] = span[2] if len(span) > 2 else usual
    return values


def blinks(spans: Iterable[Sequence[float]]) -> list[tuple[float, float]]:
    """Half a second lit in every second."""
    return [(at, at + 0.5) for span in spans for at in np.arange(span[0], span[1])]


def ticks(script: Mapping[str, Any]) -> Times:
    """When the tester asks; rounded, so that 5.0 is 5.0."""
    every_s = script.get("every_s", 0.1)
    return np.round(np.arange(0, script["end_s"] + every_s / 2, every_s), 6)


def seen(
    script: Mapping[str, Any], keep: NDArray[np.bool_] | None = None, shift_s: float = 0.0, requests: bool = True
) -> View:
    """What a tester sees of it. keep: the ticks that were recorded. shift_s: added to every time."""
    asked_s = ticks(script)
    asked_s = asked_s if keep is None else asked_s[keep]
    times_s = asked_s[during(asked_s, script["on"])]
    values = {
        "engine_speed": filled(times_s, script.get("running", ()), 0.0, 700.0),
        "accelerator_pedal_position_d": filled(times_s, script.get("pedal", ()), RELEASED, FULL),
        "malfunction_lamp": during(times_s, [*script.get("lamp", ()), *blinks(script.get("blinks", ()))]).astype(float),
        "control_module_voltage": filled(times_s, script.get("supply", ()), 12.4, 14.0),
        "vehicle_speed": np.zeros(len(times_s)),
        "coolant_temperature": np.full(len(times_s), 90.0),
    }
    shown = [
        channel(name, times_s + shift_s, value) for name, value in values.items() if name not in script.get("lacks", ())
    ]
    frames = np.arange(1, len(times_s) + 1)
    made = view(*shown)
    told = Traffic(times_s + shift_s, frames, (asked_s if requests else asked_s[:0]) + shift_s)
    return View(made.module, made.channels, made.end_s, traffic=told)


def asked(relearn: str, car: View, sheet: Sheet | None = None, earlier: Sequence[str] = ()) -> Steps:
    """The steps of a relearn in a view, by the generic limits."""
    limits = sheet or generic()
    return steps(car, course(relearn, limits), limits, [course(one, limits) for one in earlier])


def case(name: str) -> dict[str, Any]:
    """A case of the file by its name."""
    return next(one for one in CASES if one["name"] == name)
