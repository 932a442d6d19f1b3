"""From a question to rows: conditions, counts and pages of one layer. The same on both databases."""

from typing import Any

import shapely
import sqlalchemy as sa

from services.ogc.cql2_filter import Filter, tree_of
from services.ogc.crs import Box
from services.ogc.layer import FeatureLayer, time_value
from services.ogc.parameters import ItemsQuery
from services.store.geometry import Geometry
from services.store.two_dialects import two_dialects


def conditions(layer: FeatureLayer, query: ItemsQuery) -> list[sa.ColumnElement[bool]]:
    """Give what a feature of the layer must fulfil to be in the answer, beside meeting the boxes.

    Raises: BadQuery for a filter that cannot be used.
    """
    found: list[sa.ColumnElement[bool]] = []
    if query.times is not None and layer.times is not None:
        found += _in_time(layer.times, *query.times)
    found += [one.column == sa.literal(value, one.column.type) for one, value in query.equals]
    if query.filter_text is not None:
        assert query.filter_crs is not None
        tree = tree_of(query.filter_text, query.filter_language)
        found.append(Filter(layer, query.filter_crs).condition(tree))
    return found


def _rows(layer: FeatureLayer, boxes: tuple[Box, ...], dialect: str) -> sa.Select:
    """Give a select without columns of the rows whose shapes meet one of the boxes, exactly; all rows without a box."""
    if not boxes:
        return sa.select().select_from(layer.table)
    shapes = [sa.literal(shapely.box(*box), Geometry()) for box in boxes]
    if dialect != "sqlite":
        met = sa.or_(*(sa.func.ST_Intersects(layer.geometry, shape, type_=sa.Boolean()) for shape in shapes))
        return sa.select().select_from(layer.table).where(met)
    found = sa.union(*(_met(layer, box, shape) for box, shape in zip(boxes, shapes, strict=True))).subquery(
        "met"
    )
    return sa.select().select_from(found.join(layer.table, layer.table.c.fid == found.c.id))


def _met(layer: FeatureLayer, box: Box, shape: sa.ColumnElement) -> sa.Select:
    """The ids of shapes that meet a box. Vertices are read only where the envelope reaches out of the box.

    It leads the join: as a condition beside others SQLite walks the whole table (measured: 60 ms and more of 100,000).
    """
    tree, shaped = _tree(layer), layer.table.alias("shaped")
    west, south, east, north = box
    touched = sa.and_(tree.c.maxx >= west, tree.c.minx <= east, tree.c.maxy >= south, tree.c.miny <= north)
    inside = sa.and_(tree.c.minx >= west, tree.c.maxx <= east, tree.c.miny >= south, tree.c.maxy <= north)
    exact = sa.select(sa.func.ST_Intersects(shaped.c.geom, shape)).where(shaped.c.fid == tree.c.id)
    return sa.select(tree.c.id).where(touched, sa.or_(inside, exact.scalar_subquery()))


def _tree(layer: FeatureLayer) -> sa.TableClause:
    columns = ("id", "minx", "miny", "maxx", "maxy")
    return sa.table(f"rtree_{layer.table.name}_{layer.geometry.name}", *(sa.column(name) for name in columns))


# A condition that holds for most rows: SQLite must not walk its index, which loses the order of the pages.
_mostly = two_dialects("mostly", sa.Boolean(), "likely({0})", "({0})")


def _in_time(
    columns: tuple[sa.ColumnElement, sa.ColumnElement], begin: Any, end: Any
) -> list[sa.ColumnElement[bool]]:
    """A feature without a begin holds since ever, one without an end for ever; so one without a time is always in."""
    since, until = columns
    found = []
    if begin is not None:
        found.append(sa.or_(until.is_(None), until >= time_value(until, begin)))
    if end is not None:
        found.append(sa.or_(since.is_(None), since <= time_value(since, end)))
    return found


Where = list[sa.ColumnElement[bool]]


def count(connection: sa.Connection, layer: FeatureLayer, boxes: tuple[Box, ...], where: Where) -> int:
    """Give how many features of the layer meet one of the boxes (any, without) and fulfil the conditions."""
    # Alone, the region is counted in its index; beside another condition that one must lead.
    shown = [_mostly(one) for one in layer.shown] if where or boxes else layer.shown
    asked = _rows(layer, boxes, connection.dialect.name).add_columns(sa.func.count())
    return int(connection.execute(asked.where(*shown, *where)).scalar_one())


def page(
    connection: sa.Connection,
    layer: FeatureLayer,
    boxes: tuple[Box, ...],
    where: Where,
    limit: int,
    offset: int,
) -> list[sa.Row]:
    """Give the rows of one page: the id's columns, the shape as kept, then the properties in their order."""
    columns = (*layer.key, layer.geometry, *(one.column for one in layer.properties))
    labelled = [column.label(f"c{number}") for number, column in enumerate(columns)]
    shown = [_mostly(one) for one in layer.shown]
    asked = _rows(layer, boxes, connection.dialect.name).add_columns(*labelled).where(*shown, *where)
    asked = asked.order_by(layer.table.c.fid).limit(limit).offset(offset)
    return list(connection.execute(asked).all())


def extent(connection: sa.Connection, layer: FeatureLayer) -> tuple[Box | None, tuple[Any, Any] | None]:
    """Give the box round a layer's shapes (from the index, some metres wide of them) and the ends of its times."""
    table, shape = layer.table, layer.geometry
    if connection.dialect.name == "sqlite":
        tree = _tree(layer)
        low, high = sa.func.min, sa.func.max
        edges = low(tree.c.minx), low(tree.c.miny), high(tree.c.maxx), high(tree.c.maxy)
        asked = sa.select(*edges).select_from(tree.join(table, table.c.fid == tree.c.id))
    else:
        whole = sa.func.ST_Extent(shape)
        asked = sa.select(*(function(whole) for function in _SIDES)).select_from(table)
    found = connection.execute(asked.where(*layer.shown)).one()
    box = None if found[0] is None else (float(found[0]), float(found[1]), float(found[2]), float(found[3]))
    if layer.times is None:
        return box, None
    begin, end = connection.execute(
        sa.select(sa.func.min(layer.times[0]), sa.func.max(layer.times[1])).where(*layer.shown)
    ).one()
    return box, (begin, end)


_SIDES = (sa.func.ST_XMin, sa.func.ST_YMin, sa.func.ST_XMax, sa.func.ST_YMax)
