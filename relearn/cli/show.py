"""`relearn show`."""

from __future__ import annotations

from pathlib import Path

import click

from relearn.cli.shared import database_options, file_argument, json_option, module_option, recording, tell


@click.command()
@file_argument("file")
@database_options
@module_option
@json_option
def show(file: Path, database: Path | None, mapping: Path | None, module: str | None, as_json: bool) -> None:
    """What a capture holds: modules, channels, identity, codes, monitors, faults. Judges nothing."""
    from relearn.analysis.show import show as make

    tell(make(recording(file, database, mapping), module), as_json)
