"""`relearn sheet check`."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from relearn.cli.shared import file_argument


@click.group()
def sheet() -> None:
    """Vehicle sheets: a vehicle's own limits, in TOML."""


@sheet.command()
@file_argument("file")
def check(file: Path) -> None:
    """Name every mistake in a sheet with its key. Exits 0 when there is none, 2 when there is one."""
    from relearn.procedures.sheets import check_sheet, sheet_path

    mistakes = check_sheet(sheet_path(str(file)))
    for mistake in mistakes:
        click.echo(mistake, err=True)
    if not mistakes:
        click.echo(f"{file}: no mistake found")
    sys.exit(2 if mistakes else 0)
