"""From one water to the few runs that are worth judging; geo/survey/body.py measures each of them."""

from collections.abc import Sequence

import numpy as np
import shapely

from geo.survey.depth.model import DepthModel
from geo.survey.usable.chord import chord
from geo.survey.usable.chords import WaterPlan, chords_through
from geo.survey.usable.deep_water import DEPTHS_M, DeepWater
from geo.survey.usable.fire_runs import FireRuns
from geo.survey.usable.pieces import Piece, chosen_pieces, pieces_of
from geo.survey.usable.skyline import Skyline

# Runs kept for a small water, and more for each square of useful_cap_m that it has, up to the settings' most_runs.
FEWEST_RUNS = 8
# Share of the runs of a large water that are chosen for depth, length and heading; the others serve fires on any side,
# and so many do in a smaller one too, where its shape asks for them.
VARIED_SHARE = 0.4
MOST_FOR_FIRES = 18
# A run whose middle is within this share of useful_cap_m from a shore is near it.
NEAR_SHARE = 1.5


def useful_pieces(
    model: DepthModel,
    water: shapely.Polygon,
    skyline: Skyline,
    deep: DeepWater,
    shape_lines: Sequence[shapely.LineString],
) -> list[Piece]:
    """Give the runs of a water that are worth judging, the clearest and longest first; empty for a small water.

    Parameters: the water's depth model, what is left of it today, what rises round it, its picture of sure depths;
    shape_lines, the longest run and those of the rose.
    Notes: nothing is cut where the longest run is below least_useful_m: no piece of it is of use.
    """
    settings = skyline.around.settings
    long_lines = [line for line in shape_lines if line.length >= settings.least_useful_m]
    if not long_lines:
        return []
    plan = WaterPlan(water, settings)
    lines = [*long_lines, *chords_through(plan, deep, model)]
    pieces = [piece for line in lines for piece in pieces_of(chord(line, skyline), deep, settings)]
    squares = water.area / settings.useful_cap_m**2
    most = min(settings.most_runs, FEWEST_RUNS + int(8.0 * squares))
    count = min(settings.most_runs, max(FEWEST_RUNS, int(VARIED_SHARE * most)))
    varied = chosen_pieces(_near_shore(pieces, plan), count, settings)
    further = min(settings.most_runs, max(most, MOST_FOR_FIRES)) - len(varied)
    return varied + FireRuns(plan, deep, skyline).beside(varied, further)


def _near_shore(pieces: list[Piece], plan: WaterPlan) -> list[Piece]:
    """Leave out pieces far from any shore that are no deeper than nearer ones: over open water height is hard to judge.

    References: selection factors of the Spanish professional pilots' college, 8 Aug 2018: near the shore on large
    reservoirs.
    """
    shore_m = plan.shore_m(np.asarray(shapely.points([piece.middle() for piece in pieces])))
    near = shore_m <= NEAR_SHARE * plan.settings.useful_cap_m
    depth_m = np.minimum([piece.sure_depth_m for piece in pieces], DEPTHS_M[0])
    best_m = depth_m[near].max() if near.any() else -1.0
    return [pieces[i] for i in np.flatnonzero(near | (depth_m > best_m))]
