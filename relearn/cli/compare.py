"""`relearn compare`."""

from __future__ import annotations

from pathlib import Path

import click

from relearn.cli.shared import chosen_sheet, file_argument, json_option, module_option, recording, sheet_option, tell


@click.command()
@file_argument("before")
@file_argument("after")
@sheet_option
@module_option
@json_option
def compare(before: Path, after: Path, sheet: str | None, module: str | None, as_json: bool) -> None:
    """The idle of two captures side by side, and what changed by more than its spread. Judges nothing."""
    from relearn.analysis.compare import compare as make

    tell(make(recording(before), recording(after), chosen_sheet(sheet), module), as_json)
