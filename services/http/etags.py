"""ETag and If-Match: how an edit says which state it changes (RFC 9110, 13.1.1)."""

from services.errors import NeedsIfMatch, NotFresh


def etag(revision: int) -> str:
    """Give the ETag of a record's revision."""
    return f'"{revision}"'


def revision_named(if_match: str | None, present: int) -> int:
    """Give the revision that an edit means to change; `*` and a list that holds the present ETag are the present one.

    Raises: NeedsIfMatch without the header; NotFresh where no ETag of ours is in it.
    """
    if if_match is None:
        raise NeedsIfMatch(
            "If-Match is missing. Fix: send the ETag under which you read it, so that nothing is lost"
        )
    tags = [tag.strip() for tag in if_match.split(",")]
    if "*" in tags or etag(present) in tags:
        return present
    inner = tags[0][1:-1] if tags[0][:1] == tags[0][-1:] == '"' else ""
    if not (inner.isascii() and inner.isdigit() and len(inner) < 10):
        raise NotFresh(
            f"If-Match holds no ETag of this record. Fix: read it again; its ETag is now {etag(present)}"
        )
    return int(inner)
