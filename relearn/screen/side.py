"""The answers beside the charts: the plan with where it stands, each question with its verdict, and what to mind."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from nicegui import ui
from nicegui.elements.mixins.text_element import TextElement

from relearn.procedures.loader import procedure, procedures
from relearn.screen.bar import waits
from relearn.screen.desk import Desk, has_shown_steps
from relearn.screen.panel import Planned, minutes
from relearn.screen.parts import followed, is_lost
from relearn.screen.question import Focus, Head, Mark, Question, shown

OPEN_AT_FIRST = "Ready?"
LAGS_S = 3.0  # of the page's own time; answers that are older are told as old


def side(desk: Desk, trainer: bool, focus: Focus) -> Callable[[], None]:
    """Build it; what is returned brings it up to date. A row that is clicked shows on the charts what decided it."""
    with ui.element("div").classes("top-of-side"):
        heads = ui.element("div").classes("verdicts")
        judged = ui.label().classes("judged-at")
    show_relearn = _relearn(desk) if trainer else _named(desk)
    show_plan = _plan(desk)
    questions = ui.element("div").classes("questions")
    show_cautions = _cautions(desk)
    built: dict[str, tuple[Head, Question]] = {}

    def show() -> None:
        answers = desk.answers
        show_relearn()
        show_plan()
        show_cautions()
        past = _past(desk)
        judged.text = f"Judged as of {minutes(answers.at_s)}{past}" if answers.panels else ""
        judged.classes(add="old" if past else "", remove="" if past else "old")
        if list(built) != [one.question for one in answers.panels]:
            built.clear()
            built.update(_built([one.question for one in answers.panels], heads, questions, focus))
        for panel in answers.panels:
            for one in built[panel.question]:
                one.show(panel, not past and not panel.over)

    return show


def _built(
    titles: Sequence[str], heads: ui.element, questions: ui.element, focus: Focus
) -> dict[str, tuple[Head, Question]]:
    """The questions by their titles, each with its verdict in the row on top."""
    heads.clear()
    questions.clear()
    with questions:
        made = {title: Question(title, focus) for title in titles}
    with heads:
        found = {title: (Head(title, one.come), one) for title, one in made.items()}
    if OPEN_AT_FIRST in made:
        made[OPEN_AT_FIRST].open()
    return found


def _past(desk: Desk) -> str:
    """Why the answers are not those of now, '' where they are."""
    if desk.feed is None or not desk.answers.panels:
        return ""
    standing = desk.feed.standing()
    if is_lost(standing) and not waits(standing):
        return ": no data now"
    return ", not since" if abs(standing.position_s - desk.answers.at_s) / standing.speed > LAGS_S else ""


def _named(desk: Desk) -> Callable[[], None]:
    """Which relearn the page is about, for who only looks on."""
    label = ui.label().classes("for-relearn")

    def show() -> None:
        label.text = f"For: {procedure(desk.relearn).title}"

    return show


def _relearn(desk: Desk) -> Callable[[], None]:
    """Which relearn the page is about, to be chosen; every browser shows the one that is asked now."""
    known = {name: one.title for name, one in procedures().items() if has_shown_steps(name)}
    with ui.element("select").classes("key").props('aria-label="relearn"') as chosen:
        for name, title in known.items():
            option = TextElement(tag="option", text=f"For: {title}")
            option.props["value"] = name
            if name == desk.relearn:
                option.props("selected")

    def choose(name: object) -> None:
        if name in known:
            desk.relearn = str(name)

    chosen.on("change", lambda event: choose(event.args), js_handler="(event) => emit(event.target.value)")
    return followed(chosen, lambda: desk.relearn)


def _plan(desk: Desk) -> Callable[[], None]:
    of = ui.label().classes("plan-of")
    plan = ui.element("ol").classes("plan").props('aria-label="order of the relearns"')
    seen: list[object] = [None]

    def show() -> None:
        of.text = desk.answers.plan_of if desk.answers.plan else ""
        current = desk.job is not None or not _past(desk)  # a job's record does not grow old
        if seen[0] != (desk.answers.plan, current):
            seen[0] = desk.answers.plan, current
            plan.clear()
            with plan:
                for one in desk.answers.plan:
                    _planned(one, current)

    return show


def _planned(one: Planned, current: bool) -> None:
    worn, word = shown(one.verdict, current)
    row = ui.element("li").classes("planned asked" if one.asked else "planned")
    row.props["title"] = one.why
    with row:
        Mark().show(worn)
        ui.label(one.title).classes("text")
        ui.label(word).classes("said")


def _cautions(desk: Desk) -> Callable[[], None]:
    with ui.element("section").classes("mind").props('aria-label="cautions"'):
        ui.label("Mind").classes("asks")
        box = ui.element("ul")
    seen: list[Sequence[str]] = [()]

    def show() -> None:
        if seen[0] != desk.cautions():
            seen[0] = desk.cautions()
            box.clear()
            with box:
                for text in seen[0]:
                    with ui.element("li"):
                        ui.label(text)

    return show
