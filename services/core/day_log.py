"""The log of the day: levels, closures and what expires, for the command line and the service alike."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from geo.records.region import Region
from services.core import day_rows
from services.core.expiring import items_expiring
from services.store import day
from services.store.column_types import instant_text, now
from services.store.store import Store


@dataclass(frozen=True)
class DayLog:
    """A region as its files say it, with the store; `changed` is called after each change, which counts at once."""

    region: Region
    store: Store
    changed: Callable[[], object]

    def put_levels(self, rows: Sequence[tuple[str, day_rows.Row]], file: str, who: str) -> None:
        """Keep levels, all or none. Raises: BadInput with every fault."""
        found = day_rows.readings(day_rows.limited(list(rows), file), self.region, file, now())
        day.put_levels(self.store.engine, self.region.name, found, who)
        self.changed()

    def withdraw_levels(self, body_id: str, who: str) -> None:
        """Let the files' level of a water hold again. Raises: NotKept."""
        day.withdraw_levels(self.store.engine, self.region.name, body_id, who)
        self.changed()

    def put_closures(
        self, rows: Sequence[tuple[str, day_rows.Row]], file: str, who: str, *, instead: bool
    ) -> None:
        """Keep closures, all or none. Raises: BadInput with every fault."""
        found = day_rows.closures(day_rows.limited(list(rows), file), self.region, file)
        day.put_closures(self.store.engine, self.region.name, found, who, instead=instead)
        self.changed()

    def withdraw_closure(self, closure_id: str, who: str) -> None:
        """End a closure. Raises: NotKept."""
        day.withdraw_closure(self.store.engine, self.region.name, closure_id, who)
        self.changed()

    def levels(self) -> list[dict[str, Any]]:
        """Give the latest reading of each water, and whether it counts now."""
        moment = now()
        names = {body.body_id: body.name for body in self.region.bodies}
        return [
            {
                "body_id": one.body_id,
                "name": names.get(one.body_id),
                "level_m": one.level_m,
                "read_at": instant_text(one.read_at),
                "until": None if one.until is None else instant_text(one.until),
                "counts": one.body_id in names and (one.until is None or one.until > moment),
                "origin": one.origin,
            }
            for one in day.levels_of(self.store.engine, self.region.name, moment)
        ]

    def closures(self) -> list[dict[str, Any]]:
        """Give the closures that are kept beside those of the files."""
        return [
            {
                "id": one.closure_id,
                "name": one.name,
                "kind": one.kind,
                "reason": one.reason,
                "from": None if one.valid_from is None else one.valid_from.isoformat(),
                "to": None if one.valid_to is None else one.valid_to.isoformat(),
                "body": one.body_id,
                "origin": one.origin,
            }
            for one in day.closures_of(self.store.engine, self.region.name)
        ]

    def due(self, before: date, evidence_years: int | None = None) -> list[dict[str, Any]]:
        """Give what expires before a day; with evidence_years also depth evidence older than that."""
        return items_expiring(self.store, self.region.name, before, evidence_years)
