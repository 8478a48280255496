"""`relearn drill make|check|play`."""

from __future__ import annotations

import sys
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from relearn.cli.shared import FILE, file_argument, sheet_option
from relearn.cli.stopping import asked_to_end

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from concurrent.futures import Future
    from types import FrameType

    from relearn.bus.clock import Clock
    from relearn.drills.drill_file import Drill, Stop
    from relearn.drills.make import Looked, Over
    from relearn.drills.questions import Question, Shown, Truth
    from relearn.drills.results import Result


@click.group()
def drill() -> None:
    """Drills: recordings that stop and ask what a technician would have to know there."""


@drill.command()
@click.argument("folder", type=FILE)
@click.option("--out", type=FILE, metavar="FILE", help="Without it, drill.toml in FOLDER. Nothing is written over.")
@sheet_option
@click.option("--for", "relearn", metavar="RELEARN", help="Asked of every capture; without it, what each one fits.")
@click.option(
    "--questions",
    "most",
    type=click.IntRange(1, 1000),
    default=12,
    show_default=True,
    help="At most so many, the most telling ones of every kind and answer; the default fills about a lesson.",
)
def make(folder: Path, out: Path | None, sheet: str | None, relearn: str | None, most: int) -> None:
    """Write a drill from the captures below FOLDER, for a trainer to edit."""
    from relearn.drills.make import NAME, captures, write
    from relearn.drills.make import make as make_drill
    from relearn.errors import ChoiceError
    from relearn.report.words import plain

    path = out if out is not None else folder / NAME
    if path.exists():
        raise ChoiceError(
            "this file is there, and nothing is written over", path=path, remedy="name another with --out"
        )
    paths = captures(folder)
    with _going_over(len(paths)) as over:
        made = make_drill(paths, path, sheet, relearn, most, over)
    for said in made.left_out:
        click.echo(f"left out: {plain(said)}", err=True)
    write(path, made.file)
    stops = made.file.stop
    about = _count(len({one.capture for one in stops}), "capture")
    click.echo(f"{plain(str(path))}: {_count(len(stops), 'question')} about {about}, of {made.could_ask} possible")
    _tell_kinds(stops)


@contextmanager
def _going_over(number: int) -> Iterator[Over]:
    """Looks at so many captures in processes, one alone in this one; with a bar on stderr, where that is a terminal."""
    from rich.console import Console
    from rich.progress import track

    from relearn.survey.pool import processes, usual_workers

    bar = partial(
        track,
        description="judging",
        total=number,
        console=Console(stderr=True),
        transient=True,
        disable=not sys.stderr.isatty(),
    )
    workers = min(number, usual_workers())
    if workers < 2:
        yield lambda look, captures: bar(map(look, captures))
        return
    with asked_to_end(_end), processes(workers) as pool:
        yield lambda look, captures: bar(in_order([pool.submit(look, one) for one in captures]))


def in_order(looking: Sequence[Future[Looked]]) -> Iterator[Looked]:
    """What each gives. Left early, none is cancelled, as an executor's map would: a pool that is ended stumbles over
    it."""
    for one in looking:
        yield one.result()


def _end(number: int, frame: FrameType | None) -> None:
    """Whatever asks for the end is heard as Ctrl-C is: nothing was written yet."""
    raise KeyboardInterrupt


@drill.command()
@file_argument("file")
def check(file: Path) -> None:
    """Name every mistake in a drill with its key. Exits 0 when there is none, 2 when there is one.

    A moment at which the answer is just changing is no mistake, but it is said.
    """
    from relearn.drills.drill_file import load, mistakes
    from relearn.drills.questions import restless
    from relearn.report.words import plain

    found = mistakes(file)
    for mistake in found:
        click.echo(plain(mistake), err=True)
    if found:
        sys.exit(2)
    loaded = load(file)
    for said in restless(loaded):
        click.echo(plain(said))
    click.echo(f"{plain(str(file))}: no mistake found in {_count(len(loaded.stops), 'question')}")
    _tell_kinds(loaded.stops)


def _tell_kinds(stops: Sequence[Stop]) -> None:
    """How many questions there are of each kind."""
    from relearn.drills.wording import kinds

    for name, kind in kinds().items():
        of_it = sum(one.kind == name for one in stops)
        if of_it:
            click.echo(f"  {_count(of_it, 'question'):12} {kind.title}")


