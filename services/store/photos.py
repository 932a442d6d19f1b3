"""Photos of annotated sites: the bytes with their SHA-256; a photo that is retired stays in the store."""

from dataclasses import dataclass, fields
from datetime import date, datetime
from hashlib import sha256
from typing import Annotated
from uuid import uuid4

from pydantic import PlainSerializer
from sqlalchemy import Engine, select, update

from geo.base.errors import BadArgument
from services.errors import NotKept
from services.store.column_types import now
from services.store.engine import reading, writing
from services.store.sites import site_in, step
from services.store.tables import site_photo

MAX_BYTES = 10 * 1024**2
# What a picture begins with: ISO/IEC 10918-1 (SOI marker), PNG 12.12 (signature), WebP container (RIFF).
_BEGINNINGS: tuple[tuple[str, bytes, int, bytes], ...] = (
    ("image/jpeg", b"\xff\xd8\xff", 0, b""),
    ("image/png", b"\x89PNG\r\n\x1a\n", 0, b""),
    ("image/webp", b"RIFF", 8, b"WEBP"),
)


@dataclass(frozen=True)
class PhotoHead:
    """A photo without its bytes."""

    photo_id: str
    site_id: str
    sha256: str
    media_type: str
    size_bytes: int
    caption: str | None
    taken_on: date | None
    added_at: Annotated[datetime, PlainSerializer(datetime.isoformat, return_type=str)]
    added_by: str


_HEAD = [site_photo.c[one.name] for one in fields(PhotoHead)]


def media_type_of(content: bytes) -> str:
    """Give the media type of a picture by its first bytes.

    Raises: BadArgument for an empty one, one over MAX_BYTES, or bytes that are no JPEG, PNG or WebP.
    """
    if len(content) > MAX_BYTES:
        raise BadArgument(
            f"photo: {len(content)} bytes; the limit is {MAX_BYTES}. Fix: send a smaller picture"
        )
    for media_type, start, at, word in _BEGINNINGS:
        if content.startswith(start) and content[at : at + len(word)] == word:
            return media_type
    raise BadArgument("photo: the bytes are no JPEG, PNG or WebP picture. Fix: send one of these")


def add(
    engine: Engine,
    site_id: str,
    content: bytes,
    who: str,
    *,
    caption: str | None = None,
    taken_on: date | None = None,
) -> PhotoHead:
    """Keep a photo of a site; the site's history says so. Raises: NotKept; BadArgument for what is no picture."""
    media_type = media_type_of(content)
    photo_id = uuid4().hex[:12]
    with writing(engine) as connection:
        before = site_in(connection, site_id, locked=True)
        connection.execute(
            site_photo.insert().values(
                photo_id=photo_id,
                site_id=site_id,
                sha256=sha256(content).hexdigest(),
                media_type=media_type,
                size_bytes=len(content),
                caption=caption,
                taken_on=taken_on,
                added_at=now(),
                added_by=who,
                retired=False,
                content=content,
            )
        )
        step(connection, before, before, who, f"photo {photo_id} added")
    return head(engine, photo_id)


def head(engine: Engine, photo_id: str) -> PhotoHead:
    """Give what is known of a photo. Raises: NotKept."""
    with reading(engine) as connection:
        row = connection.execute(select(*_HEAD).where(site_photo.c.photo_id == photo_id)).one_or_none()
    if row is None:
        raise NotKept(f"no photo {photo_id!r} is kept. Fix: list the site's photos")
    return PhotoHead(*row)


def of_site(engine: Engine, site_id: str) -> list[PhotoHead]:
    """Give the photos of a site that are not retired, the oldest first."""
    asked = (
        select(*_HEAD)
        .where(site_photo.c.site_id == site_id, site_photo.c.retired.is_(False))
        .order_by(site_photo.c.fid)
    )
    with reading(engine) as connection:
        return [PhotoHead(*row) for row in connection.execute(asked)]


def content(engine: Engine, photo_id: str) -> bytes:
    """Give the bytes of a photo. Raises: NotKept."""
    with reading(engine) as connection:
        found = connection.scalar(select(site_photo.c.content).where(site_photo.c.photo_id == photo_id))
    if found is None:
        raise NotKept(f"no photo {photo_id!r} is kept. Fix: list the site's photos")
    return bytes(found)


def retire(engine: Engine, photo_id: str, who: str) -> None:
    """Retire a photo: it is no longer shown, its bytes stay. Raises: NotKept."""
    site_id = head(engine, photo_id).site_id
    with writing(engine) as connection:
        before = site_in(connection, site_id, locked=True)
        connection.execute(update(site_photo).where(site_photo.c.photo_id == photo_id).values(retired=True))
        step(connection, before, before, who, f"photo {photo_id} retired")
