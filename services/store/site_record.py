"""What can be written of an annotated site, checked field by field, and the record that the store keeps of it."""

import re
from datetime import date, datetime
from typing import Annotated, Any, Literal

import shapely
from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, model_validator

# Stands in the place of a contact for those who may not see it. Who sends it back leaves the contact as it is kept.
FOR_PLANNERS = "shown to planners only"
METHODS = ("ram intake", "hover pump", "bucket dip")
EARLIEST, LATEST = date(1900, 1, 1), date(2200, 1, 1)
_NOT_ALLOWED = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff]")


def _clean(text: str) -> str:
    if _NOT_ALLOWED.search(text):
        raise ValueError("holds a control character or half a character; write plain text")
    return text.strip()


def _written(day: object) -> object:
    # A bare number would be taken for seconds since 1970.
    if isinstance(day, date) or (isinstance(day, str) and re.fullmatch(r"\d{4}-\d\d-\d\d", day)):
        return day
    raise ValueError("is no day; write YYYY-MM-DD")


def _of_our_time(day: date) -> date:
    if not EARLIEST <= day <= LATEST:
        raise ValueError(f"lies outside {EARLIEST} to {LATEST}; check the year")
    return day


def _season_day(text: str) -> str:
    try:
        # 29 February is no day of every year.
        date(2001, int(text[:2]), int(text[3:]))
    except ValueError as problem:
        raise ValueError("is no day of every year; write MM-DD, for example 11-01") from problem
    return text


def _named(text: str) -> str:
    if not text:
        raise ValueError("is blank; write a name")
    return text


def _figure(value: object) -> object:
    # true and false would be taken for 1 and 0.
    if isinstance(value, bool):
        raise ValueError("is no figure; write a number")
    return value


Name = Annotated[str, Field(min_length=1, max_length=200), AfterValidator(_clean), AfterValidator(_named)]
Figure = Annotated[float, BeforeValidator(_figure)]
Words = Annotated[str, Field(max_length=4000), AfterValidator(_clean)]
WrittenDay = Annotated[date, BeforeValidator(_written)]
Day = Annotated[WrittenDay, AfterValidator(_of_our_time)]
SeasonDay = Annotated[str, Field(pattern=r"^\d\d-\d\d$"), AfterValidator(_season_day)]


class SiteFields(BaseModel):
    """Everything that people write of a site. Empty means that nobody wrote it down."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    name: Name
    longitude_deg: Figure = Field(
        ge=-180.0, le=180.0, allow_inf_nan=False, description="WGS 84, east positive"
    )
    latitude_deg: Figure = Field(ge=-90.0, le=90.0, allow_inf_nan=False, description="WGS 84, north positive")
    body_id: Name | None = Field(default=None, description="the water that it speaks of; else where it lies")
    place: Words | None = Field(default=None, description="where it is, in words")
    method: Literal["ram intake", "hover pump", "bucket dip"] | None = Field(
        default=None, description="the fill method that it speaks of; every method when empty"
    )
    status: Literal["open", "closed", "seasonal", "unknown"] = Field(
        default="unknown", description="open, closed, seasonal or unknown"
    )
    valid_from: Day | None = Field(default=None, description="first day of that status")
    valid_to: Day | None = Field(default=None, description="last day of that status")
    season_from: SeasonDay | None = Field(
        default=None, description="seasonal: first open day of the year, MM-DD"
    )
    season_to: SeasonDay | None = Field(
        default=None, description="seasonal: last open day of the year, MM-DD"
    )
    effect: Literal["confirm", "limit", "veto", "note"] = Field(
        default="note", description="what it does to the survey's verdict"
    )
    most_litres: Figure | None = Field(
        default=None, gt=0.0, le=100_000.0, description="limit: largest load that may be taken [L]"
    )
    hazards: Words | None = Field(default=None, description="what to mind")
    wires: Words | None = Field(default=None, description="wires near the place")
    access: Words | None = Field(default=None, description="how to reach the place on the ground")
    owner: Words | None = Field(default=None, description="who owns the water or the land")
    permission: Literal["granted", "not needed", "refused"] | None = Field(
        default=None, description="granted, not needed or refused"
    )
    permission_to: Day | None = Field(default=None, description="last day of a permission granted")
    contact: Words | None = Field(
        default=None, description="whom to call; readers see only that there is one"
    )
    inspected_on: Day | None = Field(default=None, description="day of the last inspection")
    inspected_by: Words | None = Field(default=None, description="who inspected last")
    inspection_due: Day | None = Field(default=None, description="by when to inspect again")
    depth_evidence_to: Day | None = Field(default=None, description="until when its depths are to be trusted")
    note: Words | None = Field(default=None, description="free note")

    @model_validator(mode="after")
    def _hangs_together(self) -> "SiteFields":
        if self.valid_from and self.valid_to and self.valid_to < self.valid_from:
            raise ValueError("valid_to lies before valid_from")
        if (self.season_from is None) != (self.season_to is None):
            raise ValueError("season_from and season_to belong together")
        if (self.status == "seasonal") != (self.season_from is not None):
            raise ValueError("a seasonal site needs season_from and season_to, another has none")
        if (self.effect == "limit") != (self.most_litres is not None):
            raise ValueError("the effect limit needs most_litres, another has none")
        if self.permission_to is not None and self.permission != "granted":
            raise ValueError("permission_to needs the permission granted")
        if self.effect == "veto" and self.status == "open":
            raise ValueError("a site cannot be open and a veto")
        return self

    def with_contact_of(self, kept: "SiteFields | None") -> "SiteFields":
        """Give the fields with the contact that is kept, where they were read by somebody who may not see it."""
        if self.contact != FOR_PLANNERS:
            return self
        return self.model_copy(update={"contact": None if kept is None else kept.contact})

    def row(self) -> dict[str, Any]:
        """Give the fields as columns of the table `site`."""
        row = self.model_dump(exclude={"longitude_deg", "latitude_deg"})
        return row | {"geom": shapely.Point(self.longitude_deg, self.latitude_deg)}


def for_readers(document: dict[str, Any]) -> dict[str, Any]:
    """Give a document of a site for those who may not see its contact: people's telephone numbers."""
    return document if document.get("contact") is None else {**document, "contact": FOR_PLANNERS}


class SiteRecord(BaseModel):
    """A site as it is kept. revision counts its changes from 1 and is its ETag; retired sites no longer count."""

    model_config = ConfigDict(frozen=True)

    site_id: str
    region_id: str
    revision: int
    retired: bool
    created_at: datetime
    updated_at: datetime
    updated_by: str
    fields: SiteFields

    def document(self) -> dict[str, Any]:
        """Give the record as plain JSON, its fields on the same level."""
        plain = self.model_dump(mode="json")
        return plain.pop("fields") | plain


def record_of(row: Any) -> SiteRecord:
    """Read a row of the table `site`."""
    own = {
        name: getattr(row, name)
        for name in SiteFields.model_fields
        if name not in ("longitude_deg", "latitude_deg")
    }
    fields = SiteFields.model_construct(**own, longitude_deg=row.geom.x, latitude_deg=row.geom.y)
    kept = {name: getattr(row, name) for name in SiteRecord.model_fields if name != "fields"}
    return SiteRecord(**kept, fields=fields)
