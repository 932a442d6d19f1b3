"""The map page and what only pages ask for: background, side views, fires from files. Their files are in `static/`."""

import hashlib
import re
from functools import cache
from pathlib import Path, PurePath
from tempfile import TemporaryDirectory
from typing import Annotated, Any, TypeVar
from urllib.parse import unquote

from anyio import to_thread
from fastapi import APIRouter, Query, Request, Response
from fastapi.responses import FileResponse, JSONResponse
from pydantic_core import to_json
from starlette.staticfiles import StaticFiles

from geo.base.errors import BadArgument
from services.core import views
from services.errors import NoSuchThing
from services.http.dependencies import Opened, Ready
from services.http.rights import ASKING, READERS
from services.pages.bundle import classic_script

HERE = Path(__file__).resolve().parent
GEOJSON = "application/geo+json"
# The page loads nothing from elsewhere, save tiles whose address the user sets.
POLICY = (
    "default-src 'self'; img-src 'self' data: blob:{tiles}; style-src 'self' 'unsafe-inline'; "
    "worker-src 'self' blob:; object-src 'none'; base-uri 'self'; frame-ancestors 'self'"
)
# A browser keeps an answer and asks each time whether it still holds; where it does, 304 alone goes over the wire.
ASK_AGAIN = {"Cache-Control": "no-cache"}
DAY_S = 86_400
MOST_FILE_BYTES = 20 * 1024 * 1024
Found = TypeVar("Found")
router = APIRouter(include_in_schema=False)
_static = StaticFiles(directory=HERE / "static")


@router.get("/static/{path:path}", dependencies=[READERS])
async def static_file(request: Request, path: str) -> Response:
    """A script, style or drawing of the pages, or 304."""
    response = await _static.get_response(path, request.scope)
    response.headers.update(ASK_AGAIN)
    return response


def tagged(request: Request, content: bytes, media_type: str) -> Response:
    """Answer with content under the tag of its bytes, or 304 where the browser has it (RFC 9110, 13.1.2)."""
    # Weak: packed and plain bytes stand for the same content (RFC 9110, 8.8.1).
    tag = f'W/"{hashlib.sha256(content).hexdigest()[:20]}"'
    headers = ASK_AGAIN | {"ETag": tag}
    if tag in (one.strip() for one in request.headers.get("if-none-match", "").split(",")):
        return Response(status_code=304, headers=headers | {"Vary": "Accept-Encoding"})
    return Response(content, media_type=media_type, headers=headers)


def page(request: Request, name: str) -> Response:
    """Give one page with its policy of what it may load."""
    address = request.app.state.settings.background_tiles
    tiles = "" if address is None else " " + re.sub(r"^(https?://[^/]+).*$", r"\1", address)
    return FileResponse(
        HERE / "static" / name,
        media_type="text/html; charset=utf-8",
        headers=ASK_AGAIN | {"Content-Security-Policy": POLICY.format(tiles=tiles)},
    )


@router.get("/", dependencies=[READERS])
def map_page(request: Request) -> Response:
    """The map page."""
    return page(request, "index.html")


@router.get("/page.js", dependencies=[READERS])
async def map_script(request: Request) -> Response:
    """The modules of the map page as one script: two dozen requests would take longer than the first answer."""
    return tagged(request, _map_script(), "text/javascript")


@cache
def _map_script() -> bytes:
    return classic_script(HERE / "static" / "app", "page").encode()


@router.get("/sites.html", dependencies=[READERS])
def sites_page(request: Request) -> Response:
    """The page on which sites are written."""
    return page(request, "sites.html")


def _of_terrain(found: Found | None) -> Found:
    if found is None:
        raise NoSuchThing("the region has no terrain")
    return found


@router.get("/basemap/relief", dependencies=[READERS])
def relief(workspace: Opened) -> dict[str, Any]:
    """Where the picture of the relief lies: its address and its edges in EPSG:3857."""
    found = _of_terrain(views.relief(workspace.region))
    # Another region under the same address must not get the picture of this one from the browser's memory.
    version = workspace.region.fingerprint[:12]
    return {"href": f"basemap/relief.png?version={version}", "edges": found.edges}


@router.get("/basemap/relief.png", dependencies=[READERS])
def relief_picture(workspace: Opened) -> Response:
    """The relief as a picture."""
    found = _of_terrain(views.relief(workspace.region))
    return Response(found.png, media_type="image/png", headers={"Cache-Control": f"max-age={DAY_S}"})


@router.get("/basemap/contours", dependencies=[READERS])
def contours(request: Request, workspace: Opened) -> Response:
    """Contours as GeoJSON."""
    found = _of_terrain(views.contours(workspace.region))
    return tagged(request, to_json(found), GEOJSON)


@router.get("/basemap/waters", dependencies=[READERS])
def waters(request: Request, workspace: Opened) -> Response:
    """The outlines of the waters as they are drawn."""
    return tagged(request, to_json(views.waters(workspace.region)), GEOJSON)


@router.get("/basemap/surroundings", dependencies=[READERS])
def surroundings(request: Request, workspace: Opened) -> Response:
    """Obstacles, closures, sites and the base, as they are drawn."""
    return tagged(request, to_json(views.surroundings(workspace.region)), GEOJSON)


@router.get("/fires", dependencies=[READERS])
def fires(request: Request, workspace: Opened) -> Response:
    """The outlines of the region's fires."""
    return tagged(request, to_json(views.fires(workspace.region)), GEOJSON)


@router.get("/basemap/tiles", dependencies=[READERS])
def background_tiles(request: Request) -> dict[str, str | None]:
    """The address of background tiles that the user set; null: none, which is the default."""
    return {"address": request.app.state.settings.background_tiles}


@router.get("/water-bodies/{body_id}/side-view", dependencies=[READERS])
def side_view(
    workspace: Ready,
    body_id: str,
    line: Annotated[str, Query(max_length=40_000, description="longitude latitude,longitude latitude,...")],
) -> dict[str, Any]:
    """One run of a water body in side view: ground, surfaces, obstacles, depth."""
    return views.run_from_side(workspace, body_id, corners(line))


def corners(text: str) -> list[tuple[float, float]]:
    """Give longitude, latitude [deg] of "lon lat,lon lat,...".

    Raises: BadArgument when a pair is not two numbers.
    """
    found = []
    for pair in text.split(","):
        try:
            longitude, latitude = (float(number) for number in pair.split())
        except ValueError as error:
            raise BadArgument(
                f"line: {pair.strip()[:40]!r} is not two numbers. Fix: longitude latitude,longitude latitude,..."
            ) from error
        found.append((longitude, latitude))
    return found


@router.post("/fires/read", dependencies=[ASKING], max_body_size=MOST_FILE_BYTES)
async def read_fire(request: Request, workspace: Opened) -> Response:
    """Read a fire's outline from a file sent as the body; its name stands in Content-Disposition. Nothing is kept."""
    content = await request.body()
    name = sent_name(request.headers.get("content-disposition", ""))

    def read() -> dict:
        with TemporaryDirectory() as folder:
            path = Path(folder) / name
            path.write_bytes(content)
            return views.fire_file(path, workspace.region)

    return JSONResponse(await to_thread.run_sync(read))


def sent_name(header: str) -> str:
    """Give the plain file name of a Content-Disposition header; no folder of it counts."""
    match = re.search(r"filename\*=UTF-8''([^;]+)", header)
    name = PurePath(unquote(match[1]).replace("\\", "/")).name if match else ""
    kept = "".join(letter for letter in name if letter.isprintable() and letter not in '<>:"|?*')[-100:]
    return kept if kept.strip(". ") else "fire.geojson"
