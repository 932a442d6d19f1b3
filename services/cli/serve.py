"""The command `serve`: the pages, and the same over HTTP."""

import sys
from pathlib import Path
from typing import Annotated

import typer


def serve(
    region: Annotated[Path | None, typer.Argument(help="region folder; default: FETCHWATER_REGION")] = None,
    host: Annotated[str, typer.Option("--host", help="address to listen on")] = "127.0.0.1",
    port: Annotated[int, typer.Option("--port", min=1, max=65535, help="port to listen on")] = 8000,
    survey_first: Annotated[
        bool,
        typer.Option(
            "--survey-first",
            help="answer only when a region never surveyed is surveyed (or FETCHWATER_SURVEY_AT_START=true); else its "
            "map page starts the survey",
        ),
    ] = False,
) -> None:
    """Serve the region: the pages, and the same over HTTP, whose documents are at /docs."""
    import uvicorn

    from services.app import create_app
    from services.settings import read_settings

    service = create_app(read_settings(region=region, survey_at_start=survey_first or None))
    print(f"the pages are at http://{host}:{port}/ (end with Ctrl+C)", file=sys.stderr)
    uvicorn.run(service, host=host, port=port, log_level="warning")
