"""The features of one region in one store: pages, single features and extents, with what may be kept in memory."""

from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from threading import Lock
from typing import Any, Generic, TypeVar

import sqlalchemy as sa

from services.errors import NoSuchThing
from services.ogc import selection
from services.ogc.catalogue import layers_of
from services.ogc.crs import Box, Crs, offered
from services.ogc.layer import FeatureLayer
from services.ogc.parameters import ItemsQuery
from services.store.engine import reading
from services.store.tables import state

Value = TypeVar("Value")
MOST_KEPT = 512
_PAGING = ("f", "limit", "offset", "crs")


class Kept(Generic[Value]):
    """Answers kept as long as the data do not change, the oldest dropped first."""

    def __init__(self, most: int = MOST_KEPT) -> None:
        self._most = most
        self._values: OrderedDict[Any, Value] = OrderedDict()
        self._lock = Lock()

    def get(self, key: Any, make: Callable[[], Value]) -> Value:
        """Give the value of a key, made where it is not kept. The key must hold the data version."""
        with self._lock:
            if key in self._values:
                self._values.move_to_end(key)
                return self._values[key]
        value = make()
        with self._lock:
            self._values[key] = value
            while len(self._values) > self._most:
                self._values.popitem(last=False)
        return value


@dataclass(frozen=True)
class Page:
    """One page: how many features fulfil the question, and the rows of this page (see selection.page)."""

    matched: int
    rows: list[sa.Row]


class FeatureSource:
    """What the routes ask. Reads only; every answer comes from one state of the store."""

    def __init__(
        self, engine: sa.Engine, region_id: str, centre_deg: tuple[float, float], *, whole: bool = True
    ) -> None:
        self.engine = engine
        self.region_id = region_id
        self.layers = layers_of(region_id, whole=whole)
        self.systems: tuple[Crs, ...] = offered(*centre_deg)
        # The same for those who may not see everything.
        self.for_readers = FeatureSource(engine, region_id, centre_deg, whole=False) if whole else self
        self._counts: Kept[int] = Kept()
        self._extents: Kept[tuple[Box | None, tuple[Any, Any] | None]] = Kept()

    def layer(self, layer_id: str) -> FeatureLayer:
        """Give a layer.

        Raises: NoSuchThing where there is none of that id.
        """
        for layer in self.layers:
            if layer.layer_id == layer_id:
                return layer
        known = ", ".join(layer.layer_id for layer in self.layers)
        raise NoSuchThing(f"no collection {layer_id[:60]!r}. Fix: one of {known}")

    def data_version(self) -> str:
        """Give the version of all layers: it changes with every survey, site, closure and level."""
        with reading(self.engine) as connection:
            return _version(connection)

    def items(self, layer: FeatureLayer, query: ItemsQuery) -> Page:
        """Give one page of a layer.

        Raises: BadQuery for a filter that cannot be used.
        """
        where = selection.conditions(layer, query)
        asked = tuple(sorted(pair for pair in query.given if pair[0] not in _PAGING))
        box, _ = self.extent(layer)
        boxes = query.boxes if box is None or not any(_covers(one, box) for one in query.boxes) else ()
        with reading(self.engine) as connection:
            matched = self._counts.get(
                (_version(connection), layer.layer_id, asked),
                lambda: selection.count(connection, layer, boxes, where),
            )
            rows = selection.page(connection, layer, boxes, where, query.limit, query.offset)
            return Page(matched, rows)

    def item(self, layer: FeatureLayer, feature_id: str) -> sa.Row:
        """Give one feature.

        Raises: NoSuchThing where there is none of that id.
        """
        named = layer.with_id(feature_id)
        if named is not None:
            with reading(self.engine) as connection:
                rows = selection.page(connection, layer, (), [named], 1, 0)
            if rows:
                return rows[0]
        raise NoSuchThing(f"no feature {feature_id[:60]!r} in {layer.layer_id}. Fix: its items list them")

    def extent(self, layer: FeatureLayer) -> tuple[Box | None, tuple[Any, Any] | None]:
        """Give the box and the times of a layer; None where it has none."""
        with reading(self.engine) as connection:
            return self._extents.get(
                (_version(connection), layer.layer_id), lambda: selection.extent(connection, layer)
            )


def _covers(outer: Box, inner: Box) -> bool:
    return all(outer[i] <= inner[i] for i in (0, 1)) and all(outer[i] >= inner[i] for i in (2, 3))


def _version(connection: sa.Connection) -> str:
    rows = connection.execute(sa.select(state.c.name, state.c.revision))
    found = {row.name: row.revision for row in rows}
    return ".".join(f"{name}{found[name]}" for name in sorted(found)) or "empty"
