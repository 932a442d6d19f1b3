"""The conformance classes that are met, each by a test (tests/services/test_features_*.py)."""

_MET = {
    "ogcapi-features-1": "core geojson html oas30",
    "ogcapi-features-2": "crs",
    "ogcapi-features-3": "queryables queryables-query-parameters filter features-filter",
    "ogcapi-features-4": "create-replace-delete update optimistic-locking-etags features",
    "cql2": (
        "cql2-text cql2-json basic-cql2 advanced-comparison-operators case-insensitive-comparison "
        "basic-spatial-functions basic-spatial-functions-plus spatial-functions temporal-functions property-property"
    ),
}
CLASSES: tuple[str, ...] = tuple(
    f"http://www.opengis.net/spec/{standard}/1.0/conf/{name}"
    for standard, names in _MET.items()
    for name in names.split()
)
