"""The layers that are served, made of the store's tables; what a column means is said where the exports say it."""

from dataclasses import replace

import sqlalchemy as sa

from geo.records.columns import LAYERS as EXPORTED
from geo.records.columns import Column as Described
from services.ogc.layer import FeatureLayer, Kind, Property
from services.store import tables
from services.store.column_types import Instant
from services.store.geometry import Geometry
from services.store.site_record import FOR_PLANNERS, SiteFields

# What neither the exports nor the fields of a site describe.
_OWN = {
    "added_at": "when it was entered",
    "added_by": "who entered it",
    "body_id": "the water body's stable id",
    "closure_id": "id of the closure in its source",
    "created_at": "when the site was entered",
    "input_fingerprint": "SHA-256 over region.toml and every file it names",
    "kind": "what it is",
    "name": "its name",
    "newest_on": "day of the newest of it",
    "oldest_on": "day of the oldest of it",
    "ordinal": "number of the run among those of its water, from 1",
    "origin": "where it comes from",
    "points": "how many measurements",
    "reason": "why",
    "region_id": "the region",
    "revision": "how often it was changed",
    "site_id": "the site's stable id",
    "survey_key": "the survey that the layers show",
    "surveyed_at": "when the survey of this water was made",
    "updated_at": "when it was last changed",
    "updated_by": "who changed it last",
    "valid_from": "first day on which it holds; empty is since ever",
    "valid_to": "last day on which it holds; empty is for ever",
    "vertical_datum": "what heights are counted from",
}
_UNITS = {"most_litres": "L"}
# Kept for the program, not for readers: the plane's WKT, the key of a stored record, the mark of a retired site.
_INNER = {"fid", "geom", "crs_wkt", "body_key", "retired", "withdrawn_at", "withdrawn_by"}


def _kind(column: sa.Column) -> Kind:
    if isinstance(column.type, Instant):
        return "date-time"
    kinds: tuple[tuple[type, Kind], ...] = (
        (sa.Boolean, "boolean"),
        (sa.Date, "date"),
        (sa.Integer, "integer"),
        (sa.Double, "number"),
    )
    return next((kind for type_, kind in kinds if isinstance(column.type, type_)), "string")


def _about(name: str) -> tuple[str, str]:
    """Unit and meaning of a column that the exports do not have."""
    meaning = _OWN.get(name) or SiteFields.model_fields[name].description
    assert meaning is not None
    return _UNITS.get(name, ""), meaning


def _layer(
    table: sa.Table,
    layer_id: str,
    text: str,
    *,
    shapes: str | None = None,
    key: tuple[str, ...] = (),
    described: tuple[Described, ...] = (),
    shown: tuple[sa.ColumnElement[bool], ...] = (),
    times: tuple[str, str] | None = None,
) -> FeatureLayer:
    """Give a table as a layer of every region.

    Parameters: shapes, the queryables' format, default: by the column; key, the columns of a feature's id, default: the
    table's natural key within its region.
    """
    shape = table.c.geom.type
    assert isinstance(shape, Geometry)
    kind = "any" if shape.kind == "GEOMETRY" else shape.kind.lower()
    said = {column.name: (column.unit, column.meaning) for column in described}
    properties = tuple(
        Property(column.name, _kind(column), *(said.get(column.name) or _about(column.name)), column)
        for column in table.c
        if column.name not in _INNER
    )
    natural = tuple(name for name in table.info["key"] if name != "region_id") or ("region_id",)
    return FeatureLayer(
        layer_id,
        table.info["layer"].capitalize(),
        text,
        table,
        tuple(table.c[name] for name in key or natural),
        f"geometry-{shapes or kind}",
        properties,
        shown,
        None if times is None else (table.c[times[0]], table.c[times[1]]),
        editable=table is tables.site,
    )


_LAYERS = (
    _layer(
        tables.water_body,
        "water_bodies",
        "Every surveyed water with what is known of it; empty is unknown",
        shapes="polygon-multi",
        described=EXPORTED["water"],
        times=("surveyed_at", "surveyed_at"),
    ),
    _layer(
        tables.run,
        "runs",
        "Straight runs inside the water: the longest, one per heading, the usable ones",
        described=EXPORTED["survey_runs"],
    ),
    _layer(
        tables.hover_point,
        "hover_points",
        "The best place to hover of each water",
        described=EXPORTED["hover_points"],
    ),
    _layer(
        tables.evidence,
        "depth_evidence",
        "What the depths rest on, and its age",
        times=("oldest_on", "newest_on"),
    ),
    _layer(
        tables.site,
        "sites",
        "What people wrote about filling places; confirms, limits or vetoes the survey",
        shown=(tables.site.c.retired.is_(False),),
        times=("valid_from", "valid_to"),
    ),
    _layer(
        tables.closure,
        "closures",
        "Where filling or flying is not allowed, with days and reason",
        key=("fid",),
        shown=(tables.closure.c.withdrawn_at.is_(None),),
        times=("valid_from", "valid_to"),
    ),
    _layer(
        tables.region,
        "regions",
        "The region served: the box round its water",
        times=("updated_at", "updated_at"),
    ),
)


def layers_of(region_id: str, *, whole: bool = True) -> tuple[FeatureLayer, ...]:
    """Give every layer of one region.

    Parameters: whole, as planners see them; else what is not for every reader is neither shown nor found by a filter.
    """
    return tuple(
        replace(
            one,
            shown=(one.table.c.region_id == region_id, *one.shown),
            properties=one.properties if whole else tuple(map(_for_readers, one.properties)),
        )
        for one in _LAYERS
    )


def _for_readers(one: Property) -> Property:
    if one.column is not tables.site.c.contact:
        return one
    return replace(one, column=sa.case((one.column.is_not(None), sa.literal(FOR_PLANNERS))))
