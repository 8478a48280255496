"""One function for each thing that scan data can show of a step (procedures/patterns.py names them, PATTERNS here).

Each looks in one window of a timeline and knows nothing of a procedure. What it measures comes as least and most: every
sample that is missing could have hidden something, so a hole in the samples only ever makes an answer less certain.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from math import isfinite

from relearn.actions import Moment, Stretch, changes, elapsed_s, holes, sooner
from relearn.channels import Channel, between, fresh_within_s
from relearn.checks.step_measures import Found, Measure, cut_off, found
from relearn.checks.step_window import (
    FLEETING_S,
    Here,
    absent,
    before_start,
    group,
    hidden,
    how_it_ended,
    let_go,
    next_phase,
    perhaps_sooner,
    starting,
)
from relearn.checks.timeline import ENGINE, FULL, LAMP, LIT, PEDAL, PRESSED, REVVED, RUNNING
from relearn.procedures.standing import joined
from relearn.verdict import Limits, Outcome

PEAK_S = 0.15  # a pedal that reads part way on both sides may have been fully down for this long between
REV_S = 1.0  # the engine does not rev up and come down again, nor down and up, in less
LIT_S = 2.0  # a lamp that is on for longer than this is not blinking
BLINKING_CHANGES = 3  # off, on, off, on: coming on once, to stay, changes once
RESTS_S = 5.0  # engine speed low for so long after a rev: the revving is over


def look(pattern: str, here: Here) -> Found:
    """What there is of a pattern. By eye where the module says that it lacks what the pattern is read from; cannot tell
    where the capture lacks it, or where the step's ignition was never seen on."""
    source = SOURCES.get(pattern)
    if source is not None and source in here.timeline.missing:
        why = here.timeline.missing[source]
        return Found(Outcome.CANNOT_TELL if why else None, why or f"the module does not show its {source}")
    if source is not None and here.cycle is None:
        return cut_off("ignition on")
    return PATTERNS[pattern](here)


def ignition_on(here: Here) -> Found:
    """The next phase in which the module answers. Its time is that with the engine not yet started."""
    place = next_phase(here, "on")
    if place is None:
        return cut_off("ignition on")
    phase, cycle = here.timeline.phases[place], here.timeline.cycles[place]
    ended = sooner(phase.ended, *(one.began for one in cycle.of(RUNNING)[:1]))
    measures = _at_least(here, "ignition on, engine not started,", phase.began, ended)
    return replace(
        found(measures, (phase.began, phase.ended), phase.frames), goes_on=phase.began, phase=place, cycle=cycle
    )


def ignition_off(here: Here) -> Found:
    """The next phase in which the module is silent."""
    place = next_phase(here, "off")
    if place is None:
        return cut_off("ignition off")
    phase = here.timeline.phases[place]
    made = found(_at_least(here, "ignition off", phase.began, phase.ended), (phase.began, phase.ended), phase.frames)
    if elapsed_s(phase.began, phase.ended)[0] <= 0 and made.outcome is Outcome.YES:
        made = replace(made, outcome=Outcome.CANNOT_TELL, reason="ignition off: a silence in which nobody asked")
    return replace(made, phase=place)


def on_again_in_time(here: Here) -> Found:
    """Can only refute: yes is never shown by it, since what has to be in time is not in scan data."""
    asked, what = here.numbers["within_min"], "ignition on again"
    if here.mark is None or here.cycle is None:
        return Found(None, f"{what}: not seen")
    taken = elapsed_s(here.mark, here.cycle.phase.began)
    limits = Limits(None, 60 * asked.value, "s", asked.standing)
    made = found(
        (Measure(f"{what} after", *_ordered(taken), limits, limits.describe(), ("", "too late")),), _around(here), None
    )
    return made if made.outcome is Outcome.NO else Found(None, f"{what} after {made.measures[0].shown}")


def pedal_rests(here: Here) -> Found:
    """From the window's beginning to the next press; a hole in the samples could hide one."""
    if here.lost:
        return Found(Outcome.CANNOT_TELL, "pedal released: the step before was not seen", cut=True)
    window, pedal = before_start(here), here.inside().channels[PEDAL]
    later = [one for one in here.inside().of(PRESSED) if one.began.latest_s > here.at.latest_s]
    press = next((one for one in later if one.began.latest_s <= window.until.latest_s), None)
    ended = perhaps_sooner(pedal, here.since_s, press.began if press is not None else window.until, FLEETING_S)
    made = found((_about(here, "pedal released", here.at, ended),), (here.at, ended), None)
    if press is not None:
        return replace(made, goes_on=ended)
    cut = made.cut or not isfinite(ended.latest_s)
    return replace(made, reason=f"{made.reason}; not pressed{how_it_ended(window)}", goes_on=None, cut=cut)


