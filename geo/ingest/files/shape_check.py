"""What is wrong with shapes before anything is computed: type, size, numbers, axis order. Runs in the worker."""

from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely

from geo.ingest.files.crs_reading import ToDegrees
from geo.ingest.files.refusal import Note, Refusal, left_out

MAX_FEATURES = 200_000
MAX_FEATURE_VERTICES = 1_000_000
MAX_FILE_VERTICES = 5_000_000
MAX_LATITUDE_DEG = 89.0
# What is expected -> the same in words, and the type numbers of GEOS that fit.
SHAPES: dict[str, tuple[str, Sequence[int]]] = {
    "polygon": ("a polygon", (3, 6)),
    "point": ("a single point", (0,)),
    "line": ("a line", (1, 2, 5)),
    "any": ("a shape", range(8)),
}


def _set_aside(shapes: np.ndarray, row: int | np.integer, rule: str, fix: str, **place: Any) -> Note:
    """Take one shape out, counted from 0, and give the fault."""
    shapes[row] = None
    return left_out(row + 1, rule, fix, **place)


def sound_shapes(wkb: np.ndarray, expect: str) -> tuple[np.ndarray, list[Note]]:
    """Give the shapes of a layer as 2-D geometries, None where one was set aside, and the faults.

    Raises: Refusal when the file holds more than MAX_FILE_VERTICES.
    """
    with np.errstate(invalid="ignore"):
        shapes = shapely.force_2d(shapely.from_wkb(wkb, on_invalid="fix"))
    sizes = shapely.get_num_coordinates(shapes)
    if sizes.sum() > MAX_FILE_VERTICES:
        rule = f"the layer has more than {MAX_FILE_VERTICES} vertices"
        raise Refusal(rule, "simplify it", value=sizes.sum())
    usable = np.isin(shapely.get_type_id(shapes), SHAPES[expect][1]) & ~shapely.is_empty(shapes)
    faults = []
    for row in np.flatnonzero(~usable):
        shape, fix = shapes[row], "draw it, or delete the row"
        if shape is not None and not shape.is_empty:
            rule, fix = (
                f"{SHAPES[expect][0]} is needed, not {shape.geom_type}",
                "draw it as needed, or delete it",
            )
        elif shape is None and wkb[row] is not None:
            rule = "the shape is damaged"
        else:
            rule = "the shape is missing or empty"
        faults.append(_set_aside(shapes, row, rule, fix))
    rule = f"the shape has more than {MAX_FEATURE_VERTICES} vertices"
    for row in np.flatnonzero(sizes > MAX_FEATURE_VERTICES):
        faults.append(_set_aside(shapes, row, rule, "simplify it", value=sizes[row]))
    return shapes, faults + _drop_wild_numbers(shapes)


def _drop_wild_numbers(shapes: np.ndarray) -> list[Note]:
    coordinates, owner = shapely.get_coordinates(shapes, return_index=True)
    faults = []
    wild = np.asarray(~np.isfinite(coordinates).all(axis=1))
    for row in np.unique(owner[wild]):
        vertex = int(np.flatnonzero(wild[owner == row])[0]) + 1
        rule = f"vertex {vertex} is not a number or infinite"
        faults.append(_set_aside(shapes, row, rule, "mend the vertex"))
    at_zero = np.all(coordinates == 0.0, axis=1) & np.asarray(shapely.get_type_id(shapes) == 0)[owner]
    rule, fix = "the point lies at 0, 0, where nobody put it", "give its true position"
    return faults + [_set_aside(shapes, row, rule, fix) for row in np.unique(owner[at_zero])]


def _corner(position: np.ndarray) -> str:
    return f"{position[0]:.7g}, {position[1]:.7g}"


def check_degrees(coordinates: np.ndarray) -> None:
    """Judge numbers that should be longitude and latitude as a whole.

    Raises: Refusal when most are no degrees at all, or when they fit only with the two swapped.
    """
    if len(coordinates) == 0:
        return
    east, north = np.abs(coordinates[:, 0]), np.abs(coordinates[:, 1])
    outside = (east > 360.0) | (north > 90.0)
    if outside.mean() <= 0.5:
        return
    corner = _corner(coordinates[outside][0])
    if ((east <= 90.0) & (north <= 360.0)).mean() > 0.5:
        rule = "latitudes beyond 90 degrees: longitude and latitude are swapped"
        raise Refusal(rule, "write longitude first, then latitude", "ask", value=corner)
    raise Refusal(
        "the coordinate system is in degrees but the numbers are not: they look projected (metres or feet)",
        "declare the coordinate system that they are in, or export in EPSG:4326",
        value=corner,
    )


def _check_metres(coordinates: np.ndarray, unit_name: str) -> None:
    if len(coordinates) and (np.abs(coordinates) <= [360.0, 90.0]).all():
        rule = f"the coordinate system is in {unit_name} but all numbers look like degrees"
        raise Refusal(rule, "declare the coordinate system that they are in", value=_corner(coordinates[0]))


def positions_in_degrees(shapes: np.ndarray, way: ToDegrees) -> tuple[np.ndarray, list[Note]]:
    """Give the shapes in WGS 84 degrees, None where a position has no place on Earth, and the faults.

    Raises: Refusal when the file as a whole is in another system than it says, or reaches a pole.
    """
    coordinates, owner = shapely.get_coordinates(shapes, return_index=True)
    if way.crs.is_geographic:
        check_degrees(coordinates)
    else:
        _check_metres(coordinates, way.crs.axis_info[0].unit_name)
    degrees = way(coordinates)
    # Written so that what is not finite is wrong, too.
    wrong = ~(np.abs(degrees) <= [360.0, 90.0]).all(axis=1)
    rule = "a vertex lies outside longitude and latitude"
    fix = "mend the vertex; longitude and latitude may be swapped"
    rows, first = np.unique(owner[wrong], return_index=True)
    faults = [
        _set_aside(shapes, row, rule, fix, value=_corner(place))
        for row, place in zip(rows, coordinates[wrong][first], strict=True)
    ]
    polar = ~wrong & (np.abs(degrees[:, 1]) > MAX_LATITUDE_DEG)
    if polar.any():
        rule = f"shapes beyond latitude {MAX_LATITUDE_DEG:g} degrees are not handled"
        raise Refusal(rule, "leave them out", value=f"{degrees[polar][0][1]:.4f}")
    degrees = np.where(wrong[:, None], 0.0, degrees)
    kept = np.array([one is not None for one in shapes])
    return shapely.set_coordinates(shapes.copy(), degrees[kept[owner]]) if kept.any() else shapes, faults
