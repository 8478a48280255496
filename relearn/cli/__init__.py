"""The command line: parse, call, print. One file for each command; each is imported only when it is used."""

from __future__ import annotations

import importlib
import io
import logging
import os
import sys
from collections.abc import Mapping
from typing import Any, NoReturn

import click

from relearn import __version__

COMMANDS: Mapping[str, str] = {
    "plan": "which relearns a job needs, in order, with what to have ready",
    "show": "what a capture holds",
    "ready": "is the car ready for a relearn at the end of a capture",
    "steps": "were the steps of a relearn done, in time",
    "settle": "did the idle settle",
    "supply": "was the supply held while programming",
    "identity": "same car, new calibration, the ordered one",
    "air": "does the engine breathe as it meters",
    "compare": "the idle of two captures side by side",
    "samples": "every value of a capture as CSV, Parquet or MF4, for other tools",
    "survey": "one question asked of every capture below some folders",
    "answer": "let a capture or a scenario answer on a bus like a car",
    "replay": "put the frames of a capture on a bus as they were",
    "report": "a whole job as one page for the workshop, and as JSON",
    "record": "record a car by asking it, or by listening only",
    "coach": "be advised through a relearn, live, with everything recorded",
    "job": "a job that keeps its own record: start, next, add, confirm, status, report, verify",
    "jobs": "list and search the job book",
    "sheet": "check a vehicle sheet",
    "drill": "train on recordings that stop and ask: make, check, play",
    "screen": "live, replay and scenarios in the browser, and drills for a class",
}


class _Commands(click.Group):
    """Lists commands from COMMANDS and imports one only to run it, so that --help starts at once."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        command = getattr(importlib.import_module(f"relearn.cli.{cmd_name}"), cmd_name)
        return command if isinstance(command, click.Command) else None

    def invoke(self, ctx: click.Context) -> Any:
        """click would end with 1, which is a no."""
        try:
            return super().invoke(ctx)
        except (KeyboardInterrupt, EOFError, click.Abort):
            _end("ended before there was an answer.")

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80})
@click.version_option(__version__, prog_name="relearn")
def group() -> None:
    """Judge engine relearns from recorded standard OBD-II data.

    What must be relearned, in what order? Is the car ready now? Did the idle settle? Every judging command exits with
    0 yes, 1 no, 3 cannot tell, and 2 for bad usage or a file that cannot be used. relearn only reads; it never changes
    anything in a car. Mind the cautions that plan and report show, and the vehicle's service information.
    """


def main() -> None:
    """The console script. Whatever ends a command early is one sentence on stderr and exit code 2: a crash must never
    look like the 1 of a no."""
    from relearn.errors import RelearnError

    _any_terminal()
    try:
        group()
    except RelearnError as wrong:
        _end(str(wrong))
    except OSError as wrong:
        _end(f"{wrong.filename or 'a file'}: {(wrong.strerror or str(wrong)).lower()}; check the name and the disk.")
    except Exception as wrong:
        if "RELEARN_TRACE" in os.environ:
            raise
        _end(f"this input was not foreseen ({type(wrong).__name__}: {wrong}); set RELEARN_TRACE=1 and report it.")


def _end(sentence: str) -> NoReturn:
    from relearn.report.words import plain

    print(f"relearn: {plain(sentence)}", file=sys.stderr)
    sys.exit(2)


def _any_terminal() -> None:
    """What a terminal cannot show becomes a question mark; what libraries log is no part of the answer."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    logging.getLogger().addHandler(logging.NullHandler())
