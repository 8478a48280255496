"""`relearn settle`."""

from __future__ import annotations

import click

from relearn.cli.shared import Asked, judging, tell


@click.command()
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
@judging
def settle(asked: Asked, target_rpm: float | None, tolerance_rpm: float | None) -> None:
    """Did the idle settle? Exits 0 yes, 1 no, 3 cannot tell."""
    from relearn.analysis.settle import settle as make
    from relearn.procedures.sheets import with_target

    chosen = with_target(asked.chosen_sheet(), target_rpm, tolerance_rpm, "given on the command line")
    tell(make(asked.recording(), chosen, asked.module), asked.as_json)
