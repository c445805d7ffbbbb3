"""The constants that were measured: where each lives in turncheck, and the values tried.

One table for each measure, by the page that shows it. A page's row names the constant as here.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

Tried = Mapping[str, Sequence[Any]]

HEIGHT_SCALE: Tried = {
    "geometry.height_scale.SCALE_AGREES_WITHIN": (2.0, 2.5, 3.0, 3.5),
    "geometry.height_scale.SCALE_AGREEING_LEAST": (0.5, 0.6, 0.7, 0.8, 0.9),
}

MAJORITY: Tried = {
    "geometry.majority.MAJORITY_AGREES_WITHIN": (1.0, 1.645, 1.96, 2.576, 3.29, 5.0),
}

SHEETS: Tried = {
    "geometry.guard_bands.CERTAIN": (3.291, 4.0, 5.0),
    "geometry.guard_bands.CERTAIN_WILD": (8.0, 12.0, 16.0),
    "geometry.height_adjustment.STAND_CHI_SQUARE": (13.8, 18.4, 25.0),
    "geometry.height_adjustment.STAND_SLIPS_TO": (2.0, 3.0, 5.0),
    "geometry.height_adjustment.STAND_BELIEF": (1.5, 3.0, 100.0),
    "geometry.scatter.SCATTER_BELIEF": (5.0, 20.0, 80.0),
    "geometry.scatter.SCATTER_BELIEF_HIDDEN": (1.0, 5.0, 20.0),
    "geometry.scatter.HEAVY_LESS_LIKELY": (1.0, 8.0, 100.0),
}

ROBUST_START: Tried = {
    "geometry.turn.robust_start.START_NARROWING": (0.3, 0.6, 0.8),
    "geometry.turn.robust_start.START_DISAGREEING_SHARE": (0.02, 0.08, 0.15, 0.3),
    "geometry.turn.robust_start.START_YAW_OFFSET": (2.0, 6.0, 12.0, 20.0),
    "geometry.turn.robust_start.START_RELEASE_WIDTH": (1.2, 3.0, 6.0),
    "geometry.turn.adjustment.YAW_STEP_LARGEST": (3.0, 7.0, 15.0, 60.0),
}

DIAGNOSIS: Tried = {
    "geometry.turn.diagnosis.CHI_SQUARE_PLACING": (7.0, 9.0, 12.0, 16.0),
    "geometry.turn.diagnosis.CHI_SQUARE_ASYMMETRY": (6.0, 9.0, 14.0),
    "geometry.turn.diagnosis.CHI_SQUARE_ALIKE": (2.0, 5.0, 7.0),
}

STATED: Tried = {
    "geometry.turn.solve.REDUNDANCY_LEAST": (0.02, 0.05, 0.1, 0.2),
    "geometry.turn.solve.YAW_SD_LARGEST": (2.0, 3.0, 6.0),
}

FRAME: Tried = {
    "geometry.turn.solve.FRAME_GROUPS_LEAST": (2, 4),
    "geometry.turn.solve.FRAME_SD_LARGEST": (1.0, 2.0),
    "geometry.turn.solve.FRAME_LOOSENESS_MOST": (1.1, 1.3, 1.6),
    "geometry.turn.solve.FRAME_DOUBT": (0.0, 2.2, 100.0),
}

OUTLINES: Tried = {
    "geometry.outlines.extents.ROWS_PER_HEIGHT": (100, 300, 1000),
    "geometry.outlines.extents.SLIP_PX": (0.0, 2.0, 4.0),
    "geometry.outlines.extents.SLIP_SHARE": (0.0, 0.002, 0.004),
    "geometry.outlines.extents.OUTLINE_COVERAGE": (0.0, 1.0, 2.0, 3.0),
    "geometry.outlines.inequalities.DIRECTION_GAP_SAME": (0.0, 1.0, 3.0),
    "geometry.outlines.inequalities.DIRECTION_GAP_ENOUGH": (0.0, 10.0, 20.0, 40.0, 60.0),
    "geometry.outlines.slack.EXTENT_PX": (1.0, 2.0, 3.0, 5.0),
    "geometry.outlines.slack.EXTENT_SHARE": (0.0, 0.003, 0.006),
    "geometry.outlines.stretches.STRETCH_MENDED_SHARE": (0.5, 0.75, 0.9, 1.0),
    "geometry.outlines.examine.STRETCH_SHORTEST_SHARE": (0.0025, 0.005, 0.01, 0.02),
    "geometry.outlines.symmetry.YAW_FACING": (1.0, 5.0, 15.0),
    "geometry.outlines.symmetry.LOPSIDED_SHARE": (0.0, 0.02, 0.05, 0.08, 0.15, 0.5),
    "geometry.outlines.symmetry.LOPSIDED_MARGIN": (0.0, 0.02, 0.05),
}

CAMERA: Tried = {
    "geometry.camera.TILT_LEAST": (0.0, 0.5, 1.0, 1.5, 2.0),
    "geometry.camera.PERSPECTIVE_LEAST": (0.0, 0.04, 0.1),
    "geometry.camera.CAMERA_COVERAGE": (2.0, 3.0, 4.0, 5.0),
}

COLOURS: Tried = {
    "geometry.colour_matching.DELTA_E_SAME_PAINT": (4.0, 7.0, 10.0, 14.0, 20.0),
    "geometry.colour_matching.DELTA_E_SAME_SMALL": (1.5, 3.0, 5.0, 10.0),
    "geometry.colour_matching.FILL_SHARE_SMALL": (0.0, 0.003, 0.01, 0.03),
    "geometry.colour_matching.FILL_SHARE_OWN_PAINT": (0.0, 0.002, 0.004, 0.01, 0.03),
    "geometry.colour_matching.PLACE_OVERLAP_LEAST": (0.0, 0.3, 0.5, 0.7, 0.9),
    "geometry.colour_matching.PLACE_AS_LARGE": (1.0, 2.0, 3.0, 5.0),
}

FILLS: Tried = {
    "images.flat_colours.REACH_EVEN": (1.0, 2.0, 3.0, 5.0),
    "images.flat_colours.REACH_GRAINY": (2.0, 3.5, 5.0, 8.0, 12.0),
}

WEIGHTS: Tried = {"checks.line_weight.LEAST_SD": (0.0, 0.02, 0.05, 0.1, 0.2)}

LINE_WORK: Tried = {
    "images.stroke_width.SEEN_SHARE_LEAST": (0.05, 0.15, 0.25, 0.4, 0.6),
    "images.stroke_width.WIDTH_SPREAD_MOST": (0.2, 0.4, 0.6, 0.8, 1.2),
}

PAPER: Tried = {
    "images.paper.paper.PAPER_SPREADS": (2.5, 3.5, 4.5, 6.0, 8.0),
    "images.paper.on_paper.STRONG_STEP": (
        *((lower, 32.0) for lower in (8.0, 12.0, 18.0, 24.0)),
        (18.0, 24.0),
        (18.0, 45.0),
    ),
}

RULED_LINES: Tried = {
    "images.paper.ruled_lines.RULED_THICKNESS_MOST": (0.003, 0.006, 0.008, 0.01, 0.015),
    "images.paper.ruled_lines.RULED_RUN_SLACK": (0, 1, 2),
    "images.paper.ruled_lines.RULED_LENGTH_LEAST": (0.1, 0.16, 0.22, 0.3, 0.4),
}

GAPS: Tried = {
    "images.paper.gaps.GAP_COLOUR_APART_MOST": (0.5, 1.0, 1.5, 1.9, 2.5, 3.5),
    "images.paper.gaps.GAP_DEPTH": (
        *((least, 0.12) for least in (0.004, 0.012, 0.03)),
        *((0.012, most) for most in (0.08, 0.16, 0.2)),
    ),
}

SPLITTING: Tried = {
    "images.wide_sheet.splitting.BODY_HEIGHT_LEAST": (0.2, 0.4, 0.55, 0.7, 0.9),
    "images.wide_sheet.splitting.BODY_AREA_LEAST": (0.0, 0.1, 0.2, 0.35, 0.5),
}

PARTS: Tried = {
    "images.wide_sheet.parts.PART_REACH": (0.2, 0.6, 1.5),
    "images.wide_sheet.parts.PART_APART_NEAR": (0.01, 0.03, 0.06),
    "images.wide_sheet.parts.PART_APART_FAR": (0.03, 0.1, 0.2),
}

TOUCHING: Tried = {
    "images.wide_sheet.touching.SIDE_HEIGHT_LEAST": (0.5, 0.75, 0.9),
    "images.wide_sheet.touching.SIDE_AREA_LEAST": (0.1, 0.22, 0.3),
}

DOTS: Tried = {
    "images.dots.COLOUR_APART_STEPS": ((22,), (22, 12), (22, 12, 6, 4), (12, 6, 4), (6, 4)),
    "images.dots.RIM_GAP_MOST": (0.3, 0.38, 0.42, 0.5, 1.0),
    "images.dots.BLUR_WIDTH": (0.0, 0.8, 1.5, 2.5),
}

PROPOSALS: Tried = {
    "placing.proposing.LEGS_SD": (0.05, 0.1, 0.2, 0.4),
    "placing.proposing.ROW_SD": (0.1, 0.18, 0.25, 0.29),
}

LEARNED: Tried = {
    "show.fitting.OUTLINE_SHARE": (0.95, 0.99, 0.999),
    "show.fitting.SCORES_MOST": (0.2, 0.35, 0.5, 0.8),
}

BETWEEN: Tried = {
    "geometry.outlines.between.BOUNDS_CLOSE": (0.0, 2.0, 4.0, 6.0, 100.0),
    "geometry.outlines.between.BETWEEN_BOUNDS": (0.5, 0.55, 0.6, 0.65, 0.7),
}

HABITS: Tried = {
    "show.habits.FALSE_CLAIMS": (0.005, 0.015, 0.03, 0.05),
    "show.habits.BLAME_CERTAIN_FROM": (0.0, 1.0, 2.0, 3.0),
    "show.sign_flips.COUNTS_TO": (2.0, 4.0, 8.0, 1000.0),
    "show.sign_flips.SPREAD_BELIEF": (0.0, 3.0, 10.0, 30.0, 1000.0),
}

PAGES: Mapping[str, Sequence[Tried]] = {
    "height_scale": (HEIGHT_SCALE,),
    "verdicts": (),
    "majority": (MAJORITY,),
    "sheets": (SHEETS,),
    "turn": (FRAME, ROBUST_START, DIAGNOSIS, STATED),
    "camera": (CAMERA,),
    "outlines": (OUTLINES,),
    "colours": (COLOURS, FILLS),
    "line_weight": (WEIGHTS, LINE_WORK),
    "paper": (PAPER, RULED_LINES, GAPS),
    "wide_sheets": (SPLITTING, PARTS, TOUCHING),
    "dots": (DOTS,),
    "proposals": (PROPOSALS,),
    "learned": (LEARNED,),
    "angles": (BETWEEN,),
    "habits": (HABITS,),
    "speed": (),
    "shows": (),
}
"""Every page, with the constants that it has rows for."""
