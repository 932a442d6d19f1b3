"""Depth of one water body: evidence in, joint probabilities along a run or under a hover out.

evidence, stated, raster, chart, unsounded    what is known, in the form of numbers; ageing: what old evidence is worth
charted, bounds                               one body's chart; what no least depth may exceed, whatever evidence rules
shore, corridor                               where: distance to shore, the strip of a run, the circle of a hover
process, simulation, field                    the random field behind soundings, joint draws, mean and sigma on a grid
recalibration (+ .json)                       what bodies with a known bed taught about the field's own figures
bed, model                                    one body with all its evidence: mean depth, volume; least depth
level, planning                               another level: waterline, usable down to; the next sounding
"""

from geo.survey.depth.field import DepthField, depth_field, run_depth_probability
from geo.survey.depth.level import usable_down_to, waterline, waterline_today
from geo.survey.depth.model import DepthModel, depth_model
from geo.survey.depth.planning import next_sounding

__all__ = [
    "DepthField",
    "DepthModel",
    "depth_field",
    "depth_model",
    "next_sounding",
    "run_depth_probability",
    "usable_down_to",
    "waterline",
    "waterline_today",
]
