"""What happens in one capture, as TOML: the car's state, events, what is asked, who answers, what goes wrong."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Annotated, Literal

from pydantic import AwareDatetime, BeforeValidator, Field, ValidationError, field_validator

from relearn.errors import SheetError
from relearn.practice.engine import DATA, Inputs
from relearn.procedures.packaged import Row, read
from relearn.toml_files import read_toml

SCENARIOS = DATA / "scenarios"

Byte = Annotated[int, BeforeValidator(lambda text: int(text, 16) if isinstance(text, str) else text)]


class Begin(Row):
    """The car at time zero. The long-term trims are what the module has learned in the drives before."""

    coolant_c: float = 89.0
    oil_c: float = 90.0
    intake_c: float = 36.0
    ambient_c: float = 20.0
    altitude_m: float = 120.0
    long_idle_pct: float = 1.0
    long_cruise_pct: float = 0.5


class Event(Row):
    """At `at_s` the named inputs of the model change, numbers gradually over `over_s`.

    start: the starter is engaged until the engine runs. hold_rpm: the pedal holds this speed, 0 lets go of it.
    """

    at_s: float
    over_s: float = 0.0
    start: bool = False
    hold_rpm: float | None = None
    set: Mapping[str, float] = {}

    @field_validator("set")
    @classmethod
    def known(cls, values: Mapping[str, float]) -> Mapping[str, float]:
        """Only inputs that the model has."""
        strange = sorted(set(values) - set(Inputs.__dataclass_fields__))
        if strange:
            raise ValueError(f"the model has no input {', '.join(strange)}")
        return values


class Press(Row):
    """The foot goes down to `pedal_pct` over `over_s`, stays for `held_s`, and comes up as fast; `times` of it."""

    at_s: float
    times: int = Field(default=1, ge=1)
    every_s: float = 0.0
    held_s: float
    over_s: float = 0.2
    pedal_pct: float = 100.0

    def events(self) -> Iterator[Event]:
        """Down and up, as often as it says."""
        for number in range(self.times):
            down_s = self.at_s + number * self.every_s
            yield Event(at_s=down_s, over_s=self.over_s, set={"pedal_pct": self.pedal_pct})
            yield Event(at_s=down_s + self.over_s + self.held_s, over_s=self.over_s, set={"pedal_pct": 0.0})


class Stored(Row):
    """Codes of one module, and the freeze frame kept with the first stored one (by channel name)."""

    stored: tuple[str, ...] = ()
    pending: tuple[str, ...] = ()
    permanent: tuple[str, ...] = ()
    freeze_frame: Mapping[str, float] = {}


class Lost(Row):
    """Consecutive frame `consecutive` (1 is the first) of every answer to this service and identifier never arrives."""

    service: Byte
    identifier: Byte
    consecutive: int


class Scenario(Row):
    """One capture. What happens in it is `event` and `press`.

    file: the capture written of it; '' for one that is only played live.
    kind: a log of questions and answers, a log of what modules broadcast unasked, or a meter's table.
    engine: numbers of the engine that differ from `data/engine.toml`, by section and name.
    lacks: identifiers that the support masks deny; never_poll: those the tester leaves out; stop_polling_s: when it
    stops asking for one. refuses: services that a module answers with 'service not supported'.
    """

    title: str
    shows: str
    seed: int
    start: AwareDatetime
    duration_s: float
    file: str = ""
    kind: Literal["asked", "broadcast", "meter"] = "asked"
    engine: Mapping[str, Mapping[str, float]] = {}
    begin: Begin = Begin()
    event: tuple[Event, ...] = ()
    press: tuple[Press, ...] = ()
    poll: str = "usual"
    never_poll: tuple[Byte, ...] = ()
    stop_polling_s: Mapping[str, float] = {}
    modules: tuple[str, ...] = ("engine",)
    calibration: Literal["before", "after"] = "after"
    lacks: tuple[Byte, ...] = ()
    extended: bool = False
    dialect: Literal["j1979", "j1979-2"] = "j1979"
    padding: Byte = 0x00
    codes: Mapping[str, Stored] = {}
    lost: tuple[Lost, ...] = ()
    refuses: tuple[Byte, ...] = ()

    def events(self) -> list[Event]:
        """All events in time order, those of the pedal presses with them."""
        pressed = (event for press in self.press for event in press.events())
        return sorted([*self.event, *pressed], key=lambda event: event.at_s)

    def start_us(self) -> int:
        """Wall clock of time zero in whole microseconds since 1970."""
        return microseconds(self.start)


class Ask(Row):
    """One request of a poll: parameter identifiers asked together, every so often."""

    ask: tuple[Byte, ...] = Field(min_length=1, max_length=6)
    every_s: float = Field(gt=0.0)


class Calibration(Row):
    """What a module says of its program, and which monitors have run since it was written."""

    identifications: tuple[str, ...]
    verification_numbers: tuple[str, ...]
    complete: tuple[str, ...]


class Module(Row):
    """Where a module answers and what it supports.

    stays_awake_s, boots_s: how long it still answers after the ignition went off, and is silent after it came on.
    learns_idle: whether the idle relearn lights this module's malfunction lamp.
    """

    number: int
    address: int
    stays_awake_s: float
    boots_s: float
    learns_idle: bool = False
    name: str
    words: str
    supported: tuple[Byte, ...]
    monitors: tuple[str, ...]
    calibrations: Mapping[str, Calibration]


class Car(Row):
    """The invented car."""

    vin: str
    modules: Mapping[str, Module]


class Polls(Row):
    """The polls of `data/polls.toml`."""

    usual: tuple[Ask, ...]
    grouped: tuple[Ask, ...]
    slow: tuple[Ask, ...]
    standing: tuple[Ask, ...]
    by_identifier: tuple[Ask, ...]
    steps: tuple[Ask, ...]
    sparse: tuple[Ask, ...]


def microseconds(moment: datetime) -> int:
    """Whole microseconds since 1970, without a float on the way."""
    return int(moment.timestamp()) * 1_000_000 + moment.microsecond


def names() -> tuple[str, ...]:
    """All packaged scenarios, in alphabetical order."""
    return tuple(sorted(path.stem for path in SCENARIOS.glob("*.toml")))


def written() -> tuple[str, ...]:
    """Those of which a capture is written."""
    return tuple(name for name in names() if scenario(name).file)


def scenario(name: str) -> Scenario:
    """One packaged scenario. ProcedureError if it does not hold together."""
    return read(Scenario, SCENARIOS / f"{name}.toml")


def from_file(path: Path) -> Scenario:
    """A scenario that a user wrote. SheetError: unreadable, an unknown key, a module that the invented car has not."""
    try:
        found = Scenario.model_validate(read_toml(path, "scenario"))
    except ValidationError as wrong:
        first = wrong.errors()[0]
        key = ".".join(str(part) for part in first["loc"])
        raise SheetError(first["msg"], path=path, key=key, remedy="correct that key of the scenario") from None
    strange = sorted(set(found.modules) - set(car().modules))
    if strange or not found.modules:
        said = f"the car has no module {', '.join(strange)}" if strange else "no module is named"
        raise SheetError(said, path=path, key="modules", remedy=f"choose from {', '.join(car().modules)}")
    return found


@cache
def car() -> Car:
    """The invented car of `data/car.toml`."""
    return read(Car, DATA / "car.toml")


@cache
def polls() -> Mapping[str, tuple[Ask, ...]]:
    """What testers ask, by name."""
    return dict(read(Polls, DATA / "polls.toml"))
