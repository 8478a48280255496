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
    from relearn.procedures.sheets import given_instead

    chosen = asked.chosen_sheet()
    for key, value in (("idle.target_rpm", target_rpm), ("idle.tolerance_rpm", tolerance_rpm)):
        chosen = given_instead(chosen, key, value, "given on the command line") if value is not None else chosen
    tell(make(asked.recording(), chosen, asked.module), asked.as_json)
