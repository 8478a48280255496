"""`relearn record`."""

from __future__ import annotations

import shlex
import sys
import textwrap
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from relearn.cli.bus_options import bus_options
from relearn.cli.progress import Progress, state
from relearn.cli.recording_run import Run
from relearn.cli.shared import EXIT, chosen_sheet, database_options, file_argument, sheet_option
from relearn.cli.stopping import Stopping
from relearn.cli.until import READY, SETTLED, Until, fitting, until
from relearn.errors import BusError, ChoiceError, RelearnError

if TYPE_CHECKING:
    from relearn.bus.clock import Clock
    from relearn.bus.source import Notice, Source, Status
    from relearn.bus.wire import AnyBus, Interface
    from relearn.findings.base import Judged
    from relearn.procedures.sheets import Sheet

    Maker = Callable[[AnyBus, Clock, Callable[[Notice], None]], Source]

MIND = ("fans", "hot-engine", "exhaust", "can-move")
FIRST_OF_ALL = ("reads-only", "service-information")
WIDTH = 79


@click.command()
@file_argument("out")
@bus_options
@click.option(
    "--for",
    "relearn",
    metavar="RELEARN",
    help="Ask only for what this relearn is judged by: accelerator-closed-position, throttle-closed-position, "
    "idle-air-volume, or after-write for the wait after a module was written.",
)
@sheet_option
@click.option(
    "--until",
    "text",
    metavar="ready|settled|SECONDS",
    help="End when the car is ready for the relearn, when the idle has settled, or after so many seconds.",
)
@click.option("--listen", is_flag=True, help="Send nothing: record all that is on the bus.")
@database_options
def record(
    out: Path,
    adapter: Interface,
    relearn: str | None,
    sheet: str | None,
    text: str | None,
    listen: bool,
    database: Path | None,
    mapping: Path | None,
) -> None:
    """Record a car into OUT, a new .log file, by asking it as a scan tool does; Ctrl-C ends it.

    Never while a module is being written, except with --listen: a question in the middle can spoil the write. It
    listens first, and asks nothing while another tester does more than read.

    Reads only. Exits 0; with --until ready or settled by how that stands at the end: 0 yes, 1 no, 3 cannot tell. With
    2 where nobody answered or the adapter was lost; what was recorded until then stays, whole.
    """
    from relearn.bus.log import check

    if (database or mapping) and not listen:
        raise ChoiceError("--dbc and --map read what is broadcast, and that is only listened to", remedy="add --listen")
    if mapping and not database:
        raise ChoiceError("--map names the signals of a database", path=mapping, remedy="give the database with --dbc")
    chosen = chosen_sheet(sheet)
    goal = until(text, relearn, chosen)
    channels = wanted_channels(relearn, goal, chosen)
    check(out)
    make = _listening(out, database, mapping) if listen else _session(out, channels)
    click.echo(cautions(), err=True)
    run = Order(out, make, goal, relearn, sheet, database, mapping, asks=not listen)
    judged = run.recorded(adapter)
    if goal.ends:
        sys.exit(EXIT[judged.verdict if judged is not None else "cannot tell"])


def wanted_channels(relearn: str | None, goal: Until, sheet: Sheet) -> tuple[str, ...]:
    """What is polled: what the relearn is judged by; all that any question reads where there is no relearn, or the idle
    is to be judged besides. A relearn that does not fit is a ChoiceError."""
    from relearn.analysis.wanted import wanted

    of_relearn = wanted(None if relearn is None else fitting(relearn, sheet), sheet)
    return wanted(None, sheet) if goal.word == SETTLED else of_relearn


def cautions() -> str:
    """What to mind while the car is recorded, and whose word comes first."""
    from relearn.procedures.loader import catalogue

    known = catalogue().cautions
    paragraphs = (" ".join(known[name].text for name in names) for names in (MIND, FIRST_OF_ALL))
    return "\n".join(textwrap.fill(one, WIDTH) for one in paragraphs)


def _session(out: Path, channels: tuple[str, ...]) -> Maker:
    from relearn.bus.ask import Patience
    from relearn.bus.session import Session

    return lambda bus, clock, tell: Session(bus, clock, out, channels, Patience(), tell)


