"""`relearn samples`."""

from __future__ import annotations

from pathlib import Path

import click

from relearn.cli.shared import FILE, database_options, file_argument, recording


@click.command()
@file_argument("file")
@click.option(
    "--out", type=FILE, required=True, metavar="FILE", help="The new file, .csv, .parquet or .mf4. It may not exist."
)
@database_options
def samples(file: Path, out: Path, database: Path | None, mapping: Path | None) -> None:
    """Every decoded value of a capture with its unit, for other tools. Judges nothing."""
    from relearn.export import check, write

    check(out)
    found = recording(file, database, mapping)
    write(found, out)
    click.echo(f"wrote {len(found.table)} samples of {', '.join(found.modules)} to {out}")
