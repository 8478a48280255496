"""`relearn steps`."""

from __future__ import annotations

import click

from relearn.cli.shared import Asked, judging, tell


@click.command()
@click.option(
    "--for",
    "relearn",
    required=True,
    metavar="RELEARN",
    help="accelerator-closed-position, throttle-closed-position, idle-air-volume, or after-write for the wait after a "
    "module was written.",
)
@judging
def steps(asked: Asked, relearn: str) -> None:
    """Were the steps of this relearn done, in order and in time? Exits 0 yes, 1 no, 3 cannot tell."""
    from relearn.analysis.steps import steps as make

    tell(make(asked.recording(), relearn, asked.chosen_sheet(), asked.module), asked.as_json)
