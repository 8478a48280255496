"""`relearn supply`."""

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
@click.option("--low", "low_v", type=float, metavar="V", help="Lowest allowed; otherwise the sheet's (generic 12.0).")
@click.option(
    "--high", "high_v", type=float, metavar="V", help="Highest allowed; otherwise the sheet's (generic 13.5)."
)
@sheet_option
@database_options
@module_option
@json_option
def supply(
    file: Path,
    low_v: float | None,
    high_v: float | None,
    sheet: str | None,
    database: Path | None,
    mapping: Path | None,
    module: str | None,
    as_json: bool,
) -> None:
    """Was the supply held? From a capture or a meter's CSV log. Exits 0 yes, 1 no, 3 cannot tell."""
    from relearn.analysis.supply import supply as make

    tell(make(recording(file, database, mapping), chosen_sheet(sheet), low_v, high_v, module), as_json)
