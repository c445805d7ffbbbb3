"""Wide sheets of true bodies (see `bodies.py`) come apart into their figures."""

from __future__ import annotations

import numpy as np
import pytest

from tests.images.wide_sheets import compose, scaled
from tests.outside.bodies import body_or_skip
from tests.outside.rendering import draw
from turncheck.images.wide_sheet.splitting import find_figures


@pytest.mark.parametrize("name", ["adult_female", "child", "dog"])
@pytest.mark.parametrize("ground", ["clear", "uneven"])
def test_a_true_bodys_views_are_boxed_to_3_px(name, ground):
    body = body_or_skip(name)
    drawn = [draw(body, yaw, 220.0)[0][..., [2, 1, 0, 3]] for yaw in (0, 45, 90, 180)]
    sheet = compose(
        [scaled(drawing, 1.0) for drawing in drawn],
        np.random.default_rng(1),
        ground=ground,
        gap=(8, 30),
        labels=True,
    )
    split = find_figures(sheet.pixels)
    found = [(box.left, box.top, box.right, box.bottom) for box in split.boxes]
    assert not split.unsure and len(found) == 4
    assert np.abs(np.array(found) - sheet.boxes).max() <= 3
