"""Headings as directions in the plane."""

import numpy as np

from geo.base.errors import BadArgument

# East and north of the multiples of 45 deg, where a direction of other than unit length is exact.
_EIGHTHS = ((0, 1), (1, 1), (1, 0), (1, -1), (0, -1), (-1, -1), (-1, 0), (-1, 1))


def heading_direction(heading_deg: float) -> tuple[float, float]:
    """Give the direction (east, north) of a heading; not of unit length at multiples of 45 deg, where it is exact."""
    eighth, rest = divmod(heading_deg % 360.0, 45.0)
    if rest == 0.0:
        east, north = _EIGHTHS[int(eighth) % 8]
        return float(east), float(north)
    return float(np.sin(np.radians(heading_deg))), float(np.cos(np.radians(heading_deg)))


def heading_fan(headings_deg: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Give the different lines of a list of headings: directions (m, 2), which one each heading has, and its sense.

    A heading and its opposite share a line; sense is 1.0 along it, -1.0 against it.
    Raises: BadArgument when a heading is no finite number.
    """
    headings = np.asarray(headings_deg, float)
    if headings.ndim != 1 or not np.isfinite(headings).all():
        raise BadArgument(f"headings_deg is {headings_deg!r}: give a list of finite numbers of degrees.")
    turned = headings % 360.0
    axes, line_of = np.unique(turned % 180.0, return_inverse=True)
    directions = np.array([heading_direction(axis) for axis in axes]).reshape(-1, 2)
    return directions, line_of, np.where(turned < 180.0, 1.0, -1.0)
