"""The conformance classes that are met, each by a test (tests/services/test_features_*.py)."""

_FEATURES_1 = "http://www.opengis.net/spec/ogcapi-features-1/1.0/conf"
_FEATURES_2 = "http://www.opengis.net/spec/ogcapi-features-2/1.0/conf"
_FEATURES_3 = "http://www.opengis.net/spec/ogcapi-features-3/1.0/conf"
_FEATURES_4 = "http://www.opengis.net/spec/ogcapi-features-4/1.0/conf"
_CQL2 = "http://www.opengis.net/spec/cql2/1.0/conf"

CLASSES: tuple[str, ...] = (
    *(f"{_FEATURES_1}/{name}" for name in ("core", "geojson", "html", "oas30")),
    f"{_FEATURES_2}/crs",
    *(
        f"{_FEATURES_3}/{name}"
        for name in ("queryables", "queryables-query-parameters", "filter", "features-filter")
    ),
    *(
        f"{_FEATURES_4}/{name}"
        for name in ("create-replace-delete", "update", "optimistic-locking-etags", "features")
    ),
    *(
        f"{_CQL2}/{name}"
        for name in (
            "cql2-text",
            "cql2-json",
            "basic-cql2",
            "advanced-comparison-operators",
            "case-insensitive-comparison",
            "basic-spatial-functions",
            "basic-spatial-functions-plus",
            "spatial-functions",
            "temporal-functions",
            "property-property",
        )
    ),
)
