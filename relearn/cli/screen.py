"""`relearn screen`."""

from __future__ import annotations

import importlib.util
import ipaddress
import webbrowser
from pathlib import Path
from typing import TYPE_CHECKING

import click

from relearn.cli.bus_options import bus_options
from relearn.cli.shared import FILE, chosen_sheet, sheet_option
from relearn.cli.stopping import Stopping
from relearn.errors import ChoiceError

if TYPE_CHECKING:
    from relearn.bus.wire import Interface
    from relearn.procedures.sheets import Sheet
    from relearn.screen.guard import Guests
    from relearn.screen.hall import Hall

HOST = "127.0.0.1"
MEANS = (
    "Whoever has a link sees what is shown here and can take part in drills, nothing more. Each link lets one browser "
    "in, once. It travels unencrypted: use it on a network you trust, and stop this program when the class is over."
)


@click.command()
@click.argument("what", type=FILE, required=False, metavar="[FOLDER|FILE|SCENARIO]")
@bus_options
@click.option(
    "--for",
    "relearn",
    default="idle-air-volume",
    show_default=True,
    metavar="RELEARN",
    help="The relearn that is judged.",
)
@sheet_option
@click.option("--out", type=FILE, help="Of a live bus: the new .log file; without it one named by date and time.")
@click.option(
    "--port", type=click.IntRange(0, 65535), default=8370, show_default=True, help="Of the page; 0 takes a free one."
)
@click.option("--share", metavar="ADDRESS", help="Also let others in: an address of this machine, such as 192.0.2.7.")
@click.option("--links", type=click.IntRange(1, 60), default=1, show_default=True, help="How many links --share gives.")
@click.option("--no-browser", is_flag=True, help="Only say the address.")
def screen(
    what: Path | None,
    adapter: Interface,
    relearn: str,
    sheet: str | None,
    out: Path | None,
    port: int,
    share: str | None,
    links: int,
    no_browser: bool,
) -> None:
    """Show a live bus, a capture, a scenario or a folder of them in the browser, and train on drills.

    Without any, the folder you are in. The page is served to this machine only, unless --share opens it. It only
    reads; Ctrl-C ends it.
    """
    if importlib.util.find_spec("nicegui") is None:
        raise ChoiceError("the page needs one more package", remedy='install it with pip install "relearn[screen]"')
    shared = _address(share) if share is not None else None
    from relearn.screen.app import serve
    from relearn.screen.guard import Guests

    guests = Guests()

    def ready(at_port: int) -> None:
        click.echo(f"http://{HOST}:{at_port}/  (Ctrl-C ends it)")
        if shared is not None:
            _invite(shared, at_port, guests, links)
        if not no_browser:
            webbrowser.open(f"http://{HOST}:{at_port}/")

    with Stopping() as stopping:
        hall = _hall(what, adapter, relearn, chosen_sheet(sheet), out)
        try:
            serve(hall, (HOST, shared) if shared else (HOST,), port, guests, ready, lambda: stopping.asked)
        finally:
            hall.leave()
            _tell_results(hall)


def _tell_results(hall: Hall) -> None:
    """What the class has answered is kept nowhere else: at the end it stands in the terminal, as CSV."""
    if hall.results:
        click.echo("what the class has answered:")
        click.echo(hall.table().decode("utf-8-sig").rstrip())


def _invite(shared: str, port: int, guests: Guests, links: int) -> None:
    """What the links mean, and the links."""
    host = f"[{shared}]" if ":" in shared else shared
    click.echo(MEANS)
    for _ in range(links):
        click.echo(f"http://{host}:{port}/enter/{guests.link()}")


def _address(text: str) -> str:
    """One address that others can reach. ChoiceError: a name, all addresses at once, or the loopback."""
    try:
        address = ipaddress.ip_address(text)
    except ValueError:
        raise ChoiceError(f"--share {text} is no address", remedy="give one as numbers, such as 192.0.2.7") from None
    if address.is_unspecified or address.is_loopback or address.is_multicast:
        raise ChoiceError(f"--share {text} is no address at which others reach this machine", remedy="give that one")
    return str(address)


def _hall(what: Path | None, adapter: Interface, relearn: str, sheet: Sheet, out: Path | None) -> Hall:
    """What is shown first: a folder to choose from, a capture, a scenario, or the car on the bus that is named."""
    from relearn.bus.clock import MachineClock
    from relearn.practice.scenario import names
    from relearn.screen import opening
    from relearn.screen.desk import Desk, has_shown_steps
    from relearn.screen.hall import Hall

    if not has_shown_steps(relearn):
        raise ChoiceError(f"scan data shows no step of {relearn}", remedy="choose another with --for")
    if what is not None and adapter.given():
        raise ChoiceError("a file and a live bus cannot be shown at once", remedy="leave one of them out")
    if out is not None and not adapter.given():
        raise ChoiceError("--out is where a live bus is recorded to", remedy="name the bus, or leave --out out")
    clock, desk = MachineClock(), Desk(None, relearn, sheet)
    if adapter.given():
        path = out or _named_by_date()
        desk.feed = opening.bus(adapter, clock, path)
        click.echo(f"recording to {path}")
        return Hall(desk, clock)
    if what is None or what.is_dir():
        return _folder(Hall(desk, clock, what or Path()), given=what is not None)
    if str(what) in names():
        hall = Hall(desk, clock)
        hall.show_scenario(str(what))
        return hall
    _there(what)
    desk.feed = opening.replay(what, clock)
    return Hall(desk, clock)


def _folder(hall: Hall, given: bool) -> Hall:
    """A folder that was named has something in it; the one somebody happens to be in need not."""
    if given and not hall.files:
        raise ChoiceError("there is no capture and no drill in this folder", path=hall.folder, remedy="name another")
    return hall


def _there(path: Path) -> None:
    if not path.suffix and not path.exists():
        raise ChoiceError(
            f"{path} is no folder, no capture and no packaged scenario",
            remedy="name one, or start without it to choose on the page",
        )


def _named_by_date() -> Path:
    from datetime import datetime

    return Path(f"{datetime.now():%Y-%m-%d-%H%M%S}-screen.log")
