"""`relearn plan`."""

from __future__ import annotations

import click

from relearn.cli.shared import chosen_sheet, json_option, sheet_option, tell


@click.command()
@click.option(
    "--after",
    "events",
    multiple=True,
    required=True,
    metavar="EVENT",
    help="What was done: reprogrammed, module-replaced, throttle-body-cleaned, throttle-body-replaced, "
    "pedal-replaced, battery-disconnected or intake-leak-repaired. May be given several times.",
)
@sheet_option
@json_option
def plan(events: tuple[str, ...], sheet: str | None, as_json: bool) -> None:
    """Which relearns the job needs, in order; what to have ready, what to hold, and what to do when it goes wrong."""
    from relearn.analysis.plan import plan as make

    tell(make(events, chosen_sheet(sheet)), as_json)
