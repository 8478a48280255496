"""`relearn air`."""

from __future__ import annotations

from pathlib import Path

import click

from relearn.cli.shared import (
    chosen_sheet,
    database_options,
    file_argument,
    json_option,
    module_option,
    recording,
    sheet_option,
    tell,
)


@click.command()
@file_argument("file")
@sheet_option
@database_options
@module_option
@json_option
def air(
    file: Path, sheet: str | None, database: Path | None, mapping: Path | None, module: str | None, as_json: bool
) -> None:
    """Does the engine breathe as it meters, before anyone relearns around a fault? Exits 0 yes, 1 no, 3 cannot tell."""
    from relearn.analysis.air import air as make

    tell(make(recording(file, database, mapping), chosen_sheet(sheet), module), as_json)
