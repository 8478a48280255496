"""`relearn coach`."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import click

from relearn.cli.bus_options import bus_options
from relearn.cli.job import book_option
from relearn.cli.shared import EXIT, FILE, chosen_sheet, sheet_option
from relearn.errors import CaptureError, RelearnError

if TYPE_CHECKING:
    from relearn.bus.clock import Clock
    from relearn.bus.source import Notice, Source
    from relearn.bus.wire import Interface
    from relearn.cli.stopping import Stopping
    from relearn.coach.into_job import Into
    from relearn.coach.run import Beside, Coaching
    from relearn.coach.standing import Key, Standing
    from relearn.procedures.sheets import Sheet

LOST = 2


@click.command()
@click.option(
    "--for",
    "relearn",
    required=True,
    metavar="RELEARN",
    help="accelerator-closed-position, throttle-closed-position, idle-air-volume, or after-write for the wait after a "
    "module was written.",
)
@sheet_option
@bus_options
@click.option(
    "--out", type=FILE, metavar="FILE", help="Where it is recorded, a new .log file; without it, named by date."
)
@click.option("--job", "folder", type=FILE, metavar="FOLDER", help="The job that it goes into at the end.")
@click.option(
    "--by", default="", metavar="NAME", help="Who sees what is seen by eye; without it, the job's technician."
)
@book_option
@click.option("--plain", is_flag=True, help="Lines instead of a screen, one for each change.")
def coach(
    relearn: str,
    sheet: str | None,
    adapter: Interface,
    out: Path | None,
    folder: Path | None,
    by: str,
    book: Path | None,
    plain: bool,
) -> None:
    """Be advised through a relearn, live: getting ready, each timed step, the idle until it settles.

    Only reads and advises; the relearn itself is done with a tool made for it, or as the service information says.
    Never run it while a module is being written. Everything is recorded.

    Exits by the last judgement: 0 yes, 1 no, 3 cannot tell; with 2 where the adapter was lost.
    """
    from relearn.bus.log import check
    from relearn.coach.standing import begin

    path = out or free_name(relearn, datetime.now())
    check(path)  # before anything that takes its time
    begin(relearn, 0.0)
    click.echo(f"starting: {relearn}, to be recorded in {path} …")

    from concurrent.futures import ThreadPoolExecutor

    from relearn.analysis.wanted import wanted
    from relearn.bus.ask import Patience
    from relearn.bus.clock import MachineClock
    from relearn.bus.session import Session
    from relearn.bus.wire import opened
    from relearn.coach.into_job import asked_of
    from relearn.coach.run import Coaching

    clock = MachineClock()
    job = asked_of(folder, relearn, by, book) if folder is not None else None
    chosen = job.sheet if job is not None and sheet is None else chosen_sheet(sheet)
    Coaching.prepare()
    source = Session(opened(adapter), clock, path, wanted(relearn, chosen), Patience(), _told)
    with ThreadPoolExecutor(1) as thread:
        run(source, clock, path, relearn, chosen, job, plain or not sys.stdout.isatty(), thread.submit)


def run(
    source: Source,
    clock: Clock,
    path: Path,
    relearn: str,
    sheet: Sheet,
    job: Into | None,
    as_lines: bool,
    beside: Beside | None = None,
) -> NoReturn:
    """Coach to the end, judge the whole recording, put it into the job; then exit by what was judged last. beside:
    where the idle is judged, as in Coaching; at once without it."""
    from relearn.coach.run import Coaching, at_once
    from relearn.coach.standing import begin

    coaching = Coaching(source, clock, sheet, begin(relearn, clock.now_s()), beside=beside or at_once)
    lost: RelearnError | None = None
    try:
        lost = _coached(coaching, as_lines)
    finally:
        answered = bool(source.status().modules)
        source.close()
    click.echo(f"recorded in {path}")
    code = _judged(path, coaching.standing, sheet, job, answered)
    if lost is not None:
        click.echo(f"relearn: {lost}", err=True)
    sys.exit(code if lost is None else LOST)


def _coached(coaching: Coaching, as_lines: bool) -> RelearnError | None:
    """What ended it early, if anything did; its recording is judged all the same."""
    from relearn.cli.stopping import Stopping

    with Stopping() as stopping:
        try:
            (_lines if as_lines else _screen)(coaching, stopping)
        except RelearnError as wrong:
            return wrong
    return None


def _lines(coaching: Coaching, stopping: Stopping) -> None:
    """Lines out, and in what is typed. Where nobody sits at a keyboard it ends by itself once all is done."""
    from relearn.coach.plain import Lines, tell

    typed = Lines(sys.stdin)
    coaching.keys = lambda: _or_end(typed(), stopping)
    tell(coaching, sys.stdout, stays=sys.stdin.isatty(), bells=sys.stdout.isatty())


def _screen(coaching: Coaching, stopping: Stopping) -> None:
    from relearn.coach.screen import coached

    coached(coaching, lambda keys: _or_end(keys, stopping))


def _or_end(keys: Iterable[Key], stopping: Stopping) -> list[Key]:
    """What the person said, and the end where the program was asked to end."""
    from relearn.coach.standing import End

    return [*keys, *([End()] if stopping.asked else [])]


def _nobody() -> int:
    click.echo(
        "CANNOT TELL  no module answered, so there is nothing to judge: see that the ignition is on, the connector "
        "seated and the bitrate right, then start again"
    )
    return EXIT["cannot tell"]


def _judged(path: Path, standing: Standing, sheet: Sheet, job: Into | None, answered: bool) -> int:
    """The last word on the whole recording; put into the job where there is one."""
    from relearn.coach.final import ended
    from relearn.coach.into_job import into_job
    from relearn.recording import read
    from relearn.report.words import plain

    try:
        recording = read(path)
    except CaptureError:
        if answered:
            raise
        return _nobody()
    said = ended(recording, standing, sheet)
    for line in (*said.lines, *(into_job(job, path, standing) if job is not None else ())):
        click.echo(plain(line))
    return EXIT[said.outcome.value]


def free_name(relearn: str, now: datetime) -> Path:
    """'RELEARN-20260518-100800.log' in the current folder; the recording refuses a name that is taken."""
    return Path(f"{relearn}-{now:%Y%m%d-%H%M%S}.log")


def _told(notice: Notice) -> None:
    """Nothing here: the advice shows a module that stops or comes back, and carries the other notices."""
