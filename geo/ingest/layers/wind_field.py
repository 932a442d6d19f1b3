"""Reads a wind field: a GeoTIFF of two bands, or a grid in longitude and latitude that comes over the network.

Both hold the parts of the wind that blow TOWARDS true east (u) and true north (v) in metres a second, as weather models
give them; nodata is unknown, and a leg that meets unknown wind is not flown.
"""

import hashlib
import json
from pathlib import Path
from typing import Any

import numpy as np

from geo.base.errors import BadInput
from geo.base.geodesy import WGS84, to_degrees, to_plane
from geo.base.grid import Grid
from geo.ingest.checks.report import FileReport
from geo.ingest.files.process import Worker
from geo.ingest.layers.drawn import BODY, is_number
from geo.ingest.layers.reader import reading
from geo.records.conditions import GREATEST_WIND_MS, WindField
from geo.records.region import Region

PARTS = ("u", "v")
METRES_A_SECOND = ("m/s", "m s-1", "m s**-1", "m.s-1", "metre per second", "[m/s]")
MOST_NODES = 250_000
LEAST_CELLS = 64
MOST_BYTES = 2 * 1024**3
GRID_FIX = (
    "send longitude_deg and latitude_deg as rising or falling lists of at least two numbers, and u_ms and v_ms as one "
    "row for each latitude, null where unknown"
)


def read_wind_field(path: Path, region: Region, worker: Worker | None = None) -> WindField:
    """Give the wind field of a GeoTIFF whose two bands are u and v [m/s].

    Raises: BadInput with every fault: no such file, another count of bands, no place, another unit, above 100 m/s.
    Notes: warped to the region's plane; the parts stay those against true north.
    """
    path = Path(path)
    if not path.is_file() or path.stat().st_size > MOST_BYTES:
        rule = "there is no such file, or it is too large"
        raise BadInput.of(path.name, rule, "give a GeoTIFF with u and v")
    found: list[Grid] = []
    with reading(path.resolve().parent, worker) as reader:
        for number, name in enumerate(PARTS, start=1):
            plane = region.frame.crs_wkt
            answer = reader.ask_worker(
                "read raster", path.name, metric_wkt=plane, band=number, bands=len(PARTS)
            )
            if answer is None:
                break  # what is wrong with the file is said once
            _check_unit(answer["unit"], name, reader.report.about(path.name))
            found.append(_grid(answer))
    with path.open("rb") as stream:
        digest = hashlib.file_digest(stream, "sha256").hexdigest()
    return _field(path.name, digest, found)


def _check_unit(unit: str | None, name: str, report: FileReport) -> None:
    if unit is not None and unit.strip().lower() not in METRES_A_SECOND:
        fix = "convert it to metres a second, or mend the unit that the file states"
        report.add("ask", f"the file says that its band {name} is in {unit}", fix, field=name, value=unit)


def _grid(answer: dict[str, Any]) -> Grid:
    frame = (answer[key] for key in ("west_m", "north_m", "cell_east_m", "cell_north_m"))
    return Grid(np.asarray(answer["values"], dtype=float), *frame)


def _field(origin: str, digest: str, parts: list[Grid]) -> WindField:
    """Put the parts together: known only where both are, and no speed above what any wind has.

    Raises: BadInput.
    """
    speed = np.hypot(parts[0].values, parts[1].values)
    if not np.any(np.isfinite(speed)):
        raise BadInput.of(origin, "no place has both u and v", "export the field again")
    greatest = float(np.nanmax(speed))
    if greatest > GREATEST_WIND_MS:
        rule = f"a wind of {greatest:.0f} m/s is above {GREATEST_WIND_MS:.0f} m/s"
        raise BadInput.of(origin, rule, "give u and v in metres a second, and declare nodata in the file")
    return WindField(origin, digest, *parts)


