"""`relearn survey`."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext
from functools import partial
from itertools import count
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING

import click

from relearn.cli.shared import FILE, chosen_sheet, database_options, json_option, module_option, sheet_option, tell
from relearn.cli.stopping import Heard, asked_to_end
from relearn.errors import ChoiceError

if TYPE_CHECKING:
    from relearn.findings.survey import SurveyFindings
    from relearn.survey.columns import Row
    from relearn.survey.find import Listing
    from relearn.survey.questions import Asked
    from relearn.survey.run import Crew

ASKED = ("ready", "steps", "settle", "supply", "identity", "air")


@click.command()
@click.argument("folders", nargs=-1, required=True, type=FILE, metavar="FOLDER…")
@click.option("--for", "question", required=True, type=click.Choice(ASKED), help="What every capture is asked.")
@click.option("--relearn", metavar="RELEARN", help="For ready and steps: the relearn that is meant.")
@sheet_option
@database_options
@module_option
@click.option(
    "--out",
    type=FILE,
    metavar="FILE",
    help="The rows, as .csv or .parquet. Rows that are in it already for the same content and version are kept.",
)
@click.option("--picture", type=FILE, metavar="FILE", help="The distributions, as .svg or .png. It may not exist.")
@click.option("--workers", type=click.IntRange(1, 61), metavar="N", help="Processes; without it, one for each core.")
@click.option(
    "--scheduler",
    metavar="ADDRESS",
    help="Judge on the workers of this Dask scheduler, which must see all files under the same path.",
)
@json_option
def survey(
    folders: tuple[Path, ...],
    question: str,
    relearn: str | None,
    sheet: str | None,
    database: Path | None,
    mapping: Path | None,
    module: str | None,
    out: Path | None,
    picture: Path | None,
    workers: int | None,
    scheduler: str | None,
    as_json: bool,
) -> None:
    """Ask one question of every capture below some folders. Exits with 0 when it ran.

    One row each: verdict, reason, key numbers, worst margin. A file that cannot be read is a row too. identity shows
    who each capture says the module is, and whether that could be read. Ctrl-C keeps what was done, with --out. One
    FILE holds the rows of one question, asked with one sheet and the same options.
    """
    with stoppable(out) as tally:
        from relearn.survey.find import shown
        from relearn.survey.questions import asked as ask
        from relearn.survey.run import survey as run
        from relearn.survey.summary import summary

        asked = ask(question, relearn, chosen_sheet(sheet), database, mapping, module)
        crew = _crew(asked, workers, scheduler)
        _check(out, picture)
        listing = _found(folders, out)
        with _progress(len(listing.captures), tally), _alone(out):
            rows = run(listing.captures, asked, crew, out, tally)
        table = shown(out) if out is not None else None
        document = summary(rows, asked, list(map(shown, folders)), tally.kept, table, listing.notes)
        if picture is not None:
            _draw(document, picture)
    tell(document, as_json)


def _alone(out: Path | None) -> AbstractContextManager[None]:
    """Nobody else writes the table meanwhile."""
    from relearn.survey.table import alone

    return alone(out) if out is not None else nullcontext()


def _draw(document: SurveyFindings, path: Path) -> None:
    from relearn.cli.report import write_new
    from relearn.report.survey_plot import picture

    write_new(path, picture(document, path.suffix))


def _found(folders: tuple[Path, ...], out: Path | None) -> Listing:
    from relearn.survey.find import captures_below, shown

    listing = captures_below(folders, [out] if out is not None else [])
    if not listing.captures:
        raise ChoiceError(
            "no capture was found", path=", ".join(map(shown, folders)), remedy="name a folder with captures below it"
        )
    return listing


def _crew(asked: Asked, workers: int | None, scheduler: str | None) -> Crew:
    """Who judges: processes here, or a cluster."""
    if scheduler is None:
        from relearn.survey import pool

        return partial(pool.judged, asked=asked, workers=workers or pool.usual_workers())
    if workers is not None:
        raise ChoiceError(
            "--workers and --scheduler exclude each other", remedy="the cluster has as many workers as it was given"
        )
    from relearn.survey import cluster

    return partial(cluster.judged, asked=asked, address=scheduler)


def _check(out: Path | None, picture: Path | None) -> None:
    """What cannot be written is said before anything is judged."""
    if out is not None:
        from relearn.survey.table import check

        check(out)
    if picture is not None:
        from relearn.report.survey_plot import check as check_picture

        check_picture(picture)


class _Tally:
    """How many rows there are, of how many, and how many of them were there before."""

    def __init__(self) -> None:
        self.done, self.total, self.kept = 0, 0, 0
        self.moved: Callable[[], object] = int

    def __call__(self, row: Row, was_there: bool) -> None:
        self.done, self.kept = self.done + 1, self.kept + was_there
        self.moved()


@contextmanager
def _progress(total: int, tally: _Tally) -> Iterator[None]:
    """A bar on stderr, where that is a terminal."""
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TimeRemainingColumn

    parts = (BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    bar = Progress(*parts, console=Console(stderr=True), transient=True, disable=not sys.stderr.isatty())
    tally.total = total
    tally.moved = partial(bar.advance, bar.add_task("", total=total))
    with bar:
        yield


@contextmanager
def stoppable(out: Path | None) -> Iterator[_Tally]:
    """Ctrl-C, and whatever else asks a program to end, is one sentence and exit code 2, since nothing was answered."""
    tally = _Tally()
    with asked_to_end(_once()) as ending:
        try:
            yield tally
        except KeyboardInterrupt:
            ending()
            click.echo(f"relearn: {_interrupted(tally, out)}.", err=True)
            sys.exit(2)


def _once() -> Heard:
    """Asked twice, once is enough: a second KeyboardInterrupt would end the saving of what was done."""
    times = count()

    def heard(number: int, frame: FrameType | None) -> None:
        if next(times) == 0:
            raise KeyboardInterrupt

    return heard


def _interrupted(tally: _Tally, out: Path | None) -> str:
    if not tally.done:
        return "interrupted before any capture was judged"
    kept = f"what was done is kept in {out}" if out is not None else "nothing is kept without --out"
    return f"interrupted after {tally.done} of {tally.total} captures; {kept}"
