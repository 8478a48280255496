"""`relearn supply`."""

from __future__ import annotations

import click

from relearn.cli.shared import Asked, judging, tell


@click.command()
@click.option("--low", "low_v", type=float, metavar="V", help="Lowest allowed; otherwise the sheet's (generic 12.0).")
@click.option(
    "--high", "high_v", type=float, metavar="V", help="Highest allowed; otherwise the sheet's (generic 13.5)."
)
@judging
def supply(asked: Asked, low_v: float | None, high_v: float | None) -> None:
    """Was the supply held? From a capture or a meter's CSV log. Exits 0 yes, 1 no, 3 cannot tell."""
    from relearn.analysis.supply import supply as make

    tell(make(asked.recording(), asked.chosen_sheet(), low_v, high_v, asked.module), asked.as_json)
