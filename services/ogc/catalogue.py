"""The layers that are served, made of the store's tables; what a column means is said where the exports say it."""

from dataclasses import dataclass

import sqlalchemy as sa

from geo.records.columns import LAYERS as EXPORTED
from geo.records.columns import Column as Described
from services.ogc.layer import FeatureLayer, Kind, Property
from services.store import tables
from services.store.column_types import Instant
from services.store.site_record import FOR_PLANNERS

# What the exports do not describe: columns that only the store has.
_OWN: dict[str, tuple[str, str]] = {
    "added_at": ("", "when it was entered"),
    "added_by": ("", "who entered it"),
    "access": ("", "how to reach the place on the ground"),
    "body_id": ("", "the water body's stable id"),
    "closure_id": ("", "id of the closure in its source"),
    "contact": ("", "whom to call; readers see only that there is one"),
    "created_at": ("", "when the site was entered"),
    "depth_evidence_to": ("", "last day on which the depth evidence counts"),
    "effect": ("", "what the annotation does to the survey: confirm, limit, veto or note"),
    "hazards": ("", "what to mind"),
    "input_fingerprint": ("", "SHA-256 over region.toml and every file it names"),
    "inspected_by": ("", "who inspected last"),
    "inspected_on": ("", "day of the last inspection"),
    "inspection_due": ("", "day by which to inspect again"),
    "kind": ("", "what it is"),
    "method": ("", "fill method that the annotation is about; empty for all"),
    "most_litres": ("L", "most that may be taken"),
    "name": ("", "its name"),
    "newest_on": ("", "day of the newest of it"),
    "note": ("", "free note"),
    "oldest_on": ("", "day of the oldest of it"),
    "ordinal": ("", "number of the run among those of its water, from 1"),
    "origin": ("", "where it comes from"),
    "owner": ("", "who owns the water or the land"),
    "permission": ("", "granted, not needed or refused"),
    "permission_to": ("", "last day of the permission"),
    "place": ("", "the place in words"),
    "points": ("", "how many measurements"),
    "reason": ("", "why"),
    "region_id": ("", "the region"),
    "revision": ("", "how often it was changed"),
    "season_from": ("", "first day of the season, MM-DD"),
    "season_to": ("", "last day of the season, MM-DD"),
    "site_id": ("", "the site's stable id"),
    "status": ("", "open, closed, seasonal or unknown"),
    "survey_key": ("", "the survey that the layers show"),
    "surveyed_at": ("", "when the survey of this water was made"),
    "updated_at": ("", "when it was last changed"),
    "updated_by": ("", "who changed it last"),
    "valid_from": ("", "first day on which it holds; empty is since ever"),
    "valid_to": ("", "last day on which it holds; empty is for ever"),
    "vertical_datum": ("", "what heights are counted from"),
    "wires": ("", "wires near the place"),
}
# Kept for the program, not for readers: the plane's WKT, the key of a stored record, the mark of a retired site.
_INNER = {"fid", "geom", "crs_wkt", "body_key", "retired", "withdrawn_at", "withdrawn_by"}


@dataclass(frozen=True)
class _Served:
    """A table as a layer: what it is called, its id columns, what hides a row, the columns of its times."""

    table: sa.Table
    layer_id: str
    title: str
    text: str
    geometry_type: str
    key: tuple[str, ...]
    described: tuple[Described, ...] = ()
    hidden: sa.ColumnElement[bool] | None = None
    times: tuple[str, str] | None = None
    editable: bool = False


_LAYERS = (
    _Served(tables.water_body, "water_bodies", "Water bodies", "Every surveyed water with what is known of it; empty "
            "is unknown", "geometry-polygon-multi", ("body_id",), EXPORTED["water"],
            times=("surveyed_at", "surveyed_at")),
    _Served(tables.run, "runs", "Runs", "Straight runs inside the water: the longest, one per heading, the usable "
            "ones", "geometry-linestring", ("body_id", "ordinal"), EXPORTED["survey_runs"]),
    _Served(tables.hover_point, "hover_points", "Hover points", "The best place to hover of each water",
            "geometry-point", ("body_id",), EXPORTED["hover_points"]),
    _Served(tables.evidence, "depth_evidence", "Depth evidence", "What the depths rest on, and its age",
            "geometry-any", ("body_id", "kind"), times=("oldest_on", "newest_on")),
    _Served(tables.site, "sites", "Annotated sites", "What people wrote about filling places; confirms, limits or "
            "vetoes the survey", "geometry-point", ("site_id",), hidden=tables.site.c.retired.is_(False),
            times=("valid_from", "valid_to"), editable=True),
    _Served(tables.closure, "closures", "Closures", "Where filling or flying is not allowed, with days and reason",
            "geometry-any", ("fid",), hidden=tables.closure.c.withdrawn_at.is_(None),
            times=("valid_from", "valid_to")),
    _Served(tables.region, "regions", "Regions", "The region served: the box round its water", "geometry-polygon",
            ("region_id",), times=("updated_at", "updated_at")),
)  # fmt: skip


def layers_of(region_id: str, *, whole: bool = True) -> tuple[FeatureLayer, ...]:
    """Give every layer of one region.

    Parameters: whole, as planners see them; else what is not for every reader is neither shown nor found by a filter.
    """
    return tuple(_layer(one, region_id, whole) for one in _LAYERS)


def _layer(one: _Served, region_id: str, whole: bool) -> FeatureLayer:
    columns = one.table.c
    return FeatureLayer(
        one.layer_id,
        one.title,
        one.text,
        one.table,
        tuple(columns[name] for name in one.key),
        one.geometry_type,
        _properties(one.table, one.described, whole),
        (columns.region_id == region_id, *(() if one.hidden is None else (one.hidden,))),
        None if one.times is None else (columns[one.times[0]], columns[one.times[1]]),
        one.editable,
    )


def _shown(column: sa.Column, whole: bool) -> sa.ColumnElement:
    if whole or column is not tables.site.c.contact:
        return column
    return sa.case((column.is_not(None), sa.literal(FOR_PLANNERS)))


def _properties(table: sa.Table, described: tuple[Described, ...], whole: bool) -> tuple[Property, ...]:
    said = {column.name: (column.unit, column.meaning) for column in described}
    return tuple(
        Property(
            str(column.name),
            _kind(column),
            *(said.get(column.name) or _OWN[column.name]),
            _shown(column, whole),
        )
        for column in table.c
        if column.name not in _INNER
    )


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
