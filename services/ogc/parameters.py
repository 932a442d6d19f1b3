"""The query of an items request, read from the URL: every parameter known, once, and understood, or it is refused.

Sources: OGC API - Features Part 1 (17-069r4) 7.15; Part 2 (18-058r1) for crs and bbox-crs; Part 3 (19-079r2) for
filter, filter-lang, filter-crs and one parameter for each property.
"""

import math
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time

from starlette.datastructures import QueryParams

from services.errors import BadQuery
from services.http.parameter_checks import refuse_unknown
from services.ogc.crs import Box, Crs, boxes_of, find
from services.ogc.layer import FeatureLayer, Property

DEFAULT_LIMIT = 100
MOST_FEATURES = 1_000
MOST_OFFSET = 10_000_000
ITEMS_PARAMETERS = (
    *("f", "limit", "offset", "bbox", "bbox-crs", "crs", "datetime"),
    *("filter", "filter-lang", "filter-crs"),
)


@dataclass(frozen=True)
class ItemsQuery:
    """What is asked of one collection. `times` are begin and end, None where open."""

    limit: int
    offset: int
    crs: Crs
    boxes: tuple[Box, ...] = ()
    times: tuple[datetime | None, datetime | None] | None = None
    equals: tuple[tuple[Property, object], ...] = ()
    filter_text: str | None = None
    filter_language: str = "cql2-text"
    filter_crs: Crs | None = None
    given: tuple[tuple[str, str], ...] = field(default=())


def items_query(given: QueryParams, layer: FeatureLayer, systems: tuple[Crs, ...]) -> ItemsQuery:
    """Give what an items request asks.

    Raises: BadQuery for a parameter that is unknown, repeated or not understood.
    """
    refuse_unknown(given, (*ITEMS_PARAMETERS, *(one.name for one in layer.properties)))
    language = given.get("filter-lang", "cql2-text")
    if language not in ("cql2-text", "cql2-json"):
        raise BadQuery("filter-lang", "not known", "cql2-text or cql2-json")
    if "filter" not in given and ("filter-lang" in given or "filter-crs" in given):
        raise BadQuery("filter", "is missing", "give filter, or leave filter-lang and filter-crs out")
    if "bbox-crs" in given and "bbox" not in given:
        raise BadQuery("bbox", "is missing", "give bbox, or leave bbox-crs out")
    box_crs = find(given.get("bbox-crs"), systems, "bbox-crs")
    return ItemsQuery(
        limit=min(_whole(given, "limit", DEFAULT_LIMIT, 1), MOST_FEATURES),
        offset=_whole(given, "offset", 0, 0),
        crs=find(given.get("crs"), systems, "crs"),
        boxes=tuple(boxes_of(_numbers(given["bbox"]), box_crs)) if "bbox" in given else (),
        times=interval(given["datetime"]) if "datetime" in given else None,
        equals=tuple(
            (one, property_value(one, given[one.name])) for one in layer.properties if one.name in given
        ),
        filter_text=given.get("filter"),
        filter_language=language,
        filter_crs=find(given.get("filter-crs"), systems, "filter-crs"),
        given=tuple(given.multi_items()),
    )


def _whole(given: QueryParams, name: str, default: int, least: int) -> int:
    text = given.get(name)
    if text is None:
        return default
    # A limit above the largest page is answered with the largest page (Core, permission in 7.15.2).
    if not (text.isascii() and text.isdigit()) or len(text) > 12 or int(text) < least:
        raise BadQuery(name, f"needs a whole number from {least}", f"{name}={max(default, least)}")
    if name == "offset" and int(text) > MOST_OFFSET:
        raise BadQuery(name, f"is above {MOST_OFFSET}", "follow the links next, or narrow the question")
    return int(text)


def _numbers(text: str) -> list[float]:
    try:
        return [float(part) for part in text.split(",")]
    except ValueError as error:
        raise BadQuery("bbox", "needs numbers", "bbox=west,south,east,north") from error


def property_value(one: Property, text: str) -> object:
    """Give the value that a property is asked to equal, by its kind.

    Raises: BadQuery when the text is no such value.
    """
    try:
        if "\0" in text:
            raise ValueError
        if one.kind == "number":
            number = float(text)
            if not math.isfinite(number):
                raise ValueError
            return number
        if one.kind == "integer":
            whole = int(text)
            if abs(whole) >= 2**63:
                raise ValueError
            return whole
        if one.kind == "boolean":
            return {"true": True, "false": False}[text]
        if one.kind == "date":
            return date.fromisoformat(text)
        return _moment(text) if one.kind == "date-time" else text
    except (ValueError, KeyError) as error:
        raise BadQuery(one.name, f"is no {one.kind}", "see the queryables for its kind") from error


def interval(text: str) -> tuple[datetime | None, datetime | None]:
    """Give begin and end of a `datetime` parameter; an open end is None, a day is the whole of it.

    Raises: BadQuery for no RFC 3339 date or time, a single open end, or an interval that ends before it begins.
    """
    cure = "datetime=2026-01-31T12:00:00Z, 2026-01-31, 2026-01-01/2026-02-28, or .. for an open end"
    ends = text.split("/")
    if len(ends) > 2 or (len(ends) == 1 and text in ("", "..")):
        raise BadQuery("datetime", "needs one time or two with a slash between", cure)
    try:
        begin = None if ends[0] in ("", "..") else _moment(ends[0])
        end = None if ends[-1] in ("", "..") else _moment(ends[-1], end_of_day=True)
    except ValueError as error:
        raise BadQuery("datetime", "is no date or time of RFC 3339", cure) from error
    if begin is not None and end is not None and end < begin:
        raise BadQuery("datetime", "ends before it begins", cure)
    return begin, end


def _moment(text: str, end_of_day: bool = False) -> datetime:
    if len(text) == 10:
        day = date.fromisoformat(text)
        return datetime.combine(day, time.max if end_of_day else time.min, UTC)
    return zoned(text)


def zoned(text: str) -> datetime:
    """Give an RFC 3339 time in UTC. Raises: ValueError for anything else, and for a time without a zone."""
    if len(text) < 20 or text[10] not in "Tt":
        raise ValueError("no RFC 3339 time")
    moment = datetime.fromisoformat(text)
    if moment.tzinfo is None:
        raise ValueError("no zone")
    try:
        return moment.astimezone(UTC)
    except OverflowError as error:
        raise ValueError("before the first or after the last year") from error
