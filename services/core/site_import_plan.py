"""What an import of annotated sites would do, row by row, before anything is written."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Literal

from pydantic import ValidationError

from geo import pipeline
from geo.base.errors import BadInput
from geo.base.fault import Fault
from geo.records.region import Region
from services.core.annotations import annotated_site
from services.core.site_mapping import PLACES, SiteMapping
from services.store import sites
from services.store.site_import import Wanted, take_in
from services.store.site_record import SiteFields, SiteRecord
from services.store.store import Store

Action = Literal["create", "change", "same", "refuse"]
MEND = "mend the cell, or map its word in [words.FIELD] of a TOML file"


@dataclass(frozen=True)
class PlannedRow:
    """One row: what would be done with it, why not, and which fields would change from what to what."""

    where: str
    action: Action
    name: str
    site_id: str | None
    changes: tuple[tuple[str, Any, Any], ...] = ()
    faults: tuple[Fault, ...] = ()
    notes: tuple[str, ...] = ()
    wanted: Wanted | None = field(default=None, repr=False)


@dataclass(frozen=True)
class Plan:
    """Every row, the columns taken (field -> column) and not taken, what was said about the file."""

    file: str
    kind: str
    rows: tuple[PlannedRow, ...]
    taken: Mapping[str, str]
    left: tuple[str, ...]
    cautions: tuple[Fault, ...]

    @property
    def faults(self) -> list[Fault]:
        """Every fault of every row."""
        return [fault for row in self.rows for fault in row.faults]

    def count(self, action: Action) -> int:
        """Give how many rows would be so."""
        return sum(row.action == action for row in self.rows)


def plan_import(
    store: Store, region: Region, path: Path, mapping: SiteMapping, *, clear_empty: bool = False
) -> Plan:
    """Read a file of sites and give what its import would do; nothing is written.

    Parameters: clear_empty, whether an empty cell empties the kept site's field; else it says nothing about it.
    Raises: BadInput for a file that cannot be read as points, or a mapped column that is not there.
    """
    columns = mapping.columns or {}
    east, north = (columns.get(one, one) for one in PLACES)
    how = mapping.layer, mapping.crs, mapping.encoding
    file = pipeline.read_points(path, layer=how[0], crs=how[1], encoding=how[2], places=(east, north))
    taken = mapping.taken(file.columns, path.name)
    kept = sites.listed(store.engine, region.name, retired=True)
    waters = {body.body_id for body in region.bodies}
    rows = [
        _Row(path.name, file, row, mapping, taken, clear_empty).planned(kept, waters) for row in file.rows
    ]
    rows = _placed(_once(rows, path.name), region)
    left = tuple(one for one in file.columns if one not in taken.values())
    return Plan(path.name, file.kind, tuple(rows), taken, left, file.cautions)


def carry_out(store: Store, region: Region, plan: Plan, who: str) -> list[SiteRecord]:
    """Write what was planned, all of it in one transaction or none.

    Raises: BadInput where a row was refused; Conflict where a site was changed since the plan was made.
    """
    if plan.faults:
        raise BadInput(plan.faults)
    return take_in(
        store.engine, region.name, [row.wanted for row in plan.rows if row.wanted is not None], who
    )


@dataclass(frozen=True)
class _Row:
    """One row on its way to a plan."""

    name: str
    file: pipeline.PointFile
    row: pipeline.PointRow
    mapping: SiteMapping
    taken: Mapping[str, str]
    clear_empty: bool

    def planned(self, kept: Sequence[SiteRecord], waters: set[str]) -> PlannedRow:
        cells = {
            ours: self.mapping.cell(ours, self.row.cells[theirs], guarded=self.file.kind == "CSV")
            for ours, theirs in self.taken.items()
        }
        site_id, revision = cells.pop("site_id", None), cells.pop("revision", None)
        title = cells.get("name") or site_id or "without a name"
        present = self._present(kept, site_id, cells.get("name"))
        faults = [self._fault(*one) for one in _wrong(present, revision, cells, waters)]
        try:
            fields = self._fields(present, cells)
        except ValidationError as problem:
            faults += [self._of_model(one) for one in problem.errors()]
        if faults:
            return PlannedRow(self.row.where, "refuse", title, site_id, faults=tuple(faults))
        if present is None:
            wanted = Wanted(site_id, fields, None)
            return PlannedRow(self.row.where, "create", fields.name, site_id, wanted=wanted)
        before, after = (one.model_dump(mode="json") for one in (present.fields, fields))
        changes = tuple((key, before[key], after[key]) for key in before if before[key] != after[key])
        if not changes:
            return PlannedRow(self.row.where, "same", fields.name, present.site_id)
        wanted = Wanted(present.site_id, fields, present.revision)
        return PlannedRow(self.row.where, "change", fields.name, present.site_id, changes, wanted=wanted)

    def _present(
        self, kept: Sequence[SiteRecord], site_id: str | None, name: str | None
    ) -> SiteRecord | None:
        if site_id is not None:
            return next((one for one in kept if one.site_id == site_id), None)
        here = self.row.longitude_deg, self.row.latitude_deg
        of_name = (one for one in kept if not one.retired and one.fields.name == name)
        return next((one for one in of_name if pipeline.same_place(here, _place(one))), None)

    def _fields(self, present: SiteRecord | None, cells: Mapping[str, Any]) -> SiteFields:
        said = {
            ours: value
            for ours, value in cells.items()
            if value is not None and not (present and _says_nothing_new(value, getattr(present.fields, ours)))
        }
        place = {
            "longitude_deg": pipeline.within_180(self.row.longitude_deg),
            "latitude_deg": self.row.latitude_deg,
        }
        if present is None:
            return SiteFields.model_validate(said | place).with_contact_of(None)
        still = pipeline.not_moved(_place(present), (place["longitude_deg"], place["latitude_deg"]))
        emptied = {ours: None for ours in cells if ours != "name"} if self.clear_empty else {}
        wanted = sites.changed(present, emptied | said | ({} if still else place))
        return wanted.with_contact_of(present.fields)

    def _of_model(self, error: Any) -> Fault:
        ours = ".".join(map(str, error["loc"]))
        theirs = self.taken.get(ours)
        words = error["msg"].removeprefix("Value error, ")
        rule = f"{ours}: {words}" if ours else words
        value = None if theirs is None else self.row.cells[theirs]
        if ours == "name" and value is None:
            return self._fault(
                "a site needs a name", "map the column that holds it: --map name=COLUMN", theirs
            )
        return self._fault(rule, MEND if theirs else "give what is missing, or take it out", theirs, value)

    def _fault(self, rule: str, cure: str, column: str | None = None, value: object = None) -> Fault:
        shown = None if value is None else str(value)[:80]
        return Fault("refuse", self.name, rule, cure, feature=self.row.where, field=column, value=shown)


def _place(site: SiteRecord) -> tuple[float, float]:
    return site.fields.longitude_deg, site.fields.latitude_deg


def _says_nothing_new(cell: Any, kept: Any) -> bool:
    return isinstance(kept, str) and pipeline.same_text(cell, kept)


def _wrong(
    present: SiteRecord | None, revision: str | None, cells: Mapping[str, Any], waters: set[str]
) -> list[tuple[str, str]]:
    """Give what keeps a row from being taken, beside what its fields say: rule and cure."""
    found = []
    if present is not None and present.retired:
        found.append((f"site {present.site_id} is retired", "restore it first, or give the row another id"))
    if present is not None and revision is not None and revision != str(present.revision):
        rule = (
            f"site {present.site_id}: {present.updated_by} changed it meanwhile (revision {present.revision}, the file "
            f"was made of {revision})"
        )
        found.append((rule, "export the sites again and make the change there"))
    body = cells.get("body_id")
    if body is not None and body not in waters:
        found.append(
            (f"body_id: the region has no water {body!r}", "give the id of a water, or leave it empty")
        )
    return found


def _once(rows: Sequence[PlannedRow], file: str) -> list[PlannedRow]:
    """Refuse a row that speaks of the same site as an earlier one."""
    seen: dict[Any, str] = {}
    checked = []
    for row in rows:
        own = row.wanted.fields if row.wanted is not None else None
        place = None if own is None else (own.name, round(own.longitude_deg, 5), round(own.latitude_deg, 5))
        key = row.site_id or place
        if row.action != "refuse" and key in seen:
            rule = f"the same site stands in {seen[key]} too"
            fault = Fault("refuse", file, rule, "keep one of the two rows", feature=row.where)
            checked.append(replace(row, action="refuse", faults=(fault,), wanted=None))
            continue
        if key is not None:
            seen.setdefault(key, row.where)
        checked.append(row)
    return checked


def _placed(rows: Sequence[PlannedRow], region: Region) -> list[PlannedRow]:
    """Say of each row to be written which water it speaks of; of none, and it would rule nothing."""
    written = [annotated_site(row.where, row.wanted.fields) for row in rows if row.wanted is not None]
    found = pipeline.waters_of_sites(region, tuple(written))
    waters = {body.body_id: body.name for body in region.bodies}
    return [
        row
        if row.wanted is None
        else replace(row, notes=(_water_words(found.get(row.where), waters, row.wanted.fields),))
        for row in rows
    ]


def _water_words(body_id: str | None, waters: Mapping[str, str], fields: SiteFields) -> str:
    if body_id is None:
        return "CAUTION: lies over 50 m from every water and names none, so it rules nothing"
    return f"{fields.status}, effect {fields.effect}, on {waters[body_id]} ({body_id})"
