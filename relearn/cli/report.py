"""`relearn report`."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import click

from relearn.cli.shared import FILE, Command, file_argument, json_option, tell
from relearn.errors import ChoiceError

if TYPE_CHECKING:
    from relearn.findings.job import JobFindings
    from relearn.report.pdf import Paper


def pdf_options(command: Command) -> Command:
    """--pdf and --paper, for every command that prints a job."""
    command = click.option(
        "--paper",
        type=click.Choice(["a4", "letter"]),
        default="a4",
        show_default=True,
        help="The paper that --pdf is made for.",
    )(command)
    return click.option(
        "--pdf", type=FILE, metavar="FILE", help="Also print one or two pages for the hand-over. It may not exist."
    )(command)


@click.command()
@file_argument("job")
@click.option(
    "--out",
    type=FILE,
    metavar="FILE",
    help="Where the page goes; default: the job file's name with .html. The "
    "same findings go beside it as .json. Neither may exist.",
)
@pdf_options
@json_option
def report(job: Path, out: Path | None, pdf: Path | None, paper: Paper, as_json: bool) -> None:
    """Judge a whole job and write it as one page for the workshop. Exits 0 yes, 1 no, 3 cannot tell."""
    from relearn.analysis.job import job as judge

    judge_and_write(lambda: judge(job), out or job.parent / f"{job.stem}.html", pdf, paper, as_json)


def judge_and_write(
    judge: Callable[[], JobFindings], page: Path, pdf: Path | None, paper: Paper, as_json: bool
) -> NoReturn:
    """The page, its findings beside it and the print, none over a file that is there; ends with the verdict's code."""
    from relearn.findings.base import to_json
    from relearn.report.html import html_page

    if not page.name or page.is_dir():
        raise ChoiceError("this is a folder", path=page, remedy="name a file for the page")
    data = page.with_suffix(".json")
    wanted = [path for path in (page, data, pdf) if path is not None]
    refuse_same_names(wanted)
    for path in wanted:
        refuse_to_overwrite(path)
    document = judge()
    made: list[str | bytes] = [html_page(document), to_json(document)]
    made += [printed(document, paper)] if pdf is not None else []
    for path, content in zip(wanted, made, strict=True):
        write_new(path, content)
    if not as_json:
        click.echo(f"wrote {', '.join(map(str, wanted[:-1]))} and {wanted[-1]}")
    tell(document, as_json)


def printed(document: JobFindings, paper: Paper) -> bytes:
    """The print of a job, as the bytes of a PDF."""
    from relearn.report.pdf import pdf_page

    return pdf_page(document, paper)


def refuse_same_names(paths: Sequence[Path]) -> None:
    """Two of the files to be written would be one."""
    twice = next((path for path in paths if paths.count(path) > 1), None)
    if twice is not None:
        raise ChoiceError("two of the files to be written have this name", path=twice, remedy="name another")


def refuse_to_overwrite(path: Path) -> None:
    if path.exists():
        raise ChoiceError(
            "this file exists, and nothing is written over", path=path, remedy="name another with --out or --pdf"
        )


def write_new(path: Path, content: str | bytes) -> None:
    """Write a file that must not exist yet, text as UTF-8."""
    try:
        with path.open("xb") as file:
            file.write(content if isinstance(content, bytes) else content.encode("utf-8"))
    except OSError as wrong:
        raise ChoiceError(f"this file cannot be written ({wrong.strerror})", path=path, remedy="name another") from None