def _listening(out: Path, database: Path | None, mapping: Path | None) -> Maker:
    """A database or map that cannot be used is a SheetError before anything is opened."""
    from relearn.bus.listening import Listening
    from relearn.bus.window import Window
    from relearn.recording import live

    if database is None:
        return lambda bus, clock, tell: Listening(bus, clock, out, tell)
    from relearn.j1979 import dbc

    live(Window().capture(out, 0.0), database, mapping)
    keep = dbc.keep_for(dbc.database(database))
    return lambda bus, clock, tell: Listening(bus, clock, out, tell, keep)


@dataclass(frozen=True)
class Order:
    """One recording to be made: where to, by whom, what for. asks: it does more than listen."""

    out: Path
    make: Maker
    until: Until
    relearn: str | None
    sheet: str | None
    database: Path | None
    mapping: Path | None
    asks: bool

    def recorded(self, adapter: Interface) -> Judged | None:
        """Made from the opening of the adapter to the last line; the last judgement. BusError, CaptureError: it ended
        in trouble, or nobody ever answered."""
        from relearn.bus.clock import MachineClock
        from relearn.bus.wire import opened

        progress, clock = Progress(sys.stderr), MachineClock()
        with Stopping() as stopping:
            source = self._source(opened(adapter), clock, progress)
            click.echo(f"recording into {self.out}; Ctrl-C ends it", err=True)
            run = Run(source, self.until, progress, clock, lambda: stopping.asked, self.database, self.mapping)
            judged: Judged | None = None
            try:
                judged = run.go()
            except KeyboardInterrupt:
                click.echo("stopped in the middle of a question", err=True)
            finally:
                self._close(source, progress)
        self._refuse_nobody(source)
        if self.until.ends and judged is not None and judged.verdict != "yes":
            click.echo(f"ended before it was a yes: {state(self.until.word, judged)}")
        return judged

    def _source(self, bus: AnyBus, clock: Clock, progress: Progress) -> Source:
        from relearn.bus.wire import let_go

        try:
            return self.make(bus, clock, progress.notice)
        except (RelearnError, OSError):
            let_go(bus)
            raise

    def _close(self, source: Source, progress: Progress) -> None:
        """In good order; asked once more to end, at once. The file is whole either way."""
        progress.end()
        if self.asks and source.status().modules:
            click.echo("ending: identity and codes once more; Ctrl-C again ends at once", err=True)
        try:
            source.close()
        except KeyboardInterrupt:
            click.echo("ended at once, without identity and codes at the end", err=True)
        finally:
            click.echo(summary(self.out, source.status(), self.next(), self.asks))

    def next(self) -> str:
        """The command that reads it."""
        read = {"--dbc": self.database, "--map": self.mapping}
        judged = {"--sheet": self.sheet, **read}
        if self.until.word == SETTLED:
            return spelt("settle", self.out, judged)
        if self.until.word == READY:
            return spelt("ready", self.out, {"--for": self.relearn, **judged})
        return spelt("show", self.out, read)

    def _refuse_nobody(self, source: Source) -> None:
        status = source.status()
        if status.silent_s is not None or status.modules:
            return
        if status.notice is not None and status.notice.kind == "other-tester":
            raise BusError(
                "nobody was asked, because another tester was at work",
                path=self.out,
                remedy="record when it has finished, under another name, or only listen with --listen",
            )
        raise BusError(
            "nobody was heard in all that time",
            path=self.out,
            remedy="check ignition, connector and bitrate, and record again under another name",
        )


def spelt(command: str, out: Path, options: Mapping[str, object]) -> str:
    """A command as it is typed."""
    given = (str(word) for name, value in options.items() if value is not None for word in (name, value))
    return shlex.join(("relearn", command, str(out), *given))


def summary(out: Path, status: Status, then: str, asked: bool) -> str:
    """What is in the file, and what to do with it. asked: not only listened."""
    heard = f"heard from {', '.join(status.modules)}" if status.modules else "no module heard"
    if not asked:
        among = f", modules {', '.join(status.modules)} among them" if status.modules else ""
        heard = f"{status.identifiers} {'identifier' if status.identifiers == 1 else 'identifiers'}{among}"
    first = f"{out}: {status.time_s:.0f} s, {status.frames} frames, {heard}"
    return f"{first}\nnext: {then}" if status.silent_s is not None else first
