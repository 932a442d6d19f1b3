"""Puts a region's survey of today among the layers of the store, the changed waters only."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
import shapely

from geo import pipeline
from geo.records.geographic_shapes import geographic
from geo.records.region import Region
from geo.records.survey import RegionSurvey
from services.store import layers, tables
from services.store.column_types import now
from services.store.store import Store

# Our table -> the layer of the survey's export whose columns it keeps.
_LAYERS = {"water_body": "water", "run": "survey_runs", "hover_point": "hover_points"}


def publish(
    store: Store,
    region: Region,
    survey: RegionSurvey,
    keys: Mapping[str, str],
    survey_key: str,
    day_revision: int | None = None,
) -> None:
    """Make the layers show this survey. Nothing is written where they show it already.

    Parameters: keys, the body key of each body's record; day_revision, see `layers.publish`.
    """
    if layers.published_survey(store.engine, region.name) == survey_key:
        return
    stale = layers.stale_bodies(store.engine, region.name, keys)
    rows = layer_rows(region, survey, keys, stale)
    layers.publish(store.engine, _entry(region, survey_key), stale, rows, day_revision)


def _entry(region: Region, survey_key: str) -> layers.RegionEntry:
    box = shapely.box(*shapely.total_bounds([body.polygon for body in region.bodies]))
    outline = shapely.envelope(geographic(box, region.frame))
    assert isinstance(outline, shapely.Polygon)
    return layers.RegionEntry(
        region.name,
        region.frame.vertical_datum,
        region.frame.crs_wkt,
        region.fingerprint,
        survey_key,
        outline,
    )


def layer_rows(
    region: Region, survey: RegionSurvey, keys: Mapping[str, str], body_ids: set[str]
) -> dict[str, list[dict[str, Any]]]:
    """Give the rows of some bodies, by table of the store, in WGS 84."""
    some = replace(survey, bodies=tuple(one for one in survey.bodies if one.body_id in body_ids))
    if not some.bodies:
        return {}
    frames = pipeline.survey_layers(region, some)
    rows = {name: _rows(frames[layer], tables.metadata.tables[name]) for name, layer in _LAYERS.items()}
    moment = now()
    for row in rows["water_body"]:
        row |= {"body_key": keys[row["body_id"]], "surveyed_at": moment}
    _count_runs(rows["run"])
    waters = [body for body in region.bodies if body.body_id in body_ids]
    return rows | {"evidence": pipeline.evidence_rows(region, waters)}


def _rows(frame: Any, table: Any) -> list[dict[str, Any]]:
    """Give a frame's rows with the columns that the table has; unknown is None."""
    names = [name for name in frame.columns if name in table.c]
    plain = pd.DataFrame(frame[names]).astype(object)
    plain = plain.where(plain.notna(), None)
    return [
        {**{str(name): value for name, value in row.items()}, "geom": shape}
        for row, shape in zip(plain.to_dict("records"), np.asarray(frame.geometry), strict=True)
    ]


def _count_runs(rows: list[dict[str, Any]]) -> None:
    counts: dict[str, int] = {}
    for row in rows:
        counts[row["body_id"]] = counts.get(row["body_id"], 0) + 1
        row["ordinal"] = counts[row["body_id"]]
