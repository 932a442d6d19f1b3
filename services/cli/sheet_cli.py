"""Commands for paper and for the field: `sheet` and `pack`."""

from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Any

import typer

from services.cli.options import (
    AircraftOpt,
    DayOpt,
    JsonOpt,
    LevelOpt,
    RegionArg,
    StationOpt,
    TargetOpt,
    TimeOpt,
    WindFieldOpt,
    WindProfileOpt,
)

FireOpt = Annotated[
    str | None, typer.Option("--fire", help="fire: id or name in the region, or a file with its outline")
]
WindOpt = Annotated[
    str | None, typer.Option("--wind", help="with --fire: where it blows FROM [deg true] / speed")
]
OatOpt = Annotated[str | None, typer.Option("--oat", help="with --fire: outside air temperature: 34C or 93F")]
QnhOpt = Annotated[
    str | None, typer.Option("--qnh", help="with --fire: pressure at sea level: 1009 or 29.80inHg")
]
WaterOpt = Annotated[
    list[str] | None, typer.Option("--water", help="id or name of a water, may be repeated; all: every one")
]
PaperOpt = Annotated[str, typer.Option("--paper", help="A4 or Letter")]
UnitsOpt = Annotated[str, typer.Option("--units", help="units of the figures: trade, si or us")]


def register(app: typer.Typer, answers_errors: Callable, print_json: Callable[[object], None]) -> None:
    """Add the commands; `answers_errors` turns the program's errors into messages and exit codes."""

    @app.command()
    @answers_errors
    def sheet(
        region: RegionArg,
        out: Annotated[Path, typer.Option("--out", help="folder for the PDF files")],
        water: WaterOpt = None,
        fire: FireOpt = None,
        wind: WindOpt = None,
        oat: OatOpt = None,
        qnh: QnhOpt = None,
        aircraft: AircraftOpt = "heavy_tank_helicopter",
        station_elevation: StationOpt = "0m",
        day: DayOpt = None,
        time: TimeOpt = None,
        target: TargetOpt = "centroid",
        wind_profile: WindProfileOpt = None,
        wind_field: WindFieldOpt = None,
        level: LevelOpt = None,
        paper: PaperOpt = "A4",
        units: UnitsOpt = "trade",
        json: JsonOpt = False,
    ) -> None:
        """Write one-page sheets (PDF): of waters with --water, of a ranking with --fire."""
        from services.cli.cli_question import TypedQuestion, open_folder

        chosen = _paper(paper), _units(units)
        if water is None and fire is None:
            raise _nothing_asked()
        workspace = open_folder(region, quiet=json, levels=level)
        makers: dict[str, Callable[[], bytes]] = {}
        ranking_id = None
        if fire is not None:
            typed = (wind, oat, qnh, aircraft, station_elevation, day, target, time, wind_profile, wind_field)
            ranking_id = TypedQuestion(fire, *typed).answer(workspace).ranking_id
            makers["ranking.pdf"] = _of_ranking(workspace, ranking_id, *chosen)
        makers |= _of_waters(workspace, water or [], day, *chosen)
        written = _write(out, makers, quiet=json)
        if json:
            print_json({"ranking_id": ranking_id, "files": [str(path) for path in written]})
        else:
            from services.cli import tables as console

            console.print_files(written)

    @app.command()
    @answers_errors
    def pack(
        region: RegionArg,
        fire: Annotated[str, typer.Option("--fire", help="fire: id or name in the region, or a file")],
        wind: Annotated[str, typer.Option("--wind", help="where it blows FROM [deg true] / speed: 300/18kt")],
        oat: Annotated[str, typer.Option("--oat", help="outside air temperature with its unit: 34C or 93F")],
        qnh: Annotated[str, typer.Option("--qnh", help="pressure at sea level: 1009 (hPa) or 29.80inHg")],
        out: Annotated[
            Path, typer.Option("--out", help="the package: FILE.zip, or a folder that is not there yet")
        ],
        aircraft: AircraftOpt = "heavy_tank_helicopter",
        station_elevation: StationOpt = "0m",
        day: DayOpt = None,
        time: TimeOpt = None,
        target: TargetOpt = "centroid",
        wind_profile: WindProfileOpt = None,
        wind_field: WindFieldOpt = None,
        level: LevelOpt = None,
        top: Annotated[int, typer.Option("--top", min=1, help="how many sources to rank")] = 30,
        water: WaterOpt = None,
        paper: PaperOpt = "A4",
        units: UnitsOpt = "trade",
        json: JsonOpt = False,
    ) -> None:
        """Pack an answer for a place without the service: sheets, GPX, KMZ, GeoPackage, GeoJSON, a page to read."""
        from services.cli import tables as console
        from services.cli.cli_question import TypedQuestion, open_folder
        from services.core.field_package import write_package

        chosen = _paper(paper), _units(units)
        workspace = open_folder(region, quiet=json, levels=level)
        typed = (wind, oat, qnh, aircraft, station_elevation, day, target, time, wind_profile, wind_field)
        answer = TypedQuestion(fire, *typed, top=top).answer(workspace)
        with console.progress_bar(json, "package") as progress:
            path = write_package(out, workspace, answer, water, *chosen, progress=progress)
        if json:
            print_json({"ranking_id": answer.ranking_id, "files": [str(path)]})
        else:
            console.print_files([path])


def _paper(given: str) -> Any:
    from geo.base.errors import BadArgument

    found = {"a4": "A4", "letter": "Letter"}.get(given.strip().lower())
    if found is None:
        raise BadArgument(f"paper {given!r} is not known. Fix: A4 or Letter")
    return found


def _units(given: str) -> str:
    from geo.base.unit_system import unit_system

    return unit_system(given).name


def _nothing_asked() -> Exception:
    from geo.base.errors import BadArgument

    return BadArgument("no sheet was asked for. Fix: name waters with --water, or ask a ranking with --fire")


def _of_ranking(workspace: Any, ranking_id: str, paper: Any, units: str) -> Callable[[], bytes]:
    from services.core.sheets import ranking_sheet

    return lambda: ranking_sheet(workspace, ranking_id, paper, units)


def _of_waters(
    workspace: Any, names: list[str], day: str | None, paper: Any, units: str
) -> dict[str, Callable[[], bytes]]:
    """Give what makes the sheets of the waters named, by file name; nothing is made yet."""
    from functools import partial

    from geo.pipeline import waters_named
    from services.core import quantities
    from services.core.sheets import water_file_names, water_sheet

    if not names:
        return {}
    on = None if day is None else quantities.day(day)
    files = water_file_names(waters_named(workspace.survey, names))
    return {name: partial(water_sheet, workspace, record, paper, units, on) for name, record in files.items()}


def _write(folder: Path, makers: dict[str, Callable[[], bytes]], quiet: bool) -> list[Path]:
    from services.cli.tables import progress_bar
    from services.core.sheets import write_sheets

    with progress_bar(quiet, "sheets") as progress:
        return write_sheets(folder, makers, progress)
