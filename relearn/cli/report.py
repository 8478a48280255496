"""`relearn report`."""

from __future__ import annotations

from pathlib import Path

import click

from relearn.cli.shared import FILE, file_argument, json_option, tell
from relearn.errors import ChoiceError


@click.command()
@file_argument("job")
@click.option(
    "--out",
    type=FILE,
    metavar="FILE",
    help="Where the page goes; default: the job file's name with .html. The "
    "same findings go beside it as .json. Neither may exist.",
)
@json_option
def report(job: Path, out: Path | None, as_json: bool) -> None:
    """Judge a whole job and write it as one page for the workshop. Exits 0 yes, 1 no, 3 cannot tell."""
    from relearn.analysis.job import job as judge
    from relearn.findings import to_json
    from relearn.report.html import html_page

    page = out or job.with_suffix(".html")
    data = page.with_suffix(".json")
    for path in (page, data):
        refuse_to_overwrite(path)
    document = judge(job)
    write_new(page, html_page(document))
    write_new(data, to_json(document))
    if not as_json:
        click.echo(f"wrote {page} and {data}")
    tell(document, as_json)


def refuse_to_overwrite(path: Path) -> None:
    if path.exists():
        raise ChoiceError("this file exists, and nothing is written over", path=path, todo="name another with --out")


def write_new(path: Path, text: str) -> None:
    """Write a file that must not exist yet."""
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(text)
    except OSError as wrong:
        raise ChoiceError(f"this file cannot be written ({wrong.strerror})", path=path, todo="name another") from None
