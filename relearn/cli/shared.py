"""What the commands share: options, reading, printing, and the one map from verdict to exit code."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from dataclasses import dataclass
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any, Concatenate, NoReturn, ParamSpec, TypeVar

import click

if TYPE_CHECKING:
    from relearn.findings.base import Document
    from relearn.procedures.sheets import Sheet
    from relearn.recording import Recording

EXIT = {"yes": 0, "no": 1, "cannot tell": 3}
Command = TypeVar("Command", bound=Callable[..., Any])
P = ParamSpec("P")

FILE = click.Path(path_type=Path)


def file_argument(name: str) -> Callable[[Command], Command]:
    """A capture named on the command line; whether it exists is said by the reader, in its own sentence."""
    return click.argument(name, type=FILE)


def json_option(command: Command) -> Command:
    return click.option("--json", "as_json", is_flag=True, help="Print one JSON document and nothing else.")(command)


def sheet_option(command: Command) -> Command:
    return click.option(
        "--sheet", metavar="SHEET", help="Vehicle sheet: a TOML file, or a packaged one by name (demo-car)."
    )(command)


def module_option(command: Command) -> Command:
    return click.option(
        "--module",
        metavar="ID",
        help="Judge this module (its answer identifier, such as 7E8) instead of the one that answers engine speed.",
    )(command)


def database_options(command: Command) -> Command:
    """--dbc and --map, for broadcast signals and tables."""
    command = click.option("--map", "mapping", type=FILE, help="TOML map of signal or column names to channels.")(
        command
    )
    return click.option("--dbc", "database", type=FILE, help="Signal database: broadcast frames become channels.")(
        command
    )


def recording(path: Path, database: Path | None = None, mapping: Path | None = None) -> Recording:
    """The file, read all the way up to values."""
    from relearn.recording import read

    return read(path, database, mapping)


def chosen_sheet(name: str | None) -> Sheet:
    """The sheet asked for, laid over the generic one; the generic one alone when none was."""
    from relearn.procedures.sheets import generic, load_sheet, sheet_path

    return generic() if name is None else load_sheet(sheet_path(name))


@dataclass(frozen=True)
class Asked:
    """What every judging command is given: a capture, how to read it, and how to judge and tell it."""

    file: Path
    sheet: str | None
    database: Path | None
    mapping: Path | None
    module: str | None
    as_json: bool

    def recording(self) -> Recording:
        """The capture, read all the way up to values."""
        return recording(self.file, self.database, self.mapping)

    def chosen_sheet(self) -> Sheet:
        """The sheet to judge by."""
        return chosen_sheet(self.sheet)


def judging(command: Callable[Concatenate[Asked, P], None]) -> Callable[..., None]:
    """The argument and options of a command that judges one capture; it gets them as its first argument."""

    @file_argument("file")
    @sheet_option
    @database_options
    @module_option
    @json_option
    @wraps(command)
    def asked(
        file: Path,
        sheet: str | None,
        database: Path | None,
        mapping: Path | None,
        module: str | None,
        as_json: bool,
        *args: P.args,
        **others: P.kwargs,
    ) -> None:
        command(Asked(file, sheet, database, mapping, module, as_json), *args, **others)

    return asked


def tell(document: Document, as_json: bool) -> NoReturn:
    """Print the document, then end with the exit code of its verdict (0 for one that judges nothing).

    A reader that stops early (`| head`) changes nothing of the verdict.
    """
    try:
        show_document(document, as_json)
        sys.stdout.flush()
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # so that the flush at exit finds no pipe
    sys.exit(EXIT[getattr(document, "verdict", "yes")])


def show_document(document: Document, as_json: bool) -> None:
    """JSON on stdout and nothing else, or the page for the terminal."""
    from relearn.findings.base import to_json

    if as_json:
        click.echo(to_json(document), nl=False)
        return
    from relearn.report.text import print_document

    print_document(document)
