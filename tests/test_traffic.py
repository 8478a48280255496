"""Who spoke and who was asked, from literal frames. Identifiers: ISO 15765-4."""

import numpy as np

from relearn.capture.frames import Frames
from relearn.traffic import heard, traffic

ASK_SPEED, ASK_LOAD, SPEED = "02010C0000000000", "0201040000000000", "04410C0AF0000000"


def frames(*rows: tuple[float, int, str]) -> Frames:
    data = np.array([list(bytes.fromhex(text)) for _, _, text in rows], np.uint8)
    identifier = np.array([one for _, one, _ in rows], np.uint32)
    return Frames(
        np.array([at for at, _, _ in rows]),
        np.arange(1, len(rows) + 1),
        np.zeros(len(rows), np.uint8),
        identifier,
        identifier > 0x7FF,
        np.full(len(rows), 8, np.uint8),
        data,
    )


def test_requests_of_a_kind_that_the_module_answers() -> None:
    """7E8 answers 0C once, then no more; it never answers 04, so that silence means nothing."""
    seen = frames(
        (0.0, 0x7DF, ASK_SPEED),
        (0.01, 0x7E8, SPEED),
        (0.1, 0x7DF, ASK_LOAD),
        (0.2, 0x7DF, ASK_SPEED),
        (0.3, 0x7DF, ASK_LOAD),
        (0.4, 0x123, SPEED),
    )
    told = traffic(seen)["7E8"]
    assert (list(told.answered_s), list(told.frame), list(told.asked_s)) == ([0.01], [2], [0.0, 0.2])
    assert list(traffic(seen)) == ["7E8"]


def test_a_request_to_another_module_and_flow_control_ask_it_nothing() -> None:
    told = traffic(
        frames(
            (0.0, 0x7E0, ASK_SPEED),
            (0.01, 0x7E8, SPEED),
            (0.1, 0x7E1, ASK_SPEED),
            (0.11, 0x7E9, SPEED),
            (0.2, 0x7E0, "3000000000000000"),
            (0.3, 0x7E0, ASK_SPEED),
        )
    )
    assert (list(told["7E8"].asked_s), list(told["7E8"].others_s)) == ([0.0, 0.3], [0.11])
    assert (list(told["7E9"].asked_s), list(told["7E9"].others_s)) == ([0.1], [0.01])


def test_29_bit_identifiers() -> None:
    told = traffic(
        frames((0.0, 0x18DB33F1, ASK_SPEED), (0.01, 0x18DAF110, SPEED), (0.1, 0x18DA10F1, ASK_LOAD))
    )  # 04 is never answered
    assert list(told["18DAF110"].asked_s) == [0.0]


def test_values_without_answers_are_heard_once_each() -> None:
    told = heard([np.array([1.0, 2.0]), np.array([2.0, 3.0])], [np.array([10, 20]), np.array([21, 30])])
    assert (list(told.answered_s), list(told.frame), list(told.asked_s)) == ([1.0, 2.0, 3.0], [10, 20, 30], [])
