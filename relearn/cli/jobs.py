"""`relearn jobs` and `relearn jobs rebuild`."""

from __future__ import annotations

import csv
import io
from dataclasses import fields
from datetime import datetime
from operator import attrgetter
from pathlib import Path
from typing import TYPE_CHECKING

import click

from relearn.cli.job import book_option
from relearn.cli.shared import EXIT, FILE, json_option, show_document
from relearn.errors import ChoiceError

if TYPE_CHECKING:
    from relearn.findings.record import BookRow


@click.group(invoke_without_command=True)
@click.option("--vin", metavar="TEXT", help="Jobs whose VIN has this in it.")
@click.option("--since", metavar="DATE", help="Jobs started on this day or later: 2026-05-18, or with a time.")
@click.option("--workshop", metavar="TEXT", help="Jobs of a workshop with this in its name.")
@click.option("--verdict", type=click.Choice(tuple(EXIT)), help="Jobs that stand like this.")
@click.option("--csv", "as_csv", is_flag=True, help="Print a table of comma-separated values and nothing else.")
@json_option
@book_option
@click.pass_context
def jobs(
    context: click.Context,
    vin: str | None,
    since: str | None,
    workshop: str | None,
    verdict: str | None,
    as_csv: bool,
    as_json: bool,
    book: Path | None,
) -> None:
    """List and search the job book: every job that was worked on, newest first."""
    from relearn.jobs.book import Wanted, listed, usual_path

    path = book or usual_path()
    context.obj = path
    if context.invoked_subcommand is not None:
        return
    if as_csv and as_json:
        raise ChoiceError("--csv and --json exclude each other", remedy="choose one")
    rows = listed(path, Wanted(vin, _moment(since), workshop, verdict))
    if as_csv:
        click.echo(_csv(rows), nl=False)
        return
    from relearn.findings.record import JobsFindings

    show_document(JobsFindings(book=str(path), jobs=rows), as_json)


@jobs.command()
@click.argument("folders", nargs=-1, required=True, type=FILE, metavar="FOLDER…")
@click.option("--book", type=FILE, metavar="FILE", help="The job book, here or before `rebuild`.")
@click.pass_obj
def rebuild(path: Path, folders: tuple[Path, ...], book: Path | None) -> None:
    """Make the job book anew from the job folders in these folders alone. The old one is kept beside it."""
    from relearn.jobs.entry import rebuild as make

    rows, said = make(book or path, folders)
    for sentence in said:
        click.echo(f"relearn: {sentence}", err=True)
    click.echo(f"{len(rows)} jobs are in {book or path}")


def _moment(text: str | None) -> datetime | None:
    """A day or a time as ISO 8601 has it; without a zone, this computer's."""
    if text is None:
        return None
    try:
        return datetime.fromisoformat(text).astimezone()
    except (ValueError, OverflowError, OSError):
        raise ChoiceError(f"--since {text} is no date", remedy="write it like 2026-05-18") from None


def _csv(rows: tuple[BookRow, ...]) -> str:
    """A header, then one row for each job; the columns of the JSON."""
    from relearn.findings.record import BookRow

    text = io.StringIO()
    names = [one.name for one in fields(BookRow)]
    made = csv.writer(text, lineterminator="\n")
    made.writerow(names)
    made.writerows(map(attrgetter(*names), rows))
    return text.getvalue()
