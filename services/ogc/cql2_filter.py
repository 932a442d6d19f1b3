"""A CQL2 filter (OGC 21-065r2), text or JSON, as a condition with bound values; nothing of it reaches SQL as text.

The parser is a library; its tree is walked here. Its own SQL is not used, because that writes literals into the text
and speaks one dialect only. The parser recurses, and some thousand brackets end the process (measured): a filter's
length and brackets are counted before it is parsed.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time

import cql2
import shapely
import sqlalchemy as sa
from shapely.geometry.base import BaseGeometry

from services.errors import BadQuery
from services.ogc.crs import Crs, boxes_of, to_lon_lat
from services.ogc.layer import FeatureLayer, time_value
from services.ogc.parameters import zoned
from services.store.geometry import RELATIONS, Geometry, envelope_meets
from services.store.text_match import like, lower

MOST_CHARACTERS = 16_000
MOST_BRACKETS = 200
MOST_DEPTH = 60
_COMPARISONS: dict[str, Callable] = {
    "=": lambda a, b: a == b,
    "<>": lambda a, b: a != b,
    "<": lambda a, b: a < b,
    ">": lambda a, b: a > b,
    "<=": lambda a, b: a <= b,
    ">=": lambda a, b: a >= b,
}
# (begin, end) of both sides; OGC 21-065r2, 7.4, after Allen's relations.
_TEMPORAL: dict[str, Callable] = {
    "t_after": lambda b1, e1, b2, e2: b1 > e2,
    "t_before": lambda b1, e1, b2, e2: e1 < b2,
    "t_contains": lambda b1, e1, b2, e2: (b1 < b2) & (e1 > e2),
    "t_disjoint": lambda b1, e1, b2, e2: (b1 > e2) | (e1 < b2),
    "t_during": lambda b1, e1, b2, e2: (b1 > b2) & (e1 < e2),
    "t_equals": lambda b1, e1, b2, e2: (b1 == b2) & (e1 == e2),
    "t_finishedby": lambda b1, e1, b2, e2: (b1 < b2) & (e1 == e2),
    "t_finishes": lambda b1, e1, b2, e2: (b1 > b2) & (e1 == e2),
    "t_intersects": lambda b1, e1, b2, e2: (b1 <= e2) & (e1 >= b2),
    "t_meets": lambda b1, e1, b2, e2: e1 == b2,
    "t_metby": lambda b1, e1, b2, e2: b1 == e2,
    "t_overlappedby": lambda b1, e1, b2, e2: (b1 > b2) & (b1 < e2) & (e1 > e2),
    "t_overlaps": lambda b1, e1, b2, e2: (b1 < b2) & (e1 > b2) & (e1 < e2),
    "t_startedby": lambda b1, e1, b2, e2: (b1 == b2) & (e1 > e2),
    "t_starts": lambda b1, e1, b2, e2: (b1 == b2) & (e1 < e2),
}
_FIRST, _LAST = date(1, 1, 1), date(9999, 12, 31)


def _bad(rule: str, cure: str = "see the queryables for names and types") -> BadQuery:
    return BadQuery("filter", rule, cure)


def tree_of(text: str, language: str) -> dict:
    """Give the tree of a filter.

    Raises: BadQuery when it is too long or too nested, or the parser does not understand it.
    """
    if len(text) > MOST_CHARACTERS or sum(text.count(one) for one in "([") > MOST_BRACKETS:
        raise _bad(
            f"longer than {MOST_CHARACTERS} characters or more than {MOST_BRACKETS} brackets", "simplify it"
        )
    if "\0" in text or "\\u0000" in text:
        raise _bad("holds a NUL character", "remove it")
    try:
        parsed = (cql2.parse_json if language == "cql2-json" else cql2.parse_text)(text)
        return parsed.to_json()
    # Whatever the parser raises, it is the text that it did not understand; its message may be pages long.
    except Exception as error:
        first = str(error).strip().splitlines()[:1]
        raise _bad(
            f"not understood: {(first or ['no text'])[0][:200]}", f"write {language}, OGC 21-065r2"
        ) from error


@dataclass(frozen=True)
class Operand:
    """One side of a comparison: the expression and its kind (number, string, boolean, date, date-time)."""

    expression: sa.ColumnElement
    kind: str


@dataclass(frozen=True)
class Filter:
    """A filter on one layer; shapes of the filter are in `crs`."""

    layer: FeatureLayer
    crs: Crs

    def condition(self, tree: object, depth: int = 0) -> sa.ColumnElement[bool]:
        """Give the condition of a tree.

        Raises: BadQuery for an unknown property or operator, kinds that do not compare, or shapes that are no shapes.
        """
        if depth > MOST_DEPTH:
            raise _bad(f"nested more than {MOST_DEPTH} deep", "simplify it")
        if isinstance(tree, bool):
            return sa.true() if tree else sa.false()
        if not isinstance(tree, dict):
            raise _bad("a condition is expected, not a value")
        if "property" in tree:
            return self._flag(tree)
        op, args = str(tree.get("op", "")).lower(), tree.get("args")
        if not isinstance(args, list):
            raise _bad(f"{op or 'a part'} has no arguments")
        if op in ("and", "or"):
            parts = [self.condition(one, depth + 1) for one in args]
            return sa.and_(sa.true(), *parts) if op == "and" else sa.or_(sa.false(), *parts)
        if op == "not":
            return sa.not_(self.condition(self._counted(op, args, 1)[0], depth + 1))
        return self._predicate(op, args)

    def _predicate(self, op: str, args: list) -> sa.ColumnElement[bool]:
        if op in _COMPARISONS:
            left, right = self._pair(*self._counted(op, args, 2))
            if left.kind == "boolean" and op not in ("=", "<>"):
                raise _bad(f"{op} does not order true and false")
            return _COMPARISONS[op](left.expression, right.expression)
        if op == "between":
            middle, low, high = self._counted(op, args, 3)
            least, most = self._pair(middle, low), self._pair(middle, high)
            return least[0].expression.between(least[1].expression, most[1].expression)
        if op == "in":
            return self._in(*self._counted(op, args, 2))
        if op == "like":
            return self._like(*self._counted(op, args, 2))
        if op == "isnull":
            return self._is_null(self._counted(op, args, 1)[0])
        if op.startswith("s_") and op[2:] in RELATIONS:
            return self._spatial(op[2:], *self._counted(op, args, 2))
        if op in _TEMPORAL:
            return self._temporal(op, *self._counted(op, args, 2))
        raise _bad(f"operator {op[:40]!r} is not known here")

    @staticmethod
    def _counted(op: str, args: list, count: int) -> list:
        if len(args) != count:
            raise _bad(f"{op} takes {count} arguments, not {len(args)}")
        return args

    def _flag(self, tree: dict) -> sa.ColumnElement[bool]:
        operand = self._operand(tree)
        if operand.kind != "boolean":
            raise _bad(f"{tree['property']!r} is not true or false by itself")
        return operand.expression

    def _operand(self, given: object) -> Operand:
        if isinstance(given, bool):
            return Operand(sa.literal(given), "boolean")
        if isinstance(given, int | float):
            if not math.isfinite(given):
                raise _bad("a number is not finite")
            return Operand(sa.literal(float(given), sa.Float()), "number")
        if isinstance(given, str):
            return Operand(sa.literal(given, sa.Text()), "string")
        if isinstance(given, dict) and isinstance(given.get("property"), str):
            found = self.layer.property_named(given["property"])
            if found is None:
                raise _bad(f"{self.layer.layer_id} has no property {given['property'][:60]!r} to compare")
            return Operand(found.column, {"integer": "number"}.get(found.kind, found.kind))
        if isinstance(given, dict) and str(given.get("op", "")).lower() == "casei":
            inner = self._operand(self._counted("casei", given.get("args", []), 1)[0])
            if inner.kind != "string":
                raise _bad("casei needs text")
            return Operand(lower(inner.expression), "string")
        raise _bad("a part is neither a value nor a property that this service compares")

    def _pair(self, left: object, right: object) -> tuple[Operand, Operand]:
        """Two sides of one kind; a moment takes the form in which the column of the other side keeps it."""
        moments = [_moment(left), _moment(right)]
        if moments[0] is not None and moments[1] is not None:
            raise _bad("two fixed times are compared", "compare a property with a time")
        sides: list[Operand] = []
        for mine, moment, other in ((left, moments[0], right), (right, moments[1], left)):
            if moment is None:
                sides.append(self._operand(mine))
                continue
            kept = self._operand(other)
            kind = "date-time" if isinstance(moment, datetime) else "date"
            if kept.kind != kind:
                raise _bad(f"a {kept.kind} is compared with a {kind}")
            sides.append(Operand(time_value(kept.expression, moment), kind))
        if sides[0].kind != sides[1].kind:
            raise _bad(f"a {sides[0].kind} is compared with a {sides[1].kind}")
        return sides[0], sides[1]

    def _in(self, given: object, values: object) -> sa.ColumnElement[bool]:
        if not isinstance(values, list) or not values:
            raise _bad("in needs a list of values")
        pairs = [self._pair(given, value) for value in values]
        return pairs[0][0].expression.in_([right.expression for _, right in pairs])

    def _like(self, given: object, pattern: object) -> sa.ColumnElement[bool]:
        operand, folded = self._operand(given), False
        if isinstance(pattern, dict) and str(pattern.get("op", "")).lower() == "casei":
            pattern, folded = self._counted("casei", pattern.get("args", []), 1)[0], True
        if operand.kind != "string" or not isinstance(pattern, str):
            raise _bad("like compares text with a pattern")
        return like(operand.expression, pattern.lower() if folded else pattern)

    def _is_null(self, given: object) -> sa.ColumnElement[bool]:
        if isinstance(given, dict) and given.get("property") == "geometry":
            return self.layer.geometry.is_(None)
        return self._operand(given).expression.is_(None)

    def _spatial(self, op: str, left: object, right: object) -> sa.ColumnElement[bool]:
        ours = [isinstance(one, dict) and one.get("property") == "geometry" for one in (left, right)]
        if ours[0] == ours[1]:
            raise _bad(f"s_{op} needs the property geometry and one shape")
        shape = self._shape(right if ours[0] else left)
        # a contains b is b within a: the layer's shape always comes first.
        turned = op if ours[0] else {"contains": "within", "within": "contains"}.get(op, op)
        exact = getattr(sa.func, f"ST_{turned.capitalize()}")(
            self.layer.geometry, sa.literal(shape, Geometry()), type_=sa.Boolean()
        )
        # The index answers first; disjoint is what it cannot answer.
        return exact if turned == "disjoint" else envelope_meets(self.layer.geometry, *shape.bounds) & exact

    def _shape(self, given: object) -> BaseGeometry:
        if not isinstance(given, dict):
            raise _bad("a shape is expected")
        if isinstance(given.get("bbox"), list):
            parts = [shapely.box(*box) for box in boxes_of(given["bbox"], self.crs, "filter")]
            return parts[0] if len(parts) == 1 else shapely.MultiPolygon(parts)
        try:
            if given.get("type") == "GeometryCollection":
                raise ValueError("a collection")
            shape = to_lon_lat(shapely.geometry.shape(given), self.crs, "filter")
        except BadQuery:
            raise
        except Exception as error:
            raise _bad(
                "a shape is not understood", "write a Point, Line, Polygon or Multi of them"
            ) from error
        if shape.is_empty or not shape.is_valid:
            raise _bad(
                f"a shape is empty or not valid: {shapely.is_valid_reason(shape)}", "correct the shape"
            )
        return shape

    def _temporal(self, op: str, left: object, right: object) -> sa.ColumnElement[bool]:
        columns = [column for side in (left, right) for column in self._time_columns(side)]
        if not columns:
            raise _bad(f"{op} needs a property that holds a time")
        ends = [end for side in (left, right) for end in self._ends(side, columns[0])]
        return _TEMPORAL[op](*ends)

    def _time_columns(self, side: object) -> list[sa.ColumnElement]:
        if not isinstance(side, dict):
            return []
        if "property" in side:
            operand = self._operand(side)
            if operand.kind not in ("date", "date-time"):
                raise _bad(f"{side['property']!r} holds no time")
            return [operand.expression]
        return [column for end in side.get("interval", []) for column in self._time_columns(end)]

    def _ends(self, side: object, like: sa.ColumnElement) -> tuple[sa.ColumnElement, sa.ColumnElement]:
        """Begin and end of one side, as the column `like` keeps its times; an open end is the first or the last day."""
        pair = side["interval"] if isinstance(side, dict) and "interval" in side else [side, side]
        if not isinstance(pair, list) or len(pair) != 2:
            raise _bad("an interval has two ends")
        open_ends = (_FIRST, _LAST) if pair[0] is not side else (None, None)
        return (
            self._end(pair[0], like, open_ends[0], last=False),
            self._end(pair[1], like, open_ends[1], last=True),
        )

    def _end(
        self, given: object, like: sa.ColumnElement, far: date | None, *, last: bool
    ) -> sa.ColumnElement:
        if given == ".." and far is not None:
            return time_value(like, _fitted(far, like, last))
        if isinstance(given, dict) and "property" in given:
            column = self._operand(given).expression
            return (
                column
                if far is None
                else sa.func.coalesce(column, time_value(like, _fitted(far, like, last)))
            )
        moment = _moment(
            {"timestamp" if "T" in given else "date": given} if isinstance(given, str) else given
        )
        if moment is None:
            raise _bad("a time is expected")
        return time_value(like, _fitted(moment, like, last))


def _fitted(moment: date, like: sa.ColumnElement, last: bool) -> date:
    """A day beside a column of instants is its first or its last millisecond; an instant beside days is refused."""
    if isinstance(like.type, sa.Date):
        if isinstance(moment, datetime):
            raise _bad("a day is compared with a time of day", "write a date")
        return moment
    if isinstance(moment, datetime):
        return moment
    clock = time(23, 59, 59, 999000, UTC) if last else time(tzinfo=UTC)
    return datetime.combine(moment, clock)


def _moment(given: object) -> date | None:
    """Give the moment of a date or timestamp literal; None for anything else."""
    if not isinstance(given, dict) or not ({"date", "timestamp"} & set(given)):
        return None
    kind = "date" if "date" in given else "timestamp"
    try:
        text = str(given[kind])
        return date.fromisoformat(text) if kind == "date" else zoned(text)
    except ValueError as error:
        raise _bad(
            f"{str(given[kind])[:40]!r} is no {kind}", "write 2026-01-31 or 2026-01-31T12:00:00Z"
        ) from error
