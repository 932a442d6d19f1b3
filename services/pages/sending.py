"""What a browser may keep: large answers with a tag of their content, packed small, and sent once."""

import gzip
import hashlib
import json
import re
from dataclasses import dataclass

from fastapi import Request, Response

from geo.base.recent import Recent

LEAST_PACKED_BYTES = 1_000
# Level 5 packs a district's outlines within a few per cent of level 9 at a fraction of its time.
PACKING = 5
# An answer is asked for again each time; where nothing changed, 304 alone goes over the wire.
ASK_AGAIN = "no-cache"


@dataclass(frozen=True)
class Content:
    """Bytes to be sent, plain and packed, with their tag."""

    plain: bytes
    packed: bytes
    tag: str


_json: Recent[Content] = Recent(12)


def content(text: bytes) -> Content:
    """Give bytes with their packed form and the tag that stands for them."""
    packed = gzip.compress(text, PACKING, mtime=0) if len(text) >= LEAST_PACKED_BYTES else text
    # Weak: packed and plain bytes stand for the same content (RFC 9110, 8.8.1).
    return Content(text, packed, f'W/"{hashlib.sha256(text).hexdigest()[:20]}"')


def json_content(value: object, kept: bool = True) -> Content:
    """Give a value as JSON; the bytes of a value that is kept elsewhere are kept with it."""

    def made() -> Content:
        written = json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
        return content(written.encode())

    return _json.get((value,), (), made) if kept else made()


def send(request: Request, found: Content, media_type: str) -> Response:
    """Answer with the content, packed where the browser takes that, or 304 where it has it (RFC 9110, 13.1.2)."""
    headers = {"ETag": found.tag, "Cache-Control": ASK_AGAIN, "Vary": "Accept-Encoding"}
    if found.tag in (one.strip() for one in request.headers.get("if-none-match", "").split(",")):
        return Response(status_code=304, headers=headers)
    body = found.plain
    if found.packed is not found.plain and _takes_gzip(request.headers.get("accept-encoding", "")):
        body, headers["Content-Encoding"] = found.packed, "gzip"
    return Response(body, media_type=media_type, headers=headers)


def _takes_gzip(accepted: str) -> bool:
    """True where gzip is named and not refused by a weight of 0 (RFC 9110, 12.5.3)."""
    for part in accepted.lower().split(","):
        name, _, weight = part.partition(";")
        if name.strip() == "gzip":
            return re.fullmatch(r"\s*q=0(\.0*)?\s*", weight) is None
    return False
