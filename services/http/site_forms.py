"""Sites and their changes as the service takes and gives them."""

from typing import Annotated, Any

from fastapi import Header, Query, Response
from fastapi.responses import JSONResponse
from pydantic import BaseModel, ConfigDict, Field

from services.http.etags import etag
from services.store.site_record import SiteFields, SiteRecord, WrittenDay, for_readers

IfMatch = Annotated[str | None, Header(description="ETag of the revision that is changed; needed")]


class Site(SiteFields):
    """A site with what the store keeps beside its fields."""

    model_config = ConfigDict(extra="allow")

    site_id: str
    region_id: str
    revision: int = Field(description="counts the changes from 1; also the ETag")
    retired: bool = Field(description="true where the site no longer counts")
    created_at: str
    updated_at: str
    updated_by: str


class Change(BaseModel):
    """One change of a site: who, when, before, after."""

    revision: int
    changed_at: str
    changed_by: str
    action: str
    before: dict[str, Any] | None
    after: dict[str, Any]


Caption = Annotated[str | None, Query(max_length=500)]
TakenOn = Annotated[WrittenDay | None, Query(description="day on which it was taken, YYYY-MM-DD")]


def site_answer(
    record: SiteRecord, status: int = 200, headers: dict[str, str] | None = None, *, whole: bool = True
) -> Response:
    """Give a site with its ETag; whole, with its contact."""
    document = record.document() if whole else for_readers(record.document())
    return JSONResponse(document, status, {"ETag": etag(record.revision), **(headers or {})})
