"""What the data shows of a step while it is being done: one short line for each thing that scan data can show."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from math import isfinite

from relearn.checks.step_place import counted
from relearn.checks.step_progress import blinking, steady_lamp
from relearn.checks.steps import Done
from relearn.checks.timeline import ENGINE, FULL, LAMP, LIT, PEDAL, PRESSED
from relearn.coach.scene import OFF, ON, Scene, since_s, unread_s

SPEAKS_S = 1.0  # a module that is on is heard several times a second


def signs(scene: Scene, one: Done) -> tuple[str, ...]:
    """What the data shows of a step, in the order of its patterns."""
    told = [SIGNS[pattern](scene, one) for pattern in one.step.shows if pattern in SIGNS]
    return tuple(dict.fromkeys(sign for sign in told if sign))


def _ignition(scene: Scene, one: Done) -> str:
    phase = scene.found.phase
    if phase is None:
        return "ignition: nothing heard yet"
    if phase.kind == "on" and scene.now_s - scene.heard_s > SPEAKS_S:
        return ""  # it is silent: whether it is still on is not known
    for_s = scene.now_s - phase.began.latest_s
    return f"ignition {phase.kind}" + (f" for {for_s:.0f} s" if isfinite(for_s) and for_s >= 0 else "")


def _pedal(scene: Scene, one: Done) -> str:
    cycle = scene.found.cycle
    if cycle is None or unread_s(scene, PEDAL) is not None:
        return _unread(scene, PEDAL)
    if not len(cycle.channels.get(PEDAL, ())):
        return ""
    full, pressed = since_s(cycle, FULL), since_s(cycle, PRESSED)
    if full is not None:
        return f"pedal fully pressed for {scene.now_s - full:.1f} s"
    return "pedal pressed part of its way" if pressed is not None else "pedal released"


def _unread(scene: Scene, source: str) -> str:
    """'accelerator pedal – (not read for 4 s)'; nothing where there is no ignition on, or the module lacks it."""
    age_s = unread_s(scene, source)
    cycle = scene.found.cycle
    if age_s is None or cycle is None or (source not in cycle.channels and source in scene.lacking):
        return ""
    return f"{source} – (not read for {age_s:.0f} s)"


def _presses(scene: Scene, one: Done) -> str:
    measure = counted(one)
    asked = next((number.value for number in one.step.numbers if number.name == "count"), 0.0)
    return f"{int(measure.least) if measure is not None else 0} of {asked:g} presses counted"


def _revs(scene: Scene, one: Done) -> str:
    measure = counted(one)
    return f"{int(measure.least) if measure is not None else 0} revs counted"


def _lamp(scene: Scene, one: Done) -> str:
    cycle = scene.found.cycle
    if cycle is None or unread_s(scene, LAMP) is not None:
        return _unread(scene, LAMP)
    if not len(cycle.channels.get(LAMP, ())):
        return ""
    lit = steady_lamp(cycle)
    if lit is not None:
        return f"lamp lit for {scene.now_s - lit.began.latest_s:.1f} s"
    if blinking(cycle, scene.now_s):
        return "lamp blinking"
    return "lamp lit" if since_s(cycle, LIT) is not None else "lamp off"


def _engine(scene: Scene, one: Done) -> str:
    cycle = scene.found.cycle
    speed = cycle.channels.get(ENGINE) if cycle is not None else None
    if unread_s(scene, ENGINE) is not None:
        return _unread(scene, ENGINE)
    if speed is None or not len(speed):
        return ""
    return f"engine at {speed.value[-1]:.0f} rpm"


SIGNS: Mapping[str, Callable[[Scene, Done], str]] = {
    ON: _ignition,
    OFF: _ignition,
    "on-again-in-time": _ignition,
    "pedal-rests": _pedal,
    "pedal-presses": _presses,
    "pedal-held": _pedal,
    "pedal-released-after": _pedal,
    "lamp-blinking": _lamp,
    "lamp-lit": _lamp,
    "engine-starts": _engine,
    "engine-idles": _engine,
    "revved": _revs,
}
"""One short line for each pattern of checks.step_patterns."""
