"""What is wrong with shapes before anything is computed: type, size, numbers, axis order. Runs in the worker."""

from typing import Any

import numpy as np
import shapely

from geo.ingest.files.crs_reading import ToDegrees
from geo.ingest.files.refusal import Note, Refusal, note

MAX_FEATURES = 200_000
MAX_FEATURE_VERTICES = 1_000_000
MAX_FILE_VERTICES = 5_000_000
MAX_LATITUDE_DEG = 89.0
POLYGON_TYPES = (3, 6)
POINT_TYPES = (0,)
LINE_TYPES = (1, 2, 5)
WANTED = {"polygon": "a polygon", "point": "a single point", "line": "a line", "any": "a shape"}


def _set_aside(row: int | np.integer, rule: str, cure: str, **place: Any) -> dict[str, Any]:
    return {**note("quarantine", rule, cure, **place), "row": int(row) + 1}


def sound_shapes(wkb: np.ndarray, expect: str) -> tuple[np.ndarray, list[Note]]:
    """Give the shapes of a layer as 2-D geometries, None where one was set aside, and the faults.

    Raises: Refusal when the file holds more than MAX_FILE_VERTICES.
    """
    with np.errstate(invalid="ignore"):
        shapes = shapely.force_2d(shapely.from_wkb(wkb, on_invalid="fix"))
    present = np.array([one is not None for one in wkb])
    sizes = shapely.get_num_coordinates(shapes)
    if sizes.sum() > MAX_FILE_VERTICES:
        raise Refusal(
            f"the layer has more than {MAX_FILE_VERTICES} vertices", "simplify it", value=sizes.sum()
        )
    faults = [*_drop_unwanted(shapes, present, expect), *_drop_giants(shapes, sizes)]
    return shapes, faults + _drop_wild_numbers(shapes)


def _drop_unwanted(shapes: np.ndarray, present: np.ndarray, expect: str) -> list[Note]:
    faults = []
    for row in np.flatnonzero(~_usable(shapes, expect)):
        shape = shapes[row]
        if shape is None or shape.is_empty:
            rule = (
                "the shape is missing or empty"
                if not present[row] or shape is not None
                else "the shape is damaged"
            )
            faults.append(_set_aside(row, rule, "draw it, or delete the row"))
        else:
            faults.append(
                _set_aside(
                    row,
                    f"{WANTED[expect]} is needed, not {shape.geom_type}",
                    "draw it as needed, or delete it",
                )
            )
        shapes[row] = None
    return faults


def _drop_giants(shapes: np.ndarray, sizes: np.ndarray) -> list[Note]:
    faults = []
    for row in np.flatnonzero(sizes > MAX_FEATURE_VERTICES):
        faults.append(
            _set_aside(
                row,
                f"the shape has more than {MAX_FEATURE_VERTICES} vertices",
                "simplify it",
                value=sizes[row],
            )
        )
        shapes[row] = None
    return faults


def _usable(shapes: np.ndarray, expect: str) -> np.ndarray:
    types = shapely.get_type_id(shapes)
    usable = (types >= 0) & ~shapely.is_empty(shapes)
    if expect == "polygon":
        usable &= np.isin(types, POLYGON_TYPES)
    elif expect == "point":
        usable &= np.isin(types, POINT_TYPES)
    elif expect == "line":
        usable &= np.isin(types, LINE_TYPES)
    return usable


def _drop_wild_numbers(shapes: np.ndarray) -> list[Note]:
    coordinates, owner = shapely.get_coordinates(shapes, return_index=True)
    faults = []
    wild = np.asarray(~np.isfinite(coordinates).all(axis=1))
    for row in np.unique(owner[wild]):
        vertex = int(np.flatnonzero(wild[owner == row])[0]) + 1
        faults.append(_set_aside(row, f"vertex {vertex} is not a number or infinite", "mend the vertex"))
        shapes[row] = None
    at_zero = np.all(coordinates == 0.0, axis=1) & np.asarray(shapely.get_type_id(shapes) == 0)[owner]
    for row in np.unique(owner[at_zero]):
        faults.append(
            _set_aside(row, "the point lies at 0, 0, where nobody put it", "give its true position")
        )
        shapes[row] = None
    return faults


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
    corner = f"{coordinates[outside][0][0]:.7g}, {coordinates[outside][0][1]:.7g}"
    if ((east <= 90.0) & (north <= 360.0)).mean() > 0.5:
        raise Refusal(
            "latitudes beyond 90 degrees: longitude and latitude are swapped",
            "write longitude first, then latitude",
            "ask",
            value=corner,
        )
    raise Refusal(
        "the coordinate system is in degrees but the numbers are not: they look projected (metres or feet)",
        "declare the coordinate system that they are in, or export in EPSG:4326",
        value=corner,
    )


def _check_metres(coordinates: np.ndarray, unit_name: str) -> None:
    if len(coordinates) and (np.abs(coordinates) <= [360.0, 90.0]).all():
        raise Refusal(
            f"the coordinate system is in {unit_name} but all numbers look like degrees",
            "declare the coordinate system that they are in",
            value=f"{coordinates[0][0]:.7g}, {coordinates[0][1]:.7g}",
        )


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
    wrong = (
        ~np.isfinite(degrees).all(axis=1) | (np.abs(degrees[:, 1]) > 90.0) | (np.abs(degrees[:, 0]) > 360.0)
    )
    faults = []
    for row in np.unique(owner[wrong]):
        first = coordinates[(owner == row) & wrong][0]
        faults.append(
            _set_aside(
                row,
                "a vertex lies outside longitude and latitude",
                "mend the vertex; longitude and latitude may be swapped",
                value=f"{first[0]:.7g}, {first[1]:.7g}",
            )
        )
        shapes[row] = None
    polar = ~wrong & (np.abs(degrees[:, 1]) > MAX_LATITUDE_DEG)
    if polar.any():
        raise Refusal(
            f"shapes beyond latitude {MAX_LATITUDE_DEG:g} degrees are not handled",
            "leave them out",
            value=f"{degrees[polar][0][1]:.4f}",
        )
    degrees = np.where(wrong[:, None], 0.0, degrees)
    kept = np.array([one is not None for one in shapes])
    return shapely.set_coordinates(shapes.copy(), degrees[kept[owner]]) if kept.any() else shapes, faults
