"""The API definition of the features: OpenAPI 3.0, its paths relative to the landing page.

What is the same for every region stands in `templates/openapi.json`, that of a layer under `layer_paths`. It is not
taken from the web framework, because that emits OpenAPI 3.1, which conformance class oas30 does not allow and which its
own switch to 3.0 does not repair (the result is invalid).
"""

import json
from collections.abc import Iterable
from functools import cache
from pathlib import Path
from typing import Any

from services.core.problems import PROBLEM_SCHEMA
from services.ogc.crs import Crs
from services.ogc.layer import FeatureLayer, Property
from services.ogc.parameters import DEFAULT_LIMIT, ITEMS_PARAMETERS, MOST_FEATURES, MOST_OFFSET


def definition(
    root: str, layers: tuple[FeatureLayer, ...], systems: tuple[Crs, ...], data_version: str
) -> dict[str, Any]:
    """Give the OpenAPI 3.0 document of the features at `root`."""
    document = json.loads(_template())["document"]
    document["info"]["version"] = data_version
    document["servers"] = [{"url": root}]
    for layer in layers:
        document["paths"] |= _layer_paths(layer)
    for verbs in document["paths"].values():
        for operation in verbs.values():
            operation["responses"] |= _problems(operation.pop("problems", ()))
    document["components"]["schemas"]["problem"] = PROBLEM_SCHEMA
    schemas = {name: one["schema"] for name, one in document["components"]["parameters"].items()}
    for name in ("crs", "bbox-crs", "filter-crs"):
        schemas[name]["enum"] = [crs.uri for crs in systems]
    schemas["limit"] |= {"maximum": MOST_FEATURES, "default": DEFAULT_LIMIT}
    schemas["offset"] |= {"maximum": MOST_OFFSET, "default": 0}
    return document


def _problems(statuses: Iterable[int]) -> dict[str, Any]:
    """The problems that a request may meet: those of its own, and those that any may, as the settings of rights are."""
    codes = sorted({*statuses, 400, 401, 403, 429})
    return {str(code): {"$ref": "#/components/responses/Problem"} for code in codes}


@cache
def _template() -> str:
    return (Path(__file__).parent / "templates" / "openapi.json").read_text(encoding="utf-8")


def _layer_paths(layer: FeatureLayer) -> dict[str, Any]:
    text = _template().replace("LAYER_ID", layer.layer_id).replace("LAYER_TITLE", layer.title)
    paths = json.loads(text)["layer_paths"]
    items = paths[f"/collections/{layer.layer_id}/items"]
    items["get"]["parameters"] = [
        *({"$ref": f"#/components/parameters/{name}"} for name in ITEMS_PARAMETERS),
        *(_query(one) for one in layer.properties),
    ]
    if not layer.editable:
        paths = {path: {"get": verbs["get"]} for path, verbs in paths.items()}
    return paths


def _query(one: Property) -> dict[str, Any]:
    """The query parameter that asks for features whose property has a value."""
    schema = {key: value for key, value in one.schema.items() if key in ("type", "format")}
    how = {"in": "query", "required": False, "style": "form", "explode": False}
    return {"name": one.name, **how, "description": one.meaning, "schema": schema}
