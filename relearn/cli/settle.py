"""`relearn settle`."""

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
@click.option(
    "--target",
    "target_rpm",
    type=click.FloatRange(min=0, min_open=True),
    metavar="RPM",
    help="Target idle speed; comes before the sheet's.",
)
@click.option(
    "--tolerance",
    "tolerance_rpm",
    type=click.FloatRange(min=0, min_open=True),
    metavar="RPM",
    help="Allowed either way; without it, the sheet's.",
)
@database_options
@module_option
@json_option
def settle(
    file: Path,
    sheet: str | None,
    target_rpm: float | None,
    tolerance_rpm: float | None,
    database: Path | None,
    mapping: Path | None,
    module: str | None,
    as_json: bool,
) -> None:
    """Did the idle settle? Exits 0 yes, 1 no, 3 cannot tell."""
    from relearn.analysis.settle import settle as make
    from relearn.procedures.sheets import given_instead

    chosen = chosen_sheet(sheet)
    for key, value in (("idle.target_rpm", target_rpm), ("idle.tolerance_rpm", tolerance_rpm)):
        chosen = given_instead(chosen, key, value, "given on the command line") if value is not None else chosen
    tell(make(recording(file, database, mapping), chosen, module), as_json)