def _count(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"


@drill.command()
@file_argument("file")
@click.option("--person", default="", metavar="NAME", help="Who answers; stands in the results.")
@click.option(
    "--csv", "table", type=FILE, metavar="FILE", help="Write the results there; a file that is there is kept."
)
def play(file: Path, person: str, table: Path | None) -> None:
    """Ask a drill's questions in the terminal and count the points.

    Each question names its recording, so that you can look at it with other commands; the page (`relearn screen`)
    plays it, and names it only afterwards. Answer with the number of a choice, or several with spaces between them.
    What is right, and where to see it, is shown when all questions of a moment are answered.
    """
    from relearn.bus.clock import MachineClock
    from relearn.drills.drill_file import load
    from relearn.drills.results import create, to_csv

    played = load(file)
    if table is not None:
        create(table, to_csv([]))
    results: list[Result] = []
    for at_one_moment in asked_through(played, person, MachineClock()):
        results += at_one_moment
        if table is not None:
            table.write_bytes(to_csv(results))
    _tell(results)


def asked_through(played: Drill, person: str, clock: Clock) -> Iterator[Sequence[Result]]:
    """Ask moment by moment, and show what was right once all of a moment is answered; the results of each."""
    from relearn.drills.questions import question, together, truth
    from relearn.drills.results import result

    for places in together(played):
        asked = [question(played, place) for place in places]
        given = [_timed(one, len(played.stops), clock) for one in asked]
        results = []
        for one, (answer, seconds) in zip(asked, given, strict=True):
            right = truth(played, one.place)
            results.append(result(played, one, answer, right, person, seconds))
            click.echo("")
            if len(asked) > 1:
                _say(f"{one.place + 1}: {one.text}", 0)
            _show(one, right, answer, results[-1])
        yield results


def _timed(asked: Question, of: int, clock: Clock) -> tuple[tuple[str, ...], float]:
    """An answer, and how long it took from the question on."""
    begun_s = clock.now_s()
    answer = _answered(asked, of)
    return answer, clock.now_s() - begun_s


def _answered(asked: Question, of: int) -> tuple[str, ...]:
    """What was typed, asked again until it is an answer."""
    from relearn.drills.score import contradicts

    click.echo("")
    _say(f"{asked.place + 1} of {of}: {asked.capture} at {asked.at_s:g} s", 0)
    _say(asked.text, 0)
    for number, choice in enumerate(asked.choices, start=1):
        _say(f"{number}  {choice.text}", 2)
    while True:
        chosen = _numbers(_typed("your numbers" if asked.several else "your number"), len(asked.choices))
        answer = tuple(asked.choices[number - 1].id for number in chosen)
        if not answer or (len(answer) > 1 and not asked.several):
            _say(f"give {'numbers' if asked.several else 'one number'} from 1 to {len(asked.choices)}", 2)
        elif contradicts(answer):
            _say(f"{len(asked.choices)} goes with no other answer: give it alone or leave it out", 2)
        else:
            return answer


def _say(text: str, indent: int) -> None:
    """One line, wrapped as on every page of the terminal."""
    from relearn.report.text.parts import line

    for one in line(text, indent):
        click.echo(one.plain)


def _typed(what: str) -> str:
    """A line of the terminal. One that never comes ends the command in a sentence, not with the 1 of a no."""
    from relearn.errors import ChoiceError

    try:
        typed: str = click.prompt(what, prompt_suffix="? ")
    except click.Abort:
        raise ChoiceError("the drill was left before its end", remedy="play it again from its start") from None
    return typed


def _numbers(typed: str, most: int) -> Sequence[int]:
    """The numbers typed; none at all where something else is among them."""
    words = typed.replace(",", " ").split()
    numbers = [int(word) for word in words if word.isascii() and word.isdigit()]
    return numbers if len(numbers) == len(words) and all(1 <= one <= most for one in numbers) else ()


def _show(asked: Question, right: Truth, given: Sequence[str], scored: Result) -> None:
    """What was said and what is right, the points, what decided it and where to look."""
    from relearn.drills.questions import places
    from relearn.drills.results import figure, worth
    from relearn.report.words import words

    _say(f"You said: {'; '.join(scored.answered)}", 2)
    _say(f"By the data: {'; '.join(scored.right)}", 2)
    _say(f"{worth(scored.points)}, {figure(scored.points)} of 1 point", 2)
    for reason in right.reasons:
        _say(f"- {reason}", 2)
    for at in places(asked, right, given):
        _say(f"look at {words(at.channel)}, {when(at)}: {at.of}", 4)
    if right.note:
        _say(f"note: {right.note}", 2)


def when(at: Shown) -> str:
    """'73.0 to 82.9 s', and of one sample '76.3 s'."""
    from relearn.report.words import span

    return f"{at.from_s:.1f} s" if at.from_s == at.to_s else span(at.from_s, at.to_s)


def _tell(results: Sequence[Result]) -> None:
    from relearn.drills.results import by_kind, figure
    from relearn.drills.wording import kinds

    names = kinds()
    click.echo("")
    for tally in by_kind(results):
        times = "once" if tally.went_on == 1 else f"{tally.went_on} times"
        yes = f", {times} yes where it was not" if tally.went_on else ""
        click.echo(f"{names[tally.kind].title} {figure(tally.points)} of {tally.asked}{yes}")
    click.echo(f"In all: {figure(sum(one.points for one in results))} of {len(results)}")
