"""One record by its id or its name, as people ask for it: the one rule of the whole house."""

from collections.abc import Iterable
from typing import TypeVar

from geo.base.errors import BadArgument

T = TypeVar("T")
LISTED_BY = "name one by its id; `fetchwater survey --json` lists them"


class NotNamed(BadArgument):
    """No record has the id or name asked for, or several have the name; `rule` and `fix` are for a Fault."""

    def __init__(self, what: str, id_or_name: str, rule: str, fix: str) -> None:
        super().__init__(f"{what} {id_or_name[:120]!r}: {rule}. Fix: {fix}")
        self.what, self.id_or_name, self.rule, self.fix = what, id_or_name, rule, fix

    def __reduce__(self) -> tuple[type["NotNamed"], tuple[str, str, str, str]]:
        # May be raised inside worker processes: must survive pickling with its parts.
        return (type(self), (self.what, self.id_or_name, self.rule, self.fix))


def all_named(items: Iterable[T], id_or_name: str, id_field: str = "body_id") -> list[T]:
    """Give the record with this id, else every record of this name.

    Parameters: items with an attribute `name` and their id in the attribute `id_field`.
    """
    items = list(items)
    by_id = [one for one in items if getattr(one, id_field) == id_or_name]
    return by_id[:1] or [one for one in items if getattr(one, "name", None) == id_or_name]


def find_named(
    items: Iterable[T],
    id_or_name: str,
    what: str = "water body",
    *,
    id_field: str = "body_id",
    fix: str = LISTED_BY,
) -> T:
    """Give the record with this id, else the only one of this name.

    Parameters: items as for `all_named`; what, the word for one of them; fix, what to do where none or several match.

    Raises
    ------
    NotNamed (a BadArgument): no record has this id or name, or several have this name.
    """
    found = all_named(items, id_or_name, id_field)
    if len(found) == 1:
        return found[0]
    rule = f"no {what} has this id or name"
    if found:
        rule = f"{len(found)} have this name: {', '.join(str(getattr(one, id_field)) for one in found)}"
    raise NotNamed(what, id_or_name, rule, fix)
