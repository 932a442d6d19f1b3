"""Levels and closures of the day as they come in, by CSV or HTTP, read into records or refused with every fault."""

import json
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any

import shapely

from geo import pipeline
from geo.base.errors import BadArgument, BadInput, FetchwaterError
from geo.base.fault import Fault
from geo.records.day import ClosedArea, LevelReading
from geo.records.geographic_shapes import geographic
from geo.records.region import Region
from services.core import quantities

MOST_ROWS = 10_000
MOST_BYTES = 5 * 1024**2
LEVEL_COLUMNS = ("body", "level", "read_at", "until")
CLOSURE_COLUMNS = (
    *("id", "name", "kind", "reason", "from", "to"),
    *("body", "longitude", "latitude", "radius", "outline"),
)
KINDS = ("no filling", "no flying")
# A clock that runs ahead by more is wrong (our choice, no source).
AHEAD = timedelta(minutes=10)
Row = Mapping[str, str]


def csv_rows(data: bytes, file: str, columns: Sequence[str]) -> list[tuple[str, Row]]:
    """Give the rows of a CSV table, each with the words for where it stands.

    Raises: BadInput for a broken table, or columns that are not among those known.
    """
    if len(data) > MOST_BYTES:
        raise BadInput.of(file, f"the table is over {MOST_BYTES} bytes", "split it")
    rows = pipeline.table_rows(data, file, columns)
    return [(f"line {line}", row) for line, row in rows]


def limited(rows: list[tuple[str, Row]], file: str) -> list[tuple[str, Row]]:
    """Give the rows. Raises: BadInput for none, or more than MOST_ROWS."""
    if not 0 < len(rows) <= MOST_ROWS:
        raise BadInput.of(file, f"{len(rows)} rows; 1 to {MOST_ROWS} are taken at once", "split the table")
    return rows


def readings(rows: Sequence[tuple[str, Row]], region: Region, file: str, now: datetime) -> list[LevelReading]:
    """Give the levels of the rows (columns body, level, read_at, until), body by id or only name.

    Raises: BadInput with every fault of every row; then none is taken.
    """
    found = _each(rows, file, lambda where, row: _reading(row, region, f"{file} {where}", now))
    seen: dict[tuple[str, datetime], str] = {}
    twice = []
    for (where, _), one in zip(rows, found, strict=True):
        if (one.body_id, one.read_at) in seen:
            rule = f"the same water at the same moment stands in {seen[one.body_id, one.read_at]} too"
            twice.append(Fault("refuse", file, rule, "keep one of them", feature=where))
        seen[one.body_id, one.read_at] = where
    if twice:
        raise BadInput(twice)
    return found


def _each(rows: Sequence[tuple[str, Row]], file: str, read: Callable[[str, Row], Any]) -> list[Any]:
    found, faults = [], []
    for where, row in rows:
        try:
            found.append(read(where, row))
        except BadInput as refusal:
            faults += [replace(one, file=file, feature=where) for one in refusal.faults]
        except FetchwaterError as refusal:
            rule, _, cure = str(refusal).partition(" Fix: ")
            faults.append(Fault("refuse", file, rule.rstrip("."), cure or "mend the row", feature=where))
    if faults:
        raise BadInput(faults)
    return found


def _wrong(field: str, value: str | None, rule: str, cure: str) -> BadInput:
    """The fault of one cell; `_each` adds file and line."""
    return BadInput.of("", rule, cure, field=field, value=None if value is None else value[:40])


def _needed(row: Row, name: str) -> str:
    value = (row.get(name) or "").strip()
    if not value:
        raise _wrong(name, None, "the cell is empty", "fill it in")
    return value


def _read(name: str, text: str, read: Callable[[str], Any], cure: str) -> Any:
    """Give what a cell says. Raises: BadInput naming the cell, its value and the rule that `read` has for it."""
    try:
        return read(text)
    except BadArgument as refusal:
        rule = str(refusal).partition(" Fix: ")[0].rstrip(".")
        # What reads a quantity names it with its value, which stand in the fault by themselves.
        raise _wrong(name, text, rule.rpartition(f"{text!r}: ")[2], cure) from refusal


