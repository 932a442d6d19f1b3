"""Commands that ask for a fire: `rank`, `fleet` and `export`."""

from collections.abc import Callable
from pathlib import Path
from typing import Annotated

import typer

from services.cli.cli_question import asked as asked_of
from services.cli.cli_question import in_field, open_folder, print_json
from services.cli.cli_question import weather as weather_of
from services.cli.options import (
    AircraftOpt,
    CoverageOpt,
    DayOpt,
    FireOpt,
    FormatsOpt,
    FuelModelOpt,
    JsonOpt,
    LevelOpt,
    LineOpt,
    OatOpt,
    OutOpt,
    PerimeterOpt,
    PlotCycleOpt,
    QnhOpt,
    RegionArg,
    StationOpt,
    TargetOpt,
    TimeOpt,
    TopOpt,
    WidthOpt,
    WindFieldOpt,
    WindOpt,
    WindProfileOpt,
)


def rank(
    region: RegionArg,
    fire: FireOpt,
    wind: WindOpt,
    oat: OatOpt,
    qnh: QnhOpt,
    aircraft: AircraftOpt = "heavy_tank_helicopter",
    station_elevation: StationOpt = "0m",
    day: DayOpt = None,
    top: TopOpt = None,
    line: LineOpt = None,
    width: WidthOpt = None,
    coverage: CoverageOpt = None,
    fuel_model: FuelModelOpt = None,
    time: TimeOpt = None,
    target: TargetOpt = "centroid",
    perimeter: PerimeterOpt = False,
    wind_profile: WindProfileOpt = None,
    wind_field: WindFieldOpt = None,
    plot: PlotCycleOpt = None,
    level: LevelOpt = None,
    out: OutOpt = None,
    formats: FormatsOpt = None,
    json: JsonOpt = False,
) -> None:
    """Rank the water sources for a fire: round trips, litres per hour, and why; excluded sources with their reason."""
    from geo import pipeline
    from geo.base.errors import BadArgument
    from geo.ingest.layers.aircraft import load_profile
    from geo.records.file_formats import formats_of
    from services.cli import extras_tables as beside
    from services.cli import tables as console
    from services.core.workspace import ask

    weather = weather_of(wind, oat, qnh, station_elevation, day, wind_profile)
    profile = load_profile(aircraft)
    if formats is not None and out is None:
        raise BadArgument("--formats needs a folder. Fix: say where the files go with --out")
    chosen = formats_of(formats)
    workspace = open_folder(region, quiet=json, levels=level)
    weather = in_field(weather, wind_field, workspace.region)
    asked = asked_of(
        workspace.region,
        target,
        weather.day,
        line=line,
        width=width,
        coverage=coverage,
        fuel_model=fuel_model,
        time=time,
        perimeter=perimeter,
    )
    answer = ask(workspace, pipeline.fire(fire, workspace.region), profile, weather, top, asked)
    written = []
    if out is not None:
        written = pipeline.export_ranking(
            out, workspace.region, workspace.survey, answer.ranking, chosen, answer.further
        )
    if plot is not None:
        given = workspace.region, workspace.survey, answer.ranking, profile, plot
        written.append(pipeline.plot_cycle(out or Path(), *given))
    if json:
        print_json(answer.document | {"ranking_id": answer.ranking_id, "files": [str(p) for p in written]})
    else:
        console.print_not_kept(answer.not_kept, json)
        console.print_ranking(answer.ranking)
        beside.print_further(answer.further)
        console.print_files(written)


def fleet(
    region: RegionArg,
    fire: FireOpt,
    wind: WindOpt,
    oat: OatOpt,
    qnh: QnhOpt,
    aircraft: Annotated[
        str, typer.Option("--aircraft", help="heavy_tank_helicopter*2,light_bucket_helicopter")
    ],
    station_elevation: StationOpt = "0m",
    day: DayOpt = None,
    target: TargetOpt = "centroid",
    slots: Annotated[int, typer.Option("--slots", min=1, help="aircraft that may work one source")] = 2,
    hours: Annotated[float, typer.Option("--hours", help="how long small waters must last")] = 1.0,
    wind_profile: WindProfileOpt = None,
    wind_field: WindFieldOpt = None,
    level: LevelOpt = None,
    json: JsonOpt = False,
) -> None:
    """Send a mixed fleet to the sources for the most litres per hour, and say who gains nothing."""
    from geo import pipeline
    from geo.ingest.layers.aircraft import load_profile
    from geo.records.document import document
    from services.cli import extras_tables as beside
    from services.cli import tables as console
    from services.core import quantities

    weather = weather_of(wind, oat, qnh, station_elevation, day, wind_profile)
    profiles = [load_profile(name) for name in quantities.fleet(aircraft)]
    workspace = open_folder(region, quiet=json, levels=level)
    console.print_not_kept(workspace.not_kept, json)
    weather = in_field(weather, wind_field, workspace.region)
    plan = pipeline.fleet(
        workspace.region,
        workspace.survey,
        pipeline.fire(fire, workspace.region),
        profiles,
        weather,
        slots=slots,
        hours=hours,
        target=pipeline.target(target, workspace.region, files=True),
    )
    if json:
        print_json(document(plan, workspace.region.frame))
    else:
        beside.print_fleet(plan)


def export(
    region: RegionArg,
    fire: FireOpt,
    wind: WindOpt,
    oat: OatOpt,
    qnh: QnhOpt,
    out: Annotated[Path, typer.Option("--out", help="folder for the files")],
    aircraft: AircraftOpt = "heavy_tank_helicopter",
    station_elevation: StationOpt = "0m",
    day: DayOpt = None,
    formats: FormatsOpt = None,
    target: TargetOpt = "centroid",
    perimeter: PerimeterOpt = False,
    wind_profile: WindProfileOpt = None,
    wind_field: WindFieldOpt = None,
    level: LevelOpt = None,
    json: JsonOpt = False,
) -> None:
    """Write the ranked layer for GIS and crews: GeoPackage with style, GeoJSON, KML, GPX, CSV, picture and more."""
    from geo import pipeline
    from geo.ingest.layers.aircraft import load_profile
    from geo.records.file_formats import formats_of
    from services.cli import tables as console
    from services.core.workspace import ask

    weather = weather_of(wind, oat, qnh, station_elevation, day, wind_profile)
    chosen = formats_of(formats)
    workspace = open_folder(region, quiet=json, levels=level)
    weather = in_field(weather, wind_field, workspace.region)
    asked = asked_of(workspace.region, target, weather.day, perimeter=perimeter)
    answer = ask(
        workspace, pipeline.fire(fire, workspace.region), load_profile(aircraft), weather, None, asked
    )
    written = pipeline.export_ranking(
        out, workspace.region, workspace.survey, answer.ranking, chosen, answer.further
    )
    console.print_not_kept(answer.not_kept, json)
    if json:
        print_json({"ranking_id": answer.ranking_id, "files": [str(path) for path in written]})
    else:
        console.print_files(written)


def register(app: typer.Typer, answers_errors: Callable) -> None:
    """Add the commands; `answers_errors` turns the program's errors into messages and exit codes."""
    for command in (rank, fleet, export):
        app.command()(answers_errors(command))