def wind_field_from_grid(body: Any, region: Region) -> WindField:
    """Give the wind field of a JSON object with longitude_deg, latitude_deg, u_ms and v_ms.

    Raises: BadInput for another form, more than MOST_NODES places, or values that are no wind. No file is opened.
    Notes: read bilinearly in degrees, at cells of the region's plane about as wide as the closest steps of the lists,
    at least 64 across.
    """
    # Loaded here: it takes a third of a second of every command, and few questions carry a wind field.
    from scipy.interpolate import RegularGridInterpolator

    if not isinstance(body, dict) or set(body) != {"longitude_deg", "latitude_deg", "u_ms", "v_ms"}:
        raise BadInput.of(BODY, "a wind field is an object of four lists", GRID_FIX)
    longitude, latitude = (_axis(body[key], key) for key in ("longitude_deg", "latitude_deg"))
    shape = len(latitude), len(longitude)
    if shape[0] * shape[1] > MOST_NODES:
        rule = f"the wind field has more than {MOST_NODES:,} places"
        raise BadInput.of(BODY, rule, "cut it down to the region")
    parts = [_values(body[key], key, shape) for key in ("u_ms", "v_ms")]
    if latitude[0] > latitude[-1]:
        latitude, parts = latitude[::-1], [part[::-1] for part in parts]
    if longitude[0] > longitude[-1]:
        longitude, parts = longitude[::-1], [part[:, ::-1] for part in parts]
    east, north, frame = _plane_cells(longitude, latitude, region)
    where = to_degrees(region.frame.crs_wkt, east.ravel(), north.ravel())
    middle = 0.5 * (longitude[0] + longitude[-1])
    there = np.column_stack((where[1], (where[0] - middle + 180.0) % 360.0 - 180.0 + middle))
    read = [
        RegularGridInterpolator((latitude, longitude), part, bounds_error=False, fill_value=np.nan)(there)
        for part in parts
    ]
    digest = hashlib.sha256(json.dumps(body, sort_keys=True).encode()).hexdigest()
    return _field(BODY, digest, [Grid(one.reshape(east.shape), *frame) for one in read])


def _axis(value: Any, key: str) -> np.ndarray:
    """Give an axis of degrees that rises or falls all the way."""
    limit = 360.0 if key == "longitude_deg" else 90.0
    numbers = value if isinstance(value, list) and 2 <= len(value) <= MOST_NODES else []
    # A comparison keeps out NaN and integers too large for a float.
    if not numbers or not all(is_number(one) and abs(one) <= limit for one in numbers):
        raise BadInput.of(BODY, f"{key} is no list of degrees", GRID_FIX)
    axis = np.array(numbers, dtype=float)
    step = np.diff(axis)
    if not (np.all(step > 0.0) or np.all(step < 0.0)):
        raise BadInput.of(BODY, f"{key} neither rises nor falls all the way", GRID_FIX)
    return axis


def _values(value: Any, key: str, shape: tuple[int, int]) -> np.ndarray:
    rows = value if isinstance(value, list) else []
    if [len(row) if isinstance(row, list) else None for row in rows] != [shape[1]] * shape[0]:
        raise BadInput.of(BODY, f"{key} is not {shape[0]} rows of {shape[1]} values", GRID_FIX)
    cells = (one for row in rows for one in row if one is not None)
    if not all(is_number(one) and abs(one) <= GREATEST_WIND_MS for one in cells):
        raise BadInput.of(BODY, f"{key} holds what is no wind of up to {GREATEST_WIND_MS:g} m/s", GRID_FIX)
    # None becomes NaN.
    return np.array(rows, dtype=float)


def _plane_cells(
    longitude: np.ndarray, latitude: np.ndarray, region: Region
) -> tuple[np.ndarray, np.ndarray, tuple[float, float, float, float]]:
    """Give the cell centres of a plane grid over the field and the frame of that grid."""
    edge = np.linspace(0.0, 1.0, 25)
    wide, high = (axis[0] + edge * (axis[-1] - axis[0]) for axis in (longitude, latitude))
    ring_longitude = np.concatenate((wide, wide, np.full(25, longitude[0]), np.full(25, longitude[-1])))
    ring_latitude = np.concatenate((np.full(25, latitude[0]), np.full(25, latitude[-1]), high, high))
    east, north = to_plane(region.frame.crs_wkt, ring_longitude, ring_latitude)
    if not np.all(np.isfinite(east + north)):
        raise BadInput.of(BODY, "the wind field reaches too far from the region", "cut it down to the region")
    middle = 0.5 * (latitude[0] + latitude[-1])
    across = WGS84.inv(0.0, middle, float(np.min(np.diff(longitude))), middle)[2]
    along = WGS84.inv(0.0, middle, 0.0, middle + float(np.min(np.diff(latitude))))[2]
    span = float(np.ptp(east)), float(np.ptp(north))
    # Fine enough that little is lost along the edge, where a cell is known only with all its neighbours.
    cell = max(min(across, along, min(span) / LEAST_CELLS), np.sqrt(span[0] * span[1] / MOST_NODES))
    columns, rows = (max(2, int(np.ceil(length / cell)) + 1) for length in span)
    west, top = float(east.min()) - 0.5 * cell, float(north.max()) + 0.5 * cell
    centres = west + (np.arange(columns) + 0.5) * cell, top - (np.arange(rows) + 0.5) * cell
    grid_east, grid_north = np.meshgrid(*centres)
    return grid_east, grid_north, (west, top, float(cell), float(cell))