def moment(text: str, name: str) -> datetime:
    """Give a moment from 2026-01-31T06:00Z or 2026-01-31T16:00+10:00.

    Raises: BadInput without a zone, or for no moment.
    """
    cure = "write 2026-01-31T06:00Z, or with +10:00 behind it"
    if re.fullmatch(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d(:\d\d(\.\d{1,6})?)?(Z|[+-]\d\d:\d\d)", text) is None:
        raise _wrong(name, text, "needs a day, a time and a zone", cure)
    try:
        return datetime.fromisoformat(text)
    except ValueError as problem:
        raise _wrong(name, text, "is no moment", cure) from problem


def _level_m(text: str) -> float:
    bare = re.fullmatch(r"[+-]?\d+(\.\d+)?", text, re.ASCII) is not None
    return quantities.length_m(f"{text}m" if bare else text)


def _reading(row: Row, region: Region, origin: str, now: datetime) -> LevelReading:
    body = pipeline.named_body(region, _needed(row, "body"), origin)
    level_m = _read("level", _needed(row, "level"), _level_m, "write metres, 58.8, or feet, 193ft")
    read_at = moment(_needed(row, "read_at"), "read_at")
    end = (row.get("until") or "").strip()
    until = moment(end, "until") if end else None
    if read_at > now + AHEAD and until is None:
        rule, cure = "lies in the future", "mend it, or say in until how long the forecast counts"
        raise _wrong("read_at", row["read_at"].strip(), rule, cure)
    found = LevelReading(body.body_id, level_m, read_at, until, origin)
    pipeline.check_reading(region, found, origin)
    return found


def closures(rows: Sequence[tuple[str, Row]], region: Region, file: str) -> list[ClosedArea]:
    """Give the closures of the rows; each closes a water (body), a circle (longitude, latitude, radius) or a GeoJSON
    outline.

    Raises: BadInput with every fault of every row; then none is taken.
    """
    found = _each(rows, file, lambda where, row: _closure(row, region, f"{file} {where}"))
    ids = [one.closure_id for one in found]
    twice = sorted({one for one in ids if ids.count(one) > 1})
    if twice:
        raise BadInput(
            [Fault("refuse", file, f"the id {one!r} stands twice", "give each its own") for one in twice]
        )
    return found


def _closure(row: Row, region: Region, origin: str) -> ClosedArea:
    kind = _needed(row, "kind")
    if kind not in KINDS:
        raise _wrong("kind", kind, "is not known", f"write one of {', '.join(KINDS)}")
    start, end = (_day(row, name) for name in ("from", "to"))
    if start is not None and end is not None and end < start:
        raise _wrong("to", str(end), f"the closure ends before it begins, on {start}", "mend from and to")
    outline, body_id = _outline(row, region, origin)
    closure_id = _needed(row, "id")
    name = (row.get("name") or "").strip() or closure_id
    return ClosedArea(closure_id, name, kind, _needed(row, "reason"), outline, body_id, start, end, origin)  # type: ignore[arg-type]


def _day(row: Row, name: str) -> date | None:
    text = (row.get(name) or "").strip()
    return _read(name, text, quantities.day, "write YYYY-MM-DD, for example 2026-01-31") if text else None


def _outline(row: Row, region: Region, origin: str) -> tuple[shapely.Geometry, str | None]:
    given = {name for name in ("body", "outline", "longitude") if (row.get(name) or "").strip()}
    if len(given) != 1:
        raise BadArgument(
            "the place is not said, or twice. Fix: fill in body, or longitude, latitude and radius, or outline"
        )
    if given == {"body"}:
        body = pipeline.named_body(region, row["body"].strip(), origin)
        return geographic(body.polygon, region.frame), body.body_id
    if given == {"outline"}:
        try:
            drawn = json.loads(row["outline"])
        except ValueError as problem:
            raise _wrong("outline", row["outline"], "is no GeoJSON", "write a GeoJSON Polygon") from problem
        return pipeline.drawn_outline(region, drawn, origin), None
    radius = _needed(row, "radius")
    radius_m = _read("radius", radius, quantities.length_m, "write a number with its unit, 500m or 1600ft")
    if not 1.0 <= radius_m <= 100_000.0:
        raise _wrong("radius", radius, "lies outside 1 m to 100 km", "mend it, or draw an outline")
    longitude, latitude = (_degrees(row, name) for name in ("longitude", "latitude"))
    return pipeline.circle_outline(region, longitude, latitude, radius_m, origin), None


def _degrees(row: Row, name: str) -> float:
    text = _needed(row, name)
    if re.fullmatch(r"[+-]?\d{1,3}(\.\d+)?", text, re.ASCII) is None:
        raise _wrong(name, text, "is no figure in degrees", "write WGS 84 degrees, -128.0851")
    return float(text)
