"""`relearn survey`."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from relearn.cli.shared import FILE, chosen_sheet, json_option, sheet_option, tell
from relearn.errors import ChoiceError

if TYPE_CHECKING:
    from relearn.survey.columns import Row
    from relearn.survey.questions import Asked
    from relearn.survey.run import Crew

ASKED = ("ready", "steps", "settle", "supply", "identity", "air")


@click.command()
@click.argument("folders", nargs=-1, required=True, type=FILE, metavar="FOLDER…")
@click.option("--for", "question", required=True, type=click.Choice(ASKED), help="What every capture is asked.")
@click.option("--relearn", metavar="RELEARN", help="For ready and steps: the relearn that is meant.")
@sheet_option
@click.option(
    "--out",
    type=FILE,
    metavar="FILE",
    help="The rows, as .csv or .parquet. Rows that are in it already for the same content, sheet and version are kept.",
)
@click.option("--picture", type=FILE, metavar="FILE", help="The distributions, as .svg or .png. It may not exist.")
@click.option("--workers", type=click.IntRange(1, 61), metavar="N", help="Processes; without it, one for each core.")
@click.option(
    "--scheduler",
    metavar="ADDRESS",
    help="Judge on the workers of this Dask scheduler, which must see the files under the same path.",
)
@json_option
def survey(
    folders: tuple[Path, ...],
    question: str,
    relearn: str | None,
    sheet: str | None,
    out: Path | None,
    picture: Path | None,
    workers: int | None,
    scheduler: str | None,
    as_json: bool,
) -> None:
    """Ask one question of every capture below some folders. Exits with 0 when it ran.

    One row each: verdict, reason, key numbers, worst margin. A file that cannot be read is a row too. identity shows
    who each capture says the module is, and whether that could be read. Ctrl-C keeps what was done, with --out.
    """
    from relearn.survey.find import captures_below, shown
    from relearn.survey.questions import asked as ask
    from relearn.survey.run import survey as run
    from relearn.survey.summary import summary

    asked = ask(question, relearn, chosen_sheet(sheet))
    crew = _crew(asked, workers, scheduler)
    _check(out, picture)
    listing = captures_below(folders, [out] if out is not None else [])
    if not listing.captures:
        raise ChoiceError(
            "no capture was found", path=", ".join(map(shown, folders)), remedy="name a folder with captures below it"
        )
    with _progress(len(listing.captures), out) as tally:
        rows = run(listing.captures, asked, crew, out, tally)
    table = shown(out) if out is not None else None
    document = summary(rows, asked, list(map(shown, folders)), tally.kept, table, listing.notes)
    if picture is not None:
        from relearn.cli.report import write_new
        from relearn.report.survey_plot import picture as draw

        write_new(picture, draw(document, picture.suffix))
    tell(document, as_json)


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
    """How many rows there are, and how many of them were there before."""

    def __init__(self, moved: Callable[[], object]) -> None:
        self.done, self.kept, self.moved = 0, 0, moved

    def __call__(self, row: Row, was_there: bool) -> None:
        self.done, self.kept = self.done + 1, self.kept + was_there
        self.moved()


@contextmanager
def _progress(total: int, out: Path | None) -> Iterator[_Tally]:
    """A bar on stderr, where that is a terminal. Ctrl-C is one sentence and exit code 2, since nothing was answered."""
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TimeRemainingColumn

    parts = (BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    bar = Progress(*parts, console=Console(stderr=True), transient=True, disable=not sys.stderr.isatty())
    task = bar.add_task("", total=total)
    tally = _Tally(partial(bar.advance, task))
    try:
        with bar:
            yield tally
    except KeyboardInterrupt:
        kept = f"what was done is kept in {out}" if out is not None else "nothing is kept without --out"
        click.echo(f"relearn: interrupted after {tally.done} of {total} captures; {kept}.", err=True)
        sys.exit(2)
