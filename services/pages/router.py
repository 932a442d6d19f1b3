"""The map page and what only pages ask for: background, side views, fires from files, quick answers while dragging."""

import re
from functools import cache
from pathlib import Path, PurePath
from tempfile import TemporaryDirectory
from typing import Annotated, Any
from urllib.parse import unquote

from anyio import to_thread
from fastapi import APIRouter, Query, Request, Response
from fastapi.responses import FileResponse, JSONResponse
from starlette.exceptions import HTTPException
from starlette.middleware.gzip import GZipMiddleware
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp

from geo import pipeline
from geo.base.errors import BadArgument
from geo.records.document import document
from services.core.page_views import VIEWS
from services.http.dependencies import Opened, Ready
from services.pages.bundle import classic_script
from services.pages.sending import ASK_AGAIN, Content, content, json_content, send

HERE = Path(__file__).resolve().parent
GEOJSON = "application/geo+json"
# The page loads nothing from elsewhere, save tiles whose address the user sets.
POLICY = (
    "default-src 'self'; img-src 'self' data: blob:{tiles}; style-src 'self' 'unsafe-inline'; "
    "worker-src 'self' blob:; object-src 'none'; base-uri 'self'; frame-ancestors 'self'"
)
DAY_S = 86_400
MOST_FILE_BYTES = 20 * 1024 * 1024
router = APIRouter(include_in_schema=False)


class AskedAgain(StaticFiles):
    """Files of the pages: a browser keeps them, and asks each time whether they are still the same."""

    def file_response(self, *args: Any, **kwargs: Any) -> Response:
        """Give the file, or 304, with the word to ask again."""
        response = super().file_response(*args, **kwargs)
        response.headers["Cache-Control"] = ASK_AGAIN
        return response


def static_files() -> ASGIApp:
    """Give the app that serves the scripts, styles and drawings of the pages, packed."""
    return GZipMiddleware(AskedAgain(directory=HERE / "static"), minimum_size=1_000)


def page(request: Request, name: str) -> Response:
    """Give one page with its policy of what it may load."""
    address = request.app.state.settings.background_tiles
    tiles = "" if address is None else " " + re.sub(r"^(https?://[^/]+).*$", r"\1", address)
    return FileResponse(
        HERE / "static" / name,
        media_type="text/html; charset=utf-8",
        headers={"Content-Security-Policy": POLICY.format(tiles=tiles), "Cache-Control": "no-cache"},
    )


@router.get("/")
def map_page(request: Request) -> Response:
    """The map page."""
    return page(request, "index.html")


@router.get("/page.js")
async def map_script(request: Request) -> Response:
    """The modules of the map page as one script: two dozen requests would take longer than the first answer."""
    return send(request, _map_script(), "text/javascript")


@cache
def _map_script() -> Content:
    return content(classic_script(HERE / "static" / "app", "page").encode())


@router.get("/sites.html")
def sites_page(request: Request) -> Response:
    """The page on which sites are written."""
    return page(request, "sites.html")


@router.get("/basemap/relief")
def relief(workspace: Opened) -> dict[str, Any]:
    """Where the picture of the relief lies: its address and its edges in EPSG:3857."""
    found = VIEWS.relief(workspace.region)
    if found is None:
        raise HTTPException(404, "the region has no terrain")
    # Another region under the same address must not get the picture of this one from the browser's memory.
    version = workspace.region.fingerprint[:12]
    return {"href": f"basemap/relief.png?version={version}", "edges": found.edges}


@router.get("/basemap/relief.png")
def relief_picture(workspace: Opened) -> Response:
    """The relief as a picture."""
    found = VIEWS.relief(workspace.region)
    if found is None:
        raise HTTPException(404, "the region has no terrain")
    return Response(found.png, media_type="image/png", headers={"Cache-Control": f"max-age={DAY_S}"})


@router.get("/basemap/contours")
def contours(request: Request, workspace: Opened) -> Response:
    """Contours as GeoJSON."""
    found = VIEWS.contours(workspace.region)
    if found is None:
        raise HTTPException(404, "the region has no terrain")
    return send(request, json_content(found), GEOJSON)


@router.get("/basemap/waters")
def waters(request: Request, workspace: Opened) -> Response:
    """The outlines of the waters as they are drawn."""
    return send(request, json_content(VIEWS.waters(workspace.region)), GEOJSON)


@router.get("/basemap/surroundings")
def surroundings(request: Request, workspace: Opened) -> Response:
    """Obstacles, closures, sites and the base, as they are drawn."""
    return send(request, json_content(VIEWS.surroundings(workspace.region), kept=False), GEOJSON)


@router.get("/fires")
def fires(request: Request, workspace: Opened) -> Response:
    """The outlines of the region's fires."""
    return send(request, json_content(VIEWS.fires(workspace.region), kept=False), GEOJSON)


@router.get("/basemap/tiles")
def background_tiles(request: Request) -> dict[str, str | None]:
    """The address of background tiles that the user set; null: none, which is the default."""
    return {"address": request.app.state.settings.background_tiles}


@router.get("/water-bodies/{body_id}/side-view")
def side_view(
    workspace: Ready,
    body_id: str,
    line: Annotated[str, Query(max_length=40_000, description="longitude latitude,longitude latitude,...")],
) -> dict[str, Any]:
    """One run of a water body in side view: ground, surfaces, obstacles, depth."""
    view = pipeline.run_from_side(workspace.region, workspace.survey, body_id, corners(line))
    return document(view, workspace.region.frame)  # type: ignore[return-value]


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


@router.post("/fires/read", max_body_size=MOST_FILE_BYTES)
async def read_fire(request: Request, workspace: Opened) -> Response:
    """Read a fire's outline from a file sent as the body; its name stands in Content-Disposition. Nothing is kept."""
    content = await request.body()
    name = sent_name(request.headers.get("content-disposition", ""))

    def read() -> dict:
        with TemporaryDirectory() as folder:
            path = Path(folder) / name
            path.write_bytes(content)
            return pipeline.fire_file(path, workspace.region)

    return JSONResponse(await to_thread.run_sync(read))


def sent_name(header: str) -> str:
    """Give the plain file name of a Content-Disposition header; no folder of it counts."""
    match = re.search(r"filename\*=UTF-8''([^;]+)", header)
    name = PurePath(unquote(match[1]).replace("\\", "/")).name if match else ""
    kept = "".join(letter for letter in name if letter.isprintable() and letter not in '<>:"|?*')[-100:]
    return kept if kept.strip(". ") else "fire.geojson"
