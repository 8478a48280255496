"""The coach's screen in a terminal. It shows what an Advice says and passes on what the person presses, no more."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from queue import SimpleQueue
from typing import ClassVar, TypeVar

from rich.text import Text
from textual.app import App, ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.events import Resize
from textual.screen import ModalScreen
from textual.widgets import Digits, Input, Static

from relearn.coach import panels
from relearn.coach.changes import moments
from relearn.coach.run import Coaching
from relearn.coach.standing import Confirm, End, Key, Next, against
from relearn.errors import RelearnError
from relearn.findings.advice import Advice
from relearn.report.words import plain

Answer = TypeVar("Answer")
LOW = 30  # below so many rows, cautions and steps share what there is
CAUTION_ROWS, CAUTION_ROWS_LOW = 18, 7


class Over(ModalScreen[Answer]):
    """Covers the screen, with the one thing to do now and its countdown at the head."""

    def head(self, advice: Advice) -> Static:
        return Static(panels.alarm(advice), id="alarm")

    def tell(self, advice: Advice) -> None:
        """What is so now."""
        self.query_one("#alarm", Static).update(panels.alarm(advice))


class Reason(Over[str]):
    """Asks why the person goes on. An empty reason, or Escape, goes nowhere."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "dismiss('')", "back")]

    def __init__(self, advice: Advice, against: str) -> None:
        super().__init__()
        self._advice, self._against = advice, against

    def compose(self) -> ComposeResult:
        with Vertical(id="asking"):
            yield self.head(self._advice)
            yield Static(f"Not a yes: {plain(self._against)}", markup=False)
            yield Static("Going on all the same needs your reason. It is kept. Escape: stay here.", markup=False)
            yield Input(placeholder="reason")

    def on_input_submitted(self, given: Input.Submitted) -> None:
        self.dismiss(given.value.strip())


