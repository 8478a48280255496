"""`relearn ready`."""

from __future__ import annotations

import click

from relearn.cli.shared import Asked, judging, tell


@click.command()
@click.option(
    "--for",
    "relearn",
    required=True,
    metavar="RELEARN",
    help="accelerator-closed-position, throttle-closed-position or idle-air-volume.",
)
@judging
def ready(asked: Asked, relearn: str) -> None:
    """Is the car ready for this relearn at the end of the capture? Exits 0 yes, 1 no, 3 cannot tell."""
    from relearn.analysis.ready import ready as make

    tell(make(asked.recording(), relearn, asked.chosen_sheet(), asked.module), asked.as_json)
