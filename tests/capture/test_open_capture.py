"""A real car's open capture, where it lies beside the checkout. Source: its own README, by the public formulas."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from relearn.capture import load

PATH = Path(__file__).parents[3] / "shared" / "data" / "open-road-warmup.mf4"


@pytest.mark.skipif(not PATH.exists(), reason="the open capture is not beside this checkout")
def test_open_road_warmup() -> None:
    capture = load(PATH)
    assert capture.frames is not None
    assert capture.total_frames == 65_296
    assert len(capture.frames) == 6_601
    assert set(capture.frames.identifier.tolist()) == {0x7E8}
    assert capture.start_unix_s == pytest.approx(1627274455.01, abs=0.01)
    assert capture.duration_s == pytest.approx(545, abs=0.5)
    engine_speed = capture.frames.data[capture.frames.data[:, 2] == 0x0C]
    rpm = (engine_speed[:, 3].astype(np.int64) * 256 + engine_speed[:, 4]) / 4
    assert rpm.max() == pytest.approx(3113, abs=0.5)
    assert np.count_nonzero(rpm == 0) == 5
