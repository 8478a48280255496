"""`relearn identity`."""

from __future__ import annotations

from pathlib import Path

import click

from relearn.cli.shared import file_argument, json_option, module_option, recording, tell
from relearn.errors import ChoiceError


@click.command()
@file_argument("before")
@file_argument("after")
@click.option("--expect", "expected", metavar="ID", help="The calibration that was ordered.")
@module_option
@json_option
def identity(before: Path, after: Path, expected: str | None, module: str | None, as_json: bool) -> None:
    """Same car, new calibration, the ordered one? Exits 0 yes, 1 no, 3 cannot tell."""
    from relearn.analysis.identity import identity as make

    if expected is not None and not expected.strip():
        raise ChoiceError("--expect is blank", remedy="give the calibration that was ordered, or leave it out")
    tell(make(recording(before), recording(after), expected, module), as_json)
