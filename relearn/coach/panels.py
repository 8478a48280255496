"""The parts of the coach's screen, each an Advice in and text out. They compute nothing and know no terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.table import Table
from rich.text import Text

from relearn.coach.changes import trend
from relearn.findings.advice import Advice, HeldRow, StepLine
from relearn.findings.base import Answer
from relearn.report.words import margin, number, plain, window

MARKS: dict[Answer, str] = {"yes": "✓ yes", "no": "✗ NO", "cannot tell": "? cannot tell"}
STYLES: dict[Answer, str] = {"yes": "green", "no": "bold red", "cannot tell": "yellow"}
STATES = {
    "done": ("✓ done", "green"),
    "wrong": ("✗ WRONG", "bold red"),
    "now": ("▶ now", "bold"),
    "to come": ("· to come", "dim"),
    "enough": ("≈ enough", "green"),
    "cannot tell": ("? cannot tell", "yellow"),
    "by eye": ("o by eye", "italic"),
}
"""A state is told by a word and a shape; the colour only repeats it."""
DONE_LINES = 2  # of the steps that are over, so many stay in sight on a low screen


def head(advice: Advice) -> Text:
    """Which relearn, which stage of which, how it stands; while getting ready, which car it is."""
    made = Text(plain(advice.title), style="bold", no_wrap=True, overflow="ellipsis")
    made.append(f"  {advice.stage}  ", style="not bold")
    made.append(MARKS[advice.verdict], style=STYLES[advice.verdict])
    made.append(f"   {advice.at_s:.0f} s  ", style="not bold dim")
    made.append("".join(f"{plain(one)}  " for one in advice.cars), style="not bold")
    made.append(plain(advice.sheet), style="not bold dim")
    return made


def say(advice: Advice) -> Text:
    """The one thing to do now; while the data has stopped, that."""
    made = Text(plain(advice.say), style="bold reverse" if advice.stopped else "bold")
    for one in advice.wrong:
        made.append(f"\n✗ {plain(one)}", style="bold red")
    for one in advice.lost:
        made.append(f"\n? {plain(one)}", style="bold yellow")
    for one in advice.notes:
        made.append(f"\n{plain(one)}", style="italic")
    if advice.quiet:
        made.append(f"\n{plain(advice.quiet)}", style="italic")
    return made


def seconds(advice: Advice) -> tuple[str, str]:
    """The number that is watched, and what it is; two empty texts when there is none."""
    if advice.stopped:
        return "", ""
    if advice.now is not None and advice.now.countdown is not None:
        one = advice.now.countdown
        if advice.now.reached or (one.left_s == 0 and one.too_late_s is not None):
            late = "s until it is too late" if one.too_late_s else "s left: too late"
            return _shown(one.too_late_s), f"{late}: {one.what}, asked {one.asked}"
        return _shown(one.left_s), f"s to go: {one.what} {one.elapsed_s:.1f} s, asked {one.asked}"
    if advice.idle is not None and advice.idle.left_s is not None:
        return _shown(advice.idle.left_s), f"s to go: inside {advice.idle.window}"
    return "", ""


def _shown(left_s: float | None) -> str:
    return "" if left_s is None else f"{left_s:.1f}"


def signs(advice: Advice) -> Text:
    """What the data shows of the step under way, or of the idle."""
    if advice.idle is not None:
        age = (
            ""
            if advice.idle.speed_rpm is not None or advice.idle.age_s is None
            else f" ({advice.idle.age_s:.0f} s old)"
        )
        speed = number(advice.idle.speed_rpm, "rpm")
        return Text(f"engine speed {speed}{age}, asked {advice.idle.window or 'unknown'}")
    told = advice.now.signs if advice.now is not None else ()
    return Text("   ".join(plain(one) for one in told))


def alarm(advice: Advice) -> Text:
    """At the head of what covers the screen: what to do now, and the number that is watched."""
    count, what = seconds(advice)
    made = Text(plain(advice.say), style="bold reverse" if advice.stopped else "bold")
    for one in (*advice.wrong[:1], *advice.lost[:1]):
        made.append(f"\n{plain(one)}", style="bold red")
    return made.append(f"\n{count} {plain(what)}" if count else "")


def body(advice: Advice, rows: int) -> Table | Text:
    """The table of this stage, as much of it as fits in so many rows."""
    if advice.preconditions:
        return preconditions(advice)
    if advice.steps:
        return steps(advice, rows)
    if advice.idle is not None:
        return missing(advice)
    return Text("" if advice.stopped else "\n".join(plain(one) for one in advice.reasons))


def preconditions(advice: Advice) -> Table:
    made = _table("measured", "verdict", "now", "asked", "worst margin", "trend")
    made.columns[0].ratio = 1
    for one in advice.preconditions:
        made.add_row(
            plain(one.text),
            Text(MARKS[one.verdict], style=STYLES[one.verdict]),
            number(one.value, one.unit),
            window(one.limits, one.unit, one.low_open),
            margin(one.margin, one.unit),
            _trend(one),
        )
    return made


def _trend(one: HeldRow) -> str:
    return trend(one) if one.unit else "–"


def steps(advice: Advice, rows: int) -> Table:
    """Every step with its state; on a low screen those around the one that is next."""
    made = _table("step", "state", "what the data shows")
    made.columns[2].ratio = 1
    for one in _around(advice.steps, rows - 1):
        word, style = STATES[one.state]
        made.add_row(plain(one.id), Text(word, style=style), plain(one.reason))
    return made


def _around(several: Sequence[StepLine], rows: int) -> Sequence[StepLine]:
    if len(several) <= rows:
        return several
    at = next((place for place, one in enumerate(several) if one.state == "now"), 0)
    first = max(0, min(at - DONE_LINES, len(several) - rows))
    return several[first : first + max(rows, 1)]


def missing(advice: Advice) -> Table | Text:
    """What else the idle lacks; without anything, how it stands."""
    if advice.idle is None or not advice.idle.missing:
        return Text("" if advice.stopped else plain("; ".join(advice.reasons)))
    made = _table("still missing", "why")
    made.columns[1].ratio, made.columns[1].no_wrap, made.columns[1].overflow = 1, False, "fold"
    for one in advice.idle.missing:
        made.add_row(plain(one.text), plain(one.why))
    return made


def by_eye(advice: Advice) -> Text:
    """How many items are confirmed, the latest with its time, and the next to look at."""
    if not advice.by_eye:
        return Text(plain(advice.warm_up))
    left = [one for one in advice.by_eye if one.confirmed is None]
    made = Text(f"by eye: {len(advice.by_eye) - len(left)} of {len(advice.by_eye)}")
    latest = max((one.confirmed for one in advice.by_eye if one.confirmed is not None), default=None)
    made.append(f" (last {latest[11:19]} UTC)" if latest is not None else "", style="dim")
    if left:
        made.append(f"   next, Enter: {plain(left[0].text)}", style="bold")
    if advice.warm_up:
        made.append(f"\n{plain(advice.warm_up)}")
    return made


def cautions(advice: Advice, rows: int, columns: int) -> Text:
    """The cautions, those of this relearn first, as many whole ones as fit; how many there are besides."""
    ordered = [one.text for one in advice.cautions if one.text != advice.only_advises]
    shown = list(_fitting(ordered, rows, columns))
    made = Text()
    for one in shown:
        made.append("! ", style="bold")
        made.append(f"{plain(one)} ")
    if len(shown) < len(ordered):
        made.append(f"[c: all {len(ordered)}]", style="dim")
    return made


def _fitting(ordered: Sequence[str], rows: int, columns: int) -> Iterator[str]:
    room = rows * (columns - 8) - 14  # lines break before words
    for one in ordered:
        room -= len(one) + 3
        if room < 0:
            return
        yield one


def every_caution(advice: Advice) -> Text:
    """All of them, one to a paragraph."""
    return Text("\n\n".join(f"! {plain(one.text)}" for one in advice.cautions))


def keys(advice: Advice) -> Text:
    """What can be pressed."""
    return Text("Enter confirm by eye   n next stage   c all cautions   q end", style="dim")


def _table(*columns: str) -> Table:
    made = Table(box=None, padding=(0, 1, 0, 0), show_edge=False, pad_edge=False, header_style="dim", expand=True)
    for name in columns:
        made.add_column(name, overflow="ellipsis", no_wrap=True)
    return made
