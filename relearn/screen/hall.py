"""Everything one started page holds: the desk, what may be chosen, the drills, and what the class has answered."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

from relearn.bus.clock import Clock
from relearn.drills.drill_file import Drill
from relearn.drills.drill_file import load as load_drill
from relearn.drills.results import Result, to_csv
from relearn.practice import scenario as scenarios
from relearn.screen import opening
from relearn.screen.desk import Desk
from relearn.screen.folder import Choosable, choosable
from relearn.screen.job_plan import job_plan
from relearn.screen.taking_over import Faults


@dataclass
class Hall:
    """folder: None where a single source was named. results: every answer of everybody, in the order given."""

    desk: Desk
    clock: Clock
    folder: Path | None = None
    results: list[Result] = field(default_factory=list)
    drills: dict[int, Drill] = field(default_factory=dict)
    played: opening.Played | None = None

    def __post_init__(self) -> None:
        self.desk.job = job_plan(self.folder) if self.folder is not None else None

    @cached_property
    def files(self) -> tuple[Choosable, ...]:
        """What may be chosen; the list is made once, so that its numbers keep their meaning."""
        return choosable(self.folder) if self.folder is not None else ()

    @cached_property
    def drills_by_address(self) -> Mapping[str, int]:
        """The number in the list of each drill, as an address has it."""
        return {str(number): number for number, one in enumerate(self.files) if one.is_drill}

    @cached_property
    def scenarios(self) -> Sequence[tuple[str, str]]:
        """Name and title of each packaged scenario that answers questions."""
        known: Mapping[str, scenarios.Scenario] = {name: scenarios.scenario(name) for name in scenarios.names()}
        return [(name, one.title) for name, one in known.items() if one.kind == "asked"]

    def show_capture(self, number: int) -> None:
        """A capture of the list. RelearnError: it cannot be used."""
        feed = opening.replay(self.files[number].path, self.clock)
        self.leave()
        self.desk.show(feed)

    def show_scenario(self, name: str) -> None:
        """A packaged scenario, from its beginning."""
        self.leave()
        self.played = opening.Played(name, scenarios.scenario(name), self.clock)
        self.desk.show(self.played.live)

    @property
    def faults(self) -> Faults | None:
        """What may be switched in what is shown; None where it is no scenario."""
        return self.played.faults if self.played is not None else None

    def drill(self, number: int) -> Drill:
        """A drill of the list, read once. RelearnError: it does not hold together."""
        if number not in self.drills:
            self.drills[number] = load_drill(self.files[number].path)
        return self.drills[number]

    def table(self) -> bytes:
        """The class's results as CSV."""
        return to_csv(self.results)

    def leave(self) -> None:
        """Whatever is shown is shown no longer; a recording's file is whole then."""
        feed = self.desk.feed
        self.desk.show(None)
        if self.played is not None:
            self.played.stop()
            self.played = None
        elif feed is not None:
            feed.stop()
