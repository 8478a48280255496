"""How many points an answer is worth, 0 to 1. The rule can be read out to a class.

One of three:  the right one is 1. 'no' and 'cannot tell' taken for each other are ½: nobody would go on with the job
               on either. Anything else is 0: a wrong 'yes' lets a job go on, and a 'yes' that is not seen stops one.
Several:       the right ones that were chosen, as a share of all that were right or chosen. So a miss costs, a wrong
               one costs, and choosing everything never pays.
Nothing chosen is 0. That nothing is right stands alone: with another choice it is no answer.
"""

from __future__ import annotations

from collections.abc import Collection

from relearn.drills.questions import NOTHING, Question, Truth
from relearn.errors import ChoiceError
from relearn.verdict import Outcome

HOLDS_BACK = frozenset({Outcome.NO.value, Outcome.CANNOT_TELL.value})
CAUTIOUS = 0.5


def points(question: Question, given: Collection[str], truth: Truth) -> float:
    """The points for the chosen ids. ChoiceError: one that was not offered, several where one was asked for, or what
    contradicts itself."""
    chosen, right = frozenset(given), frozenset(truth.right)
    strange = sorted(chosen - {one.id for one in question.choices})
    if strange:
        raise ChoiceError(f"'{strange[0]}' is no answer to this question", remedy="choose from those that are offered")
    if not question.several and len(chosen) > 1:
        raise ChoiceError("this question has one answer", remedy="choose one")
    if contradicts(chosen):
        text = next(one.text for one in question.choices if one.id == NOTHING)
        raise ChoiceError(f"'{text}' goes with no other answer", remedy="choose it alone or leave it out")
    if not question.several and chosen != right and chosen | right == HOLDS_BACK:
        return CAUTIOUS
    return len(chosen & right) / len(chosen | right)


def contradicts(given: Collection[str]) -> bool:
    """Whether it is said that nothing is right, and something besides."""
    return NOTHING in given and len(set(given)) > 1


def went_on(question: Question, given: Collection[str], truth: Truth) -> bool:
    """Whether the answer was a yes, or that nothing is missing, where the truth is not: what would let a job go on."""
    yes = NOTHING if question.kind == "missing" else Outcome.YES.value
    return question.kind != "happened" and set(given) == {yes} and set(truth.right) != {yes}
