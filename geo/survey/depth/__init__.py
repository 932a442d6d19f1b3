"""Depth of one water body: evidence in, joint probabilities along a run or under a hover out."""

from geo.survey.depth.field import (
    DepthField,
    depth_field,
    lowest_pointwise_probability,
    run_depth_probability,
)
from geo.survey.depth.model import DepthModel, depth_model

__all__ = [
    "DepthField",
    "DepthModel",
    "depth_field",
    "depth_model",
    "lowest_pointwise_probability",
    "run_depth_probability",
]
