"""Points by the rule of drills.score, worked out by hand."""

import pytest

from relearn.drills.questions import Choice, Question, Truth
from relearn.drills.score import points, went_on
from relearn.errors import ChoiceError

THREE = tuple(Choice(one, one) for one in ("yes", "no", "cannot tell"))
ASKED = Question(0, "a.log", 1.0, "ready", "?", THREE, several=False)
LIST = Question(
    0, "a.log", 1.0, "missing", "?", tuple(Choice(one, one) for one in ("a", "b", "c", "nothing")), several=True
)


@pytest.mark.parametrize(
    ("given", "right", "worth"),
    [
        ("yes", "yes", 1.0),
        ("no", "no", 1.0),
        ("cannot tell", "cannot tell", 1.0),
        ("no", "cannot tell", 0.5),
        ("cannot tell", "no", 0.5),
        ("yes", "no", 0.0),
        ("yes", "cannot tell", 0.0),
        ("no", "yes", 0.0),
        ("cannot tell", "yes", 0.0),
    ],
)
def test_one_of_three(given: str, right: str, worth: float) -> None:
    truth = Truth((right,), (), ())
    assert points(ASKED, [given], truth) == worth
    assert went_on(ASKED, [given], truth) is (given == "yes" and right != "yes")


@pytest.mark.parametrize(
    ("given", "right", "wrongly"), [("nothing", "a", True), ("a", "b", False), ("a", "nothing", False)]
)
def test_nothing_missing_said_wrongly_lets_a_job_go_on_too(given: str, right: str, wrongly: bool) -> None:
    assert went_on(LIST, [given], Truth((right,), (), ())) is wrongly


@pytest.mark.parametrize(
    ("given", "right", "worth"),
    [
        (["a", "b"], ["a", "b"], 1.0),
        (["a"], ["a", "b"], 1 / 2),
        (["a", "c"], ["a", "b"], 1 / 3),
        (["a", "b", "c"], ["a"], 1 / 3),
        (["c"], ["a", "b"], 0.0),
        (["nothing"], ["nothing"], 1.0),
        (["nothing"], ["a"], 0.0),
        ([], ["a"], 0.0),
    ],
)
def test_several(given: list[str], right: list[str], worth: float) -> None:
    assert points(LIST, given, Truth(tuple(right), (), ())) == pytest.approx(worth)


@pytest.mark.parametrize(("question", "given"), [(LIST, ["z"]), (ASKED, ["yes", "no"]), (LIST, ["a", "nothing"])])
def test_what_was_not_offered_is_refused(question: Question, given: list[str]) -> None:
    with pytest.raises(ChoiceError):
        points(question, given, Truth(("a",), (), ()))
