"""`relearn job start|next|add|confirm|status|report|verify`."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import click

from relearn.cli.report import judge_and_write, pdf_options
from relearn.cli.shared import EXIT, FILE, Command, file_argument, json_option, show_document, tell
from relearn.errors import JobError

if TYPE_CHECKING:
    from relearn.jobs.record import Head, Role
    from relearn.jobs.work import Work
    from relearn.report.pdf import Paper

ROLES = ("before", "write", "ready", "steps", "after")

Made = TypeVar("Made")


@click.group()
def job() -> None:
    """A job in a folder of its own, with a record that is only ever added to.

    `next` says the one thing to do now; `add` and `confirm` write down what was done. `status`, `report` and `add` exit
    with 0 yes, 1 no, 3 cannot tell; 2 is also a step refused in its order, with the reason.
    """


def folder_option(command: Command) -> Command:
    return click.option(
        "--folder",
        type=FILE,
        default=Path(),
        metavar="FOLDER",
        help="The job's folder; without it, the one you are in.",
    )(command)


def book_option(command: Command) -> Command:
    return click.option(
        "--book",
        type=FILE,
        envvar="RELEARN_BOOK",
        metavar="FILE",
        help="The job book; without it RELEARN_BOOK, or the one in your data folder.",
    )(command)


def anyway_option(command: Command) -> Command:
    return click.option(
        "--anyway",
        metavar="REASON",
        help="Go on although the order or a precondition is against it; the report shows why.",
    )(command)


@job.command()
@click.argument("folder", type=FILE)
@click.option(
    "--after", "events", multiple=True, required=True, metavar="EVENT", help="What was done; see relearn plan."
)
@click.option("--sheet", metavar="SHEET", help="Vehicle sheet, copied in; or a packaged one by name (demo-car).")
@click.option("--vin", metavar="VIN", help="Whose job this is; captures that read another one are refused.")
@click.option("--expect", "expected", metavar="ID", help="The calibration that was ordered.")
@click.option("--module", metavar="ID", help="The module to judge, such as 7E8.")
@click.option("--title", metavar="TEXT", help="What the report is headed with.")
@click.option("--workshop", metavar="NAME", default="")
@click.option("--by", "technician", metavar="TECHNICIAN", default="")
@click.option("--customer", metavar="NAME", default="")
@click.option("--vehicle", metavar="TEXT", default="")
@click.option("--order", metavar="TEXT", default="")
@book_option
def start(
    folder: Path,
    events: tuple[str, ...],
    sheet: str | None,
    vin: str | None,
    expected: str | None,
    module: str | None,
    title: str | None,
    book: Path | None,
    **people: str,
) -> None:
    """Make a job folder: job.toml, to be read and edited, and its record. Nothing is written over."""
    from relearn.jobs.begin import begin

    work = begin(folder, events, sheet=sheet, vin=vin, expected=expected, module=module, title=title, people=people)
    _said(work)
    _remember(work, book)
    click.echo(f"started in {folder}")
    _tell_next(work)


@job.command("next")
@folder_option
@book_option
@json_option
def next_(folder: Path, book: Path | None, as_json: bool) -> None:
    """The one thing to do now, and what must hold."""
    from relearn.jobs.next import next_thing

    show_document(_looked_at(folder, book, next_thing), as_json)


@job.command()
@file_argument("capture")
@click.option("--as", "role", type=click.Choice(ROLES), required=True, help="What the capture was taken for.")
@click.option("--relearn", metavar="RELEARN", help="The relearn it belongs to, with ready and steps; or after-write.")
@click.option("--by", metavar="NAME", default="", help="Who took it; without it, the job's technician.")
@anyway_option
@folder_option
@book_option
@json_option
def add(
    capture: Path,
    role: Role,
    relearn: str | None,
    by: str,
    anyway: str | None,
    folder: Path,
    book: Path | None,
    as_json: bool,
) -> None:
    """Copy a capture in, run its checks, and write the verdict down. A second try is kept beside the first."""
    from relearn.jobs.folder import opened
    from relearn.jobs.status import added
    from relearn.jobs.work import add as add_capture

    with opened(folder) as held:
        work, line = add_capture(held, capture, role, relearn, by, anyway)
        _said(work)
        _remember(work, book)
    show_document(added(work, line), as_json)
    sys.exit(EXIT[line.verdict or "yes"])


@job.command()
@click.argument("items", nargs=-1, required=True, metavar="ITEM…")
@click.option("--by", required=True, metavar="NAME", help="Who saw it.")
@click.option("--note", default="", metavar="TEXT")
@anyway_option
@folder_option
@book_option
def confirm(items: tuple[str, ...], by: str, note: str, anyway: str | None, folder: Path, book: Path | None) -> None:
    """Write down what was seen by eye: items that `next` names, a relearn as a whole, or after-write."""
    from relearn.jobs.folder import opened
    from relearn.jobs.work import confirm as write_down

    with opened(folder) as held:
        work = write_down(held, items, by, note, anyway)
        _said(work)
        _remember(work, book)
    click.echo(f"confirmed by {by}: {', '.join(items)}")
    _tell_next(work)


@job.command()
@folder_option
@book_option
@json_option
def status(folder: Path, book: Path | None, as_json: bool) -> None:
    """The whole plan with where it stands. Exits 0 yes, 1 no, 3 cannot tell (yet)."""
    from relearn.jobs.status import status as make

    tell(_looked_at(folder, book, make), as_json)


@job.command()
@pdf_options
@click.option("--out", type=FILE, metavar="FILE", help="Where the page goes; without it, report.html in the folder.")
@folder_option
@book_option
@json_option
def report(out: Path | None, pdf: Path | None, paper: Paper, folder: Path, book: Path | None, as_json: bool) -> None:
    """Judge the whole job and write it as one page, as `relearn report` does. Exits 0 yes, 1 no, 3 cannot tell."""
    from relearn.jobs.status import report as make

    judge_and_write(lambda: _looked_at(folder, book, make), out or _free_page(folder), pdf, paper, as_json)


@job.command()
@folder_option
@book_option
@json_option
def verify(folder: Path, book: Path | None, as_json: bool) -> None:
    """Find every line and file that was changed, removed or reordered. Exits 0 when all is as written, 1 if not."""
    from relearn.jobs.verify import verify as make

    tell(make(folder, _known_head(folder, book)), as_json)


def _free_page(folder: Path) -> Path:
    """report.html, or report-2.html and so on: the reports before stay."""
    names = ("report", *(f"report-{number}" for number in range(2, 10_000)))
    free = (folder / f"{name}.html" for name in names)
    return next(page for page in free if not page.exists() and not page.with_suffix(".json").exists())


def _looked_at(folder: Path, book: Path | None, make: Callable[[Work], Made]) -> Made:
    from relearn.jobs.folder import opened
    from relearn.jobs.work import look

    with opened(folder) as held:
        work = look(held)
        _said(work)
        _remember(work, book)
        return make(work)


def _tell_next(work: Work) -> None:
    from relearn.jobs.next import next_thing

    click.echo(f"next: {next_thing(work).remedy}")


def _said(work: Work) -> None:
    """What had to be done after a command that was stopped."""
    _warn(work.opened.said)


def _remember(work: Work, book: Path | None) -> None:
    """Keep the job book current. A book that cannot be used stops no job: it is said, and can be made anew."""
    from relearn.jobs.book import usual_path
    from relearn.jobs.entry import remember

    try:
        remember(book or usual_path(), work)
    except JobError as wrong:
        _warn([str(wrong)])


def _known_head(folder: Path, book: Path | None) -> Head | None:
    """How far the job book saw this record go; a book that cannot be used is said, and nothing is known."""
    from relearn.jobs.book import known_head, usual_path
    from relearn.jobs.verify import job_of

    name = job_of(folder)
    try:
        return known_head(book or usual_path(), name) if name is not None else None
    except JobError as wrong:
        _warn([str(wrong)])
        return None


def _warn(sentences: Iterable[str]) -> None:
    for sentence in sentences:
        click.echo(f"relearn: {sentence}", err=True)
