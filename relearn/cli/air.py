"""`relearn air`."""

from __future__ import annotations

import click

from relearn.cli.shared import Asked, judging, tell


@click.command()
@judging
def air(asked: Asked) -> None:
    """Does the engine breathe as it meters, before anyone relearns around a fault? Exits 0 yes, 1 no, 3 cannot tell."""
    from relearn.analysis.air import air as make

    tell(make(asked.recording(), asked.chosen_sheet(), asked.module), asked.as_json)