def pedal_presses(here: Here) -> Found:
    """The next presses that belong together: pauses and presses shorter than the whole are allowed to take."""
    window, within = before_start(here), here.numbers["within_s"]
    pedal = here.inside().channels[PEDAL]
    presses = starting(here.inside().of(PRESSED), window)
    several, ended = group(presses, window, pedal, within.value, longest_s=within.value)
    if not several:
        return absent("pedal pressed", window, pedal, FLEETING_S)
    sure, most = _full_presses(several, here.timeline.full_from or 0.0, pedal)
    unseen = hidden(pedal, here.since_s, ended, FLEETING_S) + sum(let_go(here.inside(), one) for one in several)
    asked, taken = here.numbers["count"], elapsed_s(several[0].began, several[-1].ended)
    counted = Limits(asked.value, asked.value, "times", asked.standing)
    timed = Limits(None, within.value, "s", within.standing)
    measures = (
        Measure("pedal pressed fully", sure, most + unseen, counted, f"{asked.value:g} times", ("too few", "too many")),
        Measure("presses took", *_ordered(taken), timed, timed.describe(), ("", "too slow")),
    )
    return found(measures, (several[0].began, several[-1].ended), (several[0].frames[0], several[-1].frames[1]))


def pedal_held(here: Here) -> Found:
    """The next stretch fully pressed; a hole in the samples could hide that it was let go."""
    window, pedal = before_start(here), here.inside().channels[PEDAL]
    hold = next(iter(starting(here.inside().of(FULL), window)), None)
    if hold is None:
        return absent("pedal held fully pressed", window, pedal, FLEETING_S)
    ended = perhaps_sooner(pedal, hold.began.latest_s, hold.ended, FLEETING_S)
    return found((_about(here, "pedal held", hold.began, ended),), (hold.began, hold.ended), hold.frames)


def pedal_released_after(here: Here) -> Found:
    """From the mark to the end of the press that it falls into."""
    what, asked = "pedal released after", here.numbers["within_s"]
    if here.timed_from is not None and here.timed_from.outcome is None:
        return Found(None, f"{what}: what it is timed from is seen by eye")
    presses = [one for one in here.inside().of(PRESSED) if here.mark and one.began.earliest_s <= here.mark.latest_s]
    if here.mark is None or not presses:
        return Found(Outcome.CANNOT_TELL, f"{what}: what it is timed from was not seen")
    ended, pedal = presses[-1].ended, here.inside().channels[PEDAL]
    if holes(pedal, ended.latest_s, here.mark.earliest_s, fresh_within_s(pedal)):
        return Found(Outcome.CANNOT_TELL, f"{what}: the pedal was not read before it")
    limits = Limits(0.0, asked.value, "s", asked.standing)
    measure = Measure(
        what, *elapsed_s(here.mark, ended), limits, f"within {asked.value:g} s", ("too early", "too late")
    )
    return replace(found((measure,), (here.mark, ended), presses[-1].frames), mark=ended)


def lamp_blinking(here: Here) -> Found:
    """At least BLINKING_CHANGES changes in the window."""
    lamp = between(here.inside().channels[LAMP], here.at.earliest_s, here.until.latest_s)
    if changes(lamp) < BLINKING_CHANGES:
        return absent("malfunction lamp blinking", here, lamp, FLEETING_S)
    return found((), (here.at, here.until), (int(lamp.frame[0]), int(lamp.frame[-1])))


def lamp_lit(here: Here) -> Found:
    """The first time in the window that the lamp comes on and stays on for LIT_S, in samples too close for a blink."""
    what, lamp = "malfunction lamp stays lit", here.inside().channels[LAMP]
    for lit in starting(here.inside().of(LIT), here):
        ended = perhaps_sooner(lamp, lit.began.latest_s, lit.ended, FLEETING_S)
        sure_s = elapsed_s(lit.began, ended)[0]
        if lit.most_s >= LIT_S and sure_s < LIT_S:
            return Found(
                Outcome.CANNOT_TELL, f"{what}: for {sure_s:.1f} s, then it is not known", cut=not isfinite(lit.most_s)
            )
        if sure_s >= LIT_S:
            return found((), (lit.began, lit.ended), lit.frames)
    return absent(what, here, lamp, FLEETING_S)


def engine_starts(here: Here) -> Found:
    """The next time that engine speed rises above the running limit."""
    start = next(iter(starting(here.inside().of(RUNNING), here)), None)
    if start is None:
        return absent("engine start", here, here.inside().channels[ENGINE], REV_S)
    return found((), (start.began, start.began), start.frames)


