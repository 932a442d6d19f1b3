"""Addresses of the service's own resources, absolute, and the links of a page of features."""

from urllib.parse import quote, urlencode

from starlette.requests import Request

from services.ogc.parameters import ItemsQuery

JSON = "application/json"
GEOJSON = "application/geo+json"
HTML = "text/html"
SCHEMA = "application/schema+json"
OPENAPI = "application/vnd.oai.openapi+json;version=3.0"
Link = dict[str, str]


def root_of(request: Request) -> str:
    """Give the address of the features' landing page, without a slash at its end."""
    return f"{str(request.base_url).rstrip('/')}/ogc"


def link(href: str, rel: str, media_type: str, title: str) -> Link:
    """Give one link object (RFC 8288 relations)."""
    return {"href": href, "rel": rel, "type": media_type, "title": title}


def both_ways(href: str, shown: str, main_type: str, title: str) -> list[Link]:
    """Give self and alternate of a resource that comes as JSON and as HTML; `shown` is the format of this answer."""
    as_json, as_html = (href, main_type), (f"{href}?f=html", HTML)
    own, other = (as_html, as_json) if shown == "html" else (as_json, as_html)
    return [link(own[0], "self", own[1], title), link(other[0], "alternate", other[1], title)]


def page_links(address: str, query: ItemsQuery, matched: int, shown: str) -> list[Link]:
    """Give self, alternate, next and prev of a page; next is there only while something follows."""
    given = [(name, value) for name, value in query.given if name not in ("f", "offset", "limit")]

    def href(form: str, offset: int) -> str:
        paging = [("limit", str(query.limit)), ("offset", str(offset))]
        return f"{address}?{urlencode([*given, *paging, ('f', form)])}"

    other = "html" if shown == "json" else "json"
    types = {"json": GEOJSON, "html": HTML}
    found = [
        link(href(shown, query.offset), "self", types[shown], "this page"),
        link(href(other, query.offset), "alternate", types[other], f"this page as {other}"),
    ]
    if query.offset + query.limit < matched:
        found.append(link(href(shown, query.offset + query.limit), "next", types[shown], "next page"))
    if query.offset > 0:
        before = max(0, query.offset - query.limit)
        found.append(link(href(shown, before), "prev", types[shown], "page before"))
    return found


def item_address(root: str, layer_id: str, feature_id: str) -> str:
    """Give the address of one feature; an id may hold any character."""
    return f"{root}/collections/{layer_id}/items/{quote(feature_id)}"