class Cautions(Over[None]):
    """All cautions at once; a moment that matters closes it."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape,c,enter,q", "dismiss", "back")]

    def __init__(self, advice: Advice) -> None:
        super().__init__()
        self._advice = advice

    def compose(self) -> ComposeResult:
        with VerticalScroll(id="asking"):
            yield self.head(self._advice)
            yield Static(panels.every_caution(self._advice))


class CoachScreen(App[None]):
    """keys: where what the person says goes. against: what stands against going on, for an advice. advising: does the
    work in a thread of its own and hands every advice to `show`; when it returns, the screen closes."""

    ENABLE_COMMAND_PALETTE = False
    CSS = """
    Screen { background: #10151c; color: #d8dee6; padding: 0 1; }
    #head { height: 1; background: #1c2530; padding: 0 1; }
    #say { height: auto; max-height: 6; padding: 1 1 0 1; }
    #count { height: auto; padding: 0 1; }
    #digits { width: auto; min-width: 14; }
    #what { height: 3; content-align: left middle; width: 1fr; }
    #signs { height: auto; padding: 0 1; color: #9fc3e6; }
    #body { height: 1fr; padding: 0 1; }
    #eye { height: auto; padding: 0 1; }
    #cautions { height: auto; padding: 0 1; color: #e8c98a; }
    #only { height: auto; padding: 0 1; color: #b8c0ca; }
    #keys { height: 1; padding: 0 1; background: #1c2530; }
    Reason, Cautions { align: center middle; }
    #alarm { height: auto; padding: 0 0 1 0; }
    #asking { width: 90%; max-width: 90; height: auto; max-height: 90%; padding: 1 2; background: #26313f; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("space,enter", "confirm", "confirm by eye"),
        Binding("n", "next", "next stage"),
        Binding("c", "cautions", "all cautions"),
        Binding("q,ctrl+c", "end", "end", priority=False),
    ]

    def __init__(
        self,
        keys: SimpleQueue[Key],
        against: Callable[[Advice], str],
        advising: Callable[[CoachScreen], None] | None = None,
    ) -> None:
        super().__init__()
        self._said, self._against, self._advising = keys, against, advising
        self.advice: Advice | None = None

    def compose(self) -> ComposeResult:
        yield Static(id="head", markup=False)
        yield Static(id="say", markup=False)
        with Horizontal(id="count"):
            yield Digits(id="digits")
            yield Static(id="what", markup=False)
        yield Static(id="signs", markup=False)
        yield Static(id="eye", markup=False)
        yield Static(id="body", markup=False)
        yield Static(id="cautions", markup=False)
        yield Static(id="only", markup=False)
        yield Static(id="keys", markup=False)

    def on_mount(self) -> None:
        if self._advising is not None:
            self.run_worker(self._work, thread=True, exit_on_error=True)

    def _work(self) -> None:
        assert self._advising is not None
        try:
            self._advising(self)
        finally:
            self.call_from_thread(self.exit)

    def show(self, advice: Advice, answer: str = "") -> None:
        """Draw it, and ring where something happened that matters."""
        rings = bool(moments(self.advice, advice))
        if rings:
            self.bell()
        if answer:
            self.notify(plain(answer), markup=False)
        self.advice = advice
        self._over(advice, rings)
        self._draw(advice)

    def _over(self, advice: Advice, rings: bool) -> None:
        """What covers the screen tells it too, or goes away: a question that is being answered stays."""
        if isinstance(self.screen, Cautions) and rings:
            self.pop_screen()
        elif isinstance(self.screen, Over) and self.screen.is_mounted:
            self.screen.tell(advice)

    def on_resize(self, _: Resize) -> None:
        if self.advice is not None:
            self.call_after_refresh(self._draw, self.advice)

    def _draw(self, advice: Advice) -> None:
        low, base = self.size.height < LOW, self.screen_stack[0]
        digits, what = panels.seconds(advice)
        base.query_one("#digits", Digits).update(digits)
        base.query_one("#count").display = bool(digits)
        texts: dict[str, Text | str] = {
            "head": panels.head(advice),
            "say": panels.say(advice),
            "what": plain(what),
            "signs": panels.signs(advice),
            "eye": panels.by_eye(advice),
            "cautions": panels.cautions(advice, CAUTION_ROWS_LOW if low else CAUTION_ROWS, self.size.width),
            "only": advice.only_advises,
            "keys": panels.keys(advice),
        }
        for name, text in texts.items():
            widget = base.query_one(f"#{name}", Static)
            widget.update(text)
            widget.display = bool(text)
        self.call_after_refresh(self._fill)

    def _fill(self) -> None:
        """The table takes the room that the rest has left."""
        if self.advice is not None:
            body = self.screen_stack[0].query_one("#body", Static)
            body.update(panels.body(self.advice, body.size.height))

    def action_confirm(self) -> None:
        self._said.put(Confirm())

    def action_end(self) -> None:
        self._said.put(End())

    def action_cautions(self) -> None:
        if self.advice is not None:
            self.push_screen(Cautions(self.advice))

    def action_next(self) -> None:
        if self.advice is None:
            return
        against = self._against(self.advice)
        if against:
            self.push_screen(Reason(self.advice, against), self._with_reason)
        else:
            self._said.put(Next())

    def _with_reason(self, reason: str | None) -> None:
        if reason:
            self._said.put(Next(reason))


def coached(coaching: Coaching, heard: Callable[[Iterable[Key]], Iterable[Key]]) -> None:
    """Run the screen until the person ends it. heard: what is made of the keys before they count. Whatever ends the
    coaching early is raised here, after the screen has been left."""
    said: SimpleQueue[Key] = SimpleQueue()
    wrong: list[RelearnError] = []
    coaching.keys = lambda: heard(_waiting(said))

    def advising(screen: CoachScreen) -> None:
        try:
            for advice in coaching.advices():
                screen.call_from_thread(screen.show, advice, coaching.answer)
        except RelearnError as one:
            wrong.append(one)

    CoachScreen(said, lambda advice: against(coaching.standing, advice), advising).run()
    for one in wrong:
        raise one


def _waiting(said: SimpleQueue[Key]) -> Iterator[Key]:
    while not said.empty():
        yield said.get()
