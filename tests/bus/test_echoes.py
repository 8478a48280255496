"""Our own frames coming back are told from what others say."""

from relearn.bus.echoes import Echoes
from relearn.bus.frame import Frame


def frame(time_s: float, data: str = "04410C0BB8") -> Frame:
    return Frame(time_s, 0x7E8, False, bytes.fromhex(data))


def test_each_frame_said_counts_for_one_that_is_heard() -> None:
    echoes = Echoes()
    echoes.said(frame(1.0))
    assert [echoes.back(frame(1.01)), echoes.back(frame(1.02))] == [True, False]


def test_another_frame_is_somebody_elses() -> None:
    echoes = Echoes()
    echoes.said(frame(1.0))
    assert not echoes.back(frame(1.01, "04410C0FA0"))


def test_after_a_second_it_is_no_echo() -> None:
    echoes = Echoes()
    echoes.said(frame(1.0))
    assert not echoes.back(frame(2.1))
