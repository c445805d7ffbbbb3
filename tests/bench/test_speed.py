"""Speed and memory, outside the timed suite: `pytest tests/bench -s` prints them.

Limits are generous ratios to the bare work on the same machine in the same minute, so that a slow
or busy machine does not fail them; what becomes twice as slow does.
"""

from __future__ import annotations

import pytest

from tests.bench import show_timing, timing


def held(figure: timing.Figure) -> None:
    print(f"\n{figure}")
    assert figure.times <= figure.limit, str(figure)


@pytest.mark.parametrize(("width", "height"), [(840, 1100), (3000, 4000)])
def test_check_is_held_against_decoding_and_importing_pandas(tmp_path, width, height):
    held(timing.check(tmp_path / "sheet", width, height))


def test_peak_memory_is_held_against_one_decoded_drawing(tmp_path):
    held(timing.peak_memory(tmp_path / "sheet"))


def test_help_is_held_against_a_bare_click_program():
    held(timing.help_page())


def test_the_turn_is_held_against_solving_systems_of_its_size():
    held(timing.turn())


def test_many_drawings_are_held_against_a_dozen():
    held(timing.load())


def test_outlines_are_held_against_decoding(tmp_path):
    held(timing.outlines(tmp_path / "sheet"))


def test_a_growing_show_is_held_against_itself_and_against_its_sheets(tmp_path):
    for figure in show_timing.growing(tmp_path, 24):
        held(figure)
