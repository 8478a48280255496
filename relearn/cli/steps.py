"""`relearn steps`."""

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
@click.option(
    "--for",
    "relearn",
    required=True,
    metavar="RELEARN",
    help="accelerator-closed-position, throttle-closed-position, idle-air-volume, or after-write for the wait after a "
    "module was written.",
)
@sheet_option
@database_options
@module_option
@json_option
def steps(
    file: Path,
    relearn: str,
    sheet: str | None,
    database: Path | None,
    mapping: Path | None,
    module: str | None,
    as_json: bool,
) -> None:
    """Were the steps of this relearn done, in order and in time? Exits 0 yes, 1 no, 3 cannot tell."""
    from relearn.analysis.steps import steps as make

    tell(make(recording(file, database, mapping), relearn, chosen_sheet(sheet), module), as_json)
