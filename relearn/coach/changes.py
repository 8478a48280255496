"""What is new between one advice and the next: the moments that ring a bell, and the lines that say so. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import takewhile

from relearn.findings.advice import Advice, HeldRow
from relearn.report.words import SIGNS, margin, number, window


def moments(before: Advice | None, now: Advice) -> tuple[str, ...]:
    """The moments that matter, which a person who looks elsewhere must hear of: ready; another step under way or a
    step's time reached, and with it what to do now; a step gone wrong, or one that can no longer be decided; the data
    lost and back; the steps done; settled. What only counts on is none."""
    return tuple(dict.fromkeys(_moments(before, now)))


def _moments(before: Advice | None, now: Advice) -> Iterator[str]:
    if now.stopped and not (before is not None and before.stopped):
        yield now.stopped
    if before is None:
        return
    if before.stopped and not now.stopped:
        yield "answers come again"
    if now.stage != before.stage:
        yield f"{before.stage} is over: now {now.stage}"
    elif now.verdict == "yes" and before.verdict != "yes":
        yield f"{now.stage}: YES"
    for told, was in ((now.wrong, before.wrong), (now.lost, before.lost)):
        if told and not (was and _before_numbers(told[0]) == _before_numbers(was[0])):
            yield ". ".join(one.rstrip(".") for one in told) + "."
    if _another_step(before, now):
        yield now.say


def _another_step(before: Advice, now: Advice) -> bool:
    """Whether there is something else to do than before: another step, or the same one reached."""
    if now.now is None or now.stage != before.stage or before.stopped:
        return False
    if before.now is None or now.now.id != before.now.id:
        return True
    return now.now.reached and not before.now.reached


def _before_numbers(text: str) -> str:
    """What stays the same of a fault while its highest value, or its time, goes on: all up to the first digit."""
    return "".join(takewhile(lambda letter: not letter.isdigit(), text))


def lines(before: Advice | None, now: Advice) -> tuple[str, ...]:
    """A line for each change, for whoever reads or listens to lines: nothing that only counts on."""
    return tuple(dict.fromkeys(_lines(before, now)))


def _lines(before: Advice | None, now: Advice) -> Iterator[str]:
    if before is None or before.stage != now.stage:
        yield from _opening(now)
    yield from moments(before, now)
    yield from (one for one in now.cars if before is None or one not in before.cars)
    noted = {_still(one) for one in before.notes} if before is not None else set()
    yield from (one for one in now.notes if _still(one) not in noted)
    if not now.stopped:
        yield from _present(before, now)


def _present(before: Advice | None, now: Advice) -> Iterator[str]:
    """What is so while answers come."""
    yield from _rows(before, now)
    yield from (f"confirmed: {one.text}" for one in now.by_eye if one.confirmed and one not in _eye(before))
    yield from _steps(before, now)
    if now.quiet and not (before is not None and before.quiet):
        yield now.quiet
    yield from _signs(before, now)
    if before is None or _still(now.say) != _still(before.say):
        yield from () if before is not None and now.say in moments(before, now) else (f"> {now.say}",)


def _opening(now: Advice) -> Iterator[str]:
    """What stands at the head of a stage: what it is about, that this program only advises, and the cautions."""
    yield f"== {now.title}: {now.stage}"
    yield now.only_advises
    yield from (f"caution: {one.text}" for one in now.cautions if one.text != now.only_advises)
    yield from (f"by eye: {one.text}" for one in now.by_eye if one.confirmed is None)


def _rows(before: Advice | None, now: Advice) -> Iterator[str]:
    """A precondition whose verdict changed."""
    known = {one.id: one.verdict for one in before.preconditions} if before is not None else {}
    yield from (held(one) for one in now.preconditions if known.get(one.id) != one.verdict)
    if now.warm_up and not (before is not None and before.warm_up):
        yield now.warm_up


def held(one: HeldRow) -> str:
    """A precondition in a line: 'NO  coolant warm: 62 °C, asked 80 to 100 °C, -18 °C, +4.1 °C/min'."""
    parts = [f"{number(one.value, one.unit)}", f"asked {window(one.limits, one.unit, one.low_open)}"]
    parts += [f"margin {margin(one.margin, one.unit)}"] if one.margin is not None else []
    parts += [trend(one)] if one.trend_per_min is not None else []
    told = one.reason if one.value is None else ", ".join(parts)
    return f"{SIGNS[one.verdict]}  {one.text}: {told}"


def trend(one: HeldRow) -> str:
    """'+4.1 °C/min'; 'steady' where it would read 0."""
    rate = one.trend_per_min
    if rate is None:
        return "–"
    shown = f"{rate:+.{0 if abs(rate) >= TENS else 1}f}"
    return "steady" if float(shown) == 0 else f"{shown} {one.unit}/min".replace(" /", "/")


def _eye(before: Advice | None) -> tuple[object, ...]:
    return before.by_eye if before is not None else ()


def _steps(before: Advice | None, now: Advice) -> Iterator[str]:
    """A step that is now done, with what was measured of it; once a try went wrong, nothing more of it."""
    if now.wrong:
        return
    known = {one.id: one.state for one in before.steps} if before is not None else {}
    for one in now.steps:
        if known.get(one.id) != one.state and one.state in ("done", "wrong", "cannot tell"):
            yield f"{STATES[one.state]}  {one.id}: {one.reason or 'it was not seen'}"


def _signs(before: Advice | None, now: Advice) -> Iterator[str]:
    """What was counted, and what a lamp, pedal or engine does now, as far as it is not only time going by."""
    if now.now is None:
        return
    known = {_still(one) for one in before.now.signs} if before is not None and before.now is not None else set()
    yield from (one for one in now.now.signs if _still(one) not in known)


def _still(text: str) -> str:
    """A sentence without its times and engine speeds, which go on by themselves; what is counted stays."""
    if "counted" in text:
        return text
    return "".join(letter for letter in text if not letter.isdigit() and letter != ".")


TENS = 10  # from here on a tenth says nothing
STATES = {
    "done": "YES",
    "wrong": "NO",
    "cannot tell": "CANNOT TELL",
    "now": "NOW",
    "enough": "",
    "to come": "",
    "by eye": "BY EYE",
}
"""How the state of a step is said, in words that need no colour."""
