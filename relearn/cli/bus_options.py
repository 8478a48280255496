"""The options that name an adapter, for every command that opens one."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import TYPE_CHECKING, Any, TypeVar

import click

from relearn.errors import ChoiceError

if TYPE_CHECKING:
    from relearn.bus.wire import Interface

Command = TypeVar("Command", bound=Callable[..., Any])
WORDS = {"true": True, "false": False}
NAMES = ("interface", "channel", "bitrate", "options")
OPTIONS = (
    click.option(
        "--interface", metavar="NAME", help="python-can's name of the adapter: socketcan, pcan, slcan, udp_multicast …"
    ),
    click.option("--channel", metavar="NAME", help="Its channel: can0, PCAN_USBBUS1, COM3, /dev/ttyACM0 …"),
    click.option("--bitrate", type=click.IntRange(min=1), help="Bits a second: 500000 on most cars, 250000 on some."),
    click.option(
        "--option",
        "options",
        multiple=True,
        metavar="KEY=VALUE",
        help="Anything else the adapter takes; may be repeated.",
    ),
)


def bus_options(command: Command) -> Callable[..., Any]:
    """--interface, --channel, --bitrate and --option, handed to the command as one `adapter` (wire.Interface).

    What is not given comes from python-can's own configuration file and environment.
    """

    @wraps(command)
    def with_adapter(*words: Any, **given: Any) -> Any:
        named = adapter(*(given.pop(name) for name in NAMES))
        return command(*words, adapter=named, **given)

    decorated: Callable[..., Any] = with_adapter
    for option in reversed(OPTIONS):
        decorated = option(decorated)
    return decorated


def adapter(interface: str | None, channel: str | None, bitrate: int | None, options: tuple[str, ...]) -> Interface:
    """What was given. ChoiceError: an option without '='."""
    from relearn.bus.wire import Interface

    return Interface(interface, channel, bitrate, dict(_pair(one) for one in options))


def _pair(text: str) -> tuple[str, str | int | float | bool]:
    key, equals, value = text.partition("=")
    if not equals or not key:
        raise ChoiceError(f"--option {text} has no '='", remedy="write it as KEY=VALUE, such as tty_baudrate=115200")
    return key.strip().replace("-", "_"), _value(value.strip())


def _value(text: str) -> str | int | float | bool:
    """true and false, whole numbers (0x… too), decimal ones; else the text."""
    if text.lower() in WORDS:
        return WORDS[text.lower()]
    for kind in (_whole, float):
        try:
            return kind(text)
        except ValueError:
            continue
    return text


def _whole(text: str) -> int:
    return int(text, 0)
