"""The screen, driven by textual's own Pilot: it shows what the advice says and passes on what is pressed."""

from __future__ import annotations

import asyncio
import re
from collections.abc import Awaitable, Callable
from queue import SimpleQueue

import pytest
from textual.pilot import Pilot

from relearn.coach.screen import CoachScreen
from relearn.coach.standing import Confirm, End, Key, Next
from relearn.findings.advice import Advice
from tests.coach.car import IDLE, PEDAL, advised, standing

STEPS = "steps-idle-right.log"
SHOWN = {
    "getting ready": lambda: advised("cold.log", 160.0, standing("cold.log", IDLE)),
    "hold": lambda: advised(STEPS, 60.0, standing(STEPS, IDLE, "steps", 15.0)),
    "lost": lambda: advised(STEPS, 62.0, standing(STEPS, IDLE, "steps", 15.0), 58.0),
    "idle": lambda: advised(STEPS, 120.0, standing(STEPS, IDLE, "idle", 112.0)),
    "done": lambda: advised(STEPS, 135.0, standing(STEPS, IDLE, "done", 134.0)),
    "pedal": lambda: advised("steps-pedal-right.log", 10.0, standing("steps-pedal-right.log", PEDAL, "steps", 2.0)),
}
SIZES = [(80, 24), (120, 40)]


def text_of(app: CoachScreen) -> str:
    """All that stands on the screen, without the spaces of its layout."""
    texts = re.findall(r"<text [^>]*>(.*?)</text>", app.export_screenshot())
    return re.sub(r"\s+", " ", " ".join(texts).replace("&#160;", " ").replace("&#x27;", "'"))


def driven(
    advice: Advice,
    then: Callable[[Pilot[None], CoachScreen], Awaitable[None]],
    against: str = "",
    size: tuple[int, int] = (80, 24),
) -> tuple[str, list[Key]]:
    said: SimpleQueue[Key] = SimpleQueue()

    async def run() -> str:
        app = CoachScreen(said, lambda _: against)
        async with app.run_test(size=size) as pilot:
            app.show(advice)
            await pilot.pause()
            await pilot.pause()
            await then(pilot, app)
            return text_of(app)

    shown = asyncio.run(run())
    return shown, [said.get() for _ in range(said.qsize())]


async def nothing(pilot: Pilot[None], app: CoachScreen) -> None:
    return None


def pressing(*keys: str) -> Callable[[Pilot[None], CoachScreen], Awaitable[None]]:
    async def press(pilot: Pilot[None], app: CoachScreen) -> None:
        await pilot.press(*keys)
        await pilot.pause()

    return press


@pytest.mark.parametrize("size", SIZES, ids=["80x24", "120x40"])
@pytest.mark.parametrize("name", SHOWN)
def test_every_screen_says_that_it_only_advises_and_its_cautions(name: str, size: tuple[int, int]) -> None:
    advice = SHOWN[name]()
    shown, _ = driven(advice, nothing, size=size)
    assert "This program only reads. The relearn itself is done with a tool made for it," in shown
    own = [
        one.text for one in advice.cautions if one.id in ("hot-engine", "exhaust", "can-move", "revs", "throttle-plate")
    ]
    assert own and all(one in shown for one in own)
    assert {"yes": "yes", "no": "NO", "cannot tell": "cannot tell"}[advice.verdict] in shown
    assert advice.say in shown and "q end" in shown


def test_getting_ready_shows_every_precondition_at_80_by_24() -> None:
    advice = SHOWN["getting ready"]()
    shown, _ = driven(advice, nothing)
    assert "coolant warm ✗ NO" in shown and "80 to 100 °C" in shown and "°C/min" in shown
    assert advice.warm_up in shown and "next, Enter: selector in park or neutral" in shown
    assert shown.count("✓ yes") == 6


def test_the_keys_are_passed_on() -> None:
    advice = SHOWN["getting ready"]()
    assert driven(advice, pressing("space", "enter", "n", "q"))[1] == [Confirm(), Confirm(), Next(), End()]


def test_going_on_without_a_yes_asks_for_the_reason() -> None:
    advice = SHOWN["getting ready"]()
    shown, said = driven(advice, pressing("n"), against="coolant warm: 61 °C")
    assert "Not a yes: coolant warm: 61 °C" in shown and said == []
    assert driven(advice, pressing("n", *"why", "enter"), against="x")[1] == [Next("why")]
    assert driven(advice, pressing("n", "enter"), against="x")[1] == []
    assert driven(advice, pressing("n", *"why", "escape", "q"), against="x")[1] == [End()]


def test_all_cautions_are_a_key_away() -> None:
    advice = SHOWN["hold"]()
    shown, _ = driven(advice, pressing("c"), size=(80, 36))
    assert all(one.text.split(":")[0] in shown for one in advice.cautions)


def test_a_bell_rings_once_for_a_moment_that_matters() -> None:
    rung: list[int] = []

    async def show_lost_twice(pilot: Pilot[None], app: CoachScreen) -> None:
        app.bell = lambda: rung.append(1)  # type: ignore[method-assign]
        app.show(SHOWN["lost"]())
        app.show(SHOWN["lost"]())

    shown, _ = driven(SHOWN["hold"](), show_lost_twice)
    assert rung == [1] and "No answers for 4 s" in shown


def test_what_covers_the_screen_never_hides_an_alarm() -> None:
    """The cautions close; the question for a reason stays, with what is so now and the countdown at its head."""
    lost, hold = SHOWN["lost"](), SHOWN["hold"]()

    async def covered(pilot: Pilot[None], app: CoachScreen, key: str, then: Advice) -> None:
        await pilot.press(key)
        await pilot.pause()
        app.show(then)
        await pilot.pause()

    shown, _ = driven(hold, lambda pilot, app: covered(pilot, app, "c", lost))
    assert "No answers for 4 s" in shown and "Orange cables" not in shown
    shown, _ = driven(hold, lambda pilot, app: covered(pilot, app, "n", lost), against="x")
    assert "No answers for 4 s" in shown and "Not a yes: x" in shown
    shown, _ = driven(hold, lambda pilot, app: covered(pilot, app, "n", hold), against="x")
    assert "s to go: pedal held" in shown and "Not a yes: x" in shown


def test_getting_ready_shows_which_car_it_is() -> None:
    shown, _ = driven(SHOWN["getting ready"](), nothing, size=(120, 40))
    assert "VIN" in shown and SHOWN["getting ready"]().cars[0] in shown