def engine_idles(here: Here) -> Found:
    """From the window's beginning to the first press, rev or stop; a hole in engine speed could hide one."""
    cycle = here.inside()
    run = next((one for one in cycle.of(RUNNING) if one.ended.latest_s > here.at.latest_s), None)
    if run is None or run.began.earliest_s > here.at.latest_s:
        return absent("engine idling", here, cycle.channels[ENGINE], REV_S)
    ends = [one.began for kind in (PRESSED, REVVED) for one in starting(cycle.of(kind), here)[:1]]
    ended = perhaps_sooner(cycle.channels[ENGINE], here.since_s, sooner(run.ended, *ends), REV_S)
    return found(_at_least(here, "engine idled", here.at, ended), (here.at, ended), run.frames)


def revved(here: Here) -> Found:
    """How often engine speed rises above the revving limit, until it stays low for RESTS_S or the ignition goes off."""
    speed, asked = here.inside().channels[ENGINE], here.numbers["count"]
    revs, ended = group(starting(here.inside().of(REVVED), here), here, speed, RESTS_S)
    if not revs:
        return absent("engine revved", here, speed, REV_S)
    unseen = hidden(speed, here.since_s, ended, REV_S)
    limits = Limits(asked.value, here.numbers.get("count_at_most", asked).value, "times", asked.standing)
    measure = Measure(
        "engine revved", len(revs), len(revs) + unseen, limits, f"{limits.describe()}", ("too few", "too often")
    )
    return found((measure,), (revs[0].began, revs[-1].ended), (revs[0].frames[0], revs[-1].frames[1]))


def _full_presses(group: Sequence[Stretch], full_from: float, pedal: Channel) -> tuple[int, int]:
    """How many presses were full for sure, and how many may have been: a peak may lie between two samples."""
    full = [one.top >= full_from for one in group]
    maybe = [one for one, sure in zip(group, full, strict=True) if not sure and _peak_hides(pedal, one)]
    return sum(full), sum(full) + len(maybe)


def _peak_hides(pedal: Channel, press: Stretch) -> bool:
    return bool(holes(pedal, press.began.earliest_s, press.ended.latest_s, PEAK_S))


def _at_least(here: Here, what: str, began: Moment, ended: Moment) -> tuple[Measure, ...]:
    """A time against an 'at least', where the step has one."""
    asked = here.numbers.get("at_least_s")
    if asked is None:
        return ()
    limits = Limits(asked.value, None, "s", asked.standing)
    return (Measure(what, *_ordered(elapsed_s(began, ended)), limits, limits.describe()),)


def _about(here: Here, what: str, began: Moment, ended: Moment) -> Measure:
    """'About S': S ± the step's own tolerance, or else ± a share of S that the sheet sets."""
    asked, tolerance = here.numbers["about_s"], here.numbers.get("tolerance_s")
    share = here.about.low or 0.0
    spread_s = tolerance.value if tolerance else asked.value * share / 100
    standing = (
        asked.standing if tolerance else joined([asked.standing, f"'about': ± {share:g} %, {here.about.standing}"])
    )
    limits = Limits(asked.value - spread_s, asked.value + spread_s, "s", standing)
    words = f"about {asked.value:g} s ({limits.describe()})"
    return Measure(what, *_ordered(elapsed_s(began, ended)), limits, words)


def _ordered(taken: tuple[float, float]) -> tuple[float, float]:
    """A duration between two moments whose order is known: never below zero."""
    return max(0.0, taken[0]), taken[1]


def _around(here: Here) -> tuple[Moment, Moment]:
    cycle = here.inside()
    return here.mark or cycle.phase.began, cycle.phase.began


PATTERNS: Mapping[str, Callable[[Here], Found]] = {
    "ignition-on": ignition_on,
    "ignition-off": ignition_off,
    "on-again-in-time": on_again_in_time,
    "pedal-rests": pedal_rests,
    "pedal-presses": pedal_presses,
    "pedal-held": pedal_held,
    "pedal-released-after": pedal_released_after,
    "lamp-blinking": lamp_blinking,
    "lamp-lit": lamp_lit,
    "engine-starts": engine_starts,
    "engine-idles": engine_idles,
    "revved": revved,
}
SOURCES: Mapping[str, str] = {
    "pedal-rests": PEDAL,
    "pedal-presses": PEDAL,
    "pedal-held": PEDAL,
    "pedal-released-after": PEDAL,
    "lamp-blinking": LAMP,
    "lamp-lit": LAMP,
    "engine-starts": ENGINE,
    "engine-idles": ENGINE,
    "revved": ENGINE,
}
