"""What a client of the service asked wrongly or may not do. `problems.TABLE` gives each its HTTP status."""

from geo.base.errors import FetchwaterError


class BadQuery(FetchwaterError):
    """A query parameter that cannot be used: its name, what is wrong with it and how to mend it."""

    def __init__(self, field: str, rule: str, cure: str) -> None:
        super().__init__(f"{field}: {rule}. Fix: {cure}")
        self.field, self.rule, self.cure = field, rule, cure


class NoSuchThing(FetchwaterError):
    """A collection, feature, job or page that does not exist."""


class NotFresh(FetchwaterError):
    """If-Match names a state that is not the present one; nothing was changed."""


class NeedsIfMatch(FetchwaterError):
    """An edit came without If-Match, so that nobody could tell whether it overwrites another's."""


class NotSignedIn(FetchwaterError):
    """A request that needs a token came without a valid one."""

    headers = {  # noqa: RUF012
        "WWW-Authenticate": 'Bearer realm="fetchwater", Basic realm="fetchwater", charset="UTF-8"'
    }


class NotAllowed(FetchwaterError):
    """The token's role, or the place that the request comes from, does not allow it."""


class NotSurveyed(FetchwaterError):
    """The region's waters have not been surveyed yet, so nothing can be said of them."""

    headers = {"Retry-After": "30"}  # noqa: RUF012


class TooMany(FetchwaterError):
    """More requests in a minute than one client may make, or more jobs than may wait."""

    def __init__(self, message: str, wait_s: int) -> None:
        super().__init__(message)
        self.headers = {"Retry-After": str(wait_s)}
