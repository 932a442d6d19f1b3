"""Depth of one water body: evidence in, joint probabilities along a run or under a hover out.

evidence, stated, raster, chart, unsounded    what is known, in the form of numbers; ageing: what old evidence is worth
charted, bounds                               one body's chart; what no least depth may exceed, whatever evidence rules
shore, corridor                               where: distance to shore, the strip of a run, the circle of a hover
process, simulation, field                    the random field behind soundings, joint draws, mean and sigma on a grid
features, looked, unseen                      what may stand on the bed unseen: how much, who looked, what is left
recalibration (+ .json)                       what bodies with a known bed taught about the field's own figures
bed, model                                    one body with all its evidence: mean depth, volume; least depth
level, planning, next_survey                  another level: waterline, usable down to; what to sound and survey next
"""

import geo.base.kernel_cache  # noqa: F401  # before the first kernel is defined
from geo.survey.depth.field import depth_field, run_depth_probability
from geo.survey.depth.level import waterline_today
from geo.survey.depth.model import depth_model

__all__ = ["depth_field", "depth_model", "run_depth_probability", "waterline_today"]
