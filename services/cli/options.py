"""The options that several commands share, each with its one sentence of help."""

from pathlib import Path
from typing import Annotated

import typer

RegionArg = Annotated[Path, typer.Argument(help="region folder, the one that holds region.toml")]
JsonOpt = Annotated[bool, typer.Option("--json", help="print one JSON document instead of tables")]
FireOpt = Annotated[
    str, typer.Option("--fire", help="fire: id or name in the region, or a file with its outline")
]
AircraftOpt = Annotated[
    str,
    typer.Option("--aircraft", help="aircraft profile: a built-in name or the path of your own TOML file"),
]
WindOpt = Annotated[str, typer.Option("--wind", help="where it blows FROM [deg true] / speed: 300/18kt")]
WindProfileOpt = Annotated[
    str | None,
    typer.Option(
        "--wind-profile",
        help="wind by height: power:0.14 (grows from --wind at 10 m above the ground), ground:300m=310/25kt,... or "
        "sea:3000ft=300/20kt,...; --wind then holds at the waters",
    ),
]
WindFieldOpt = Annotated[
    Path | None,
    typer.Option(
        "--wind-field",
        help="GeoTIFF of two bands, u and v in m/s, for the legs; --wind then holds at the waters",
    ),
]
OatOpt = Annotated[str, typer.Option("--oat", help="outside air temperature with its unit: 34C or 93F")]
QnhOpt = Annotated[str, typer.Option("--qnh", help="pressure at sea level: 1009 (hPa) or 29.80inHg")]
StationOpt = Annotated[
    str,
    typer.Option("--station-elevation", help="where the temperature was read, with its unit: 120m or 400ft"),
]
DayOpt = Annotated[
    str | None, typer.Option("--day", help="date for closures, YYYY-MM-DD; without it all count")
]
TopOpt = Annotated[int | None, typer.Option("--top", min=1, help="how many sources to list")]
LineOpt = Annotated[str | None, typer.Option("--line", help="length of a line to be covered: 400m")]
WidthOpt = Annotated[str | None, typer.Option("--width", help="its width: 18m")]
CoverageOpt = Annotated[
    float | None, typer.Option("--coverage", help="its coverage level, US gallons per 100 square feet")
]
FuelModelOpt = Annotated[
    str | None, typer.Option("--fuel-model", help="instead of the level: fuel model, 10 or G or F5")
]
TimeOpt = Annotated[
    str | None, typer.Option("--time", help="time on --day with its zone, 15:30Z: daylight left and glare")
]
TargetOpt = Annotated[
    str,
    typer.Option("--target", help="where loads go: centroid, edge, or a GeoJSON line of the active flank"),
]
PerimeterOpt = Annotated[
    bool, typer.Option("--perimeter", help="also split the fire's edge (or the flank) by its best source")
]
PlotCycleOpt = Annotated[
    str | None,
    typer.Option("--plot", help="id or name of one listed source: draw its round trip from the side"),
]
LevelOpt = Annotated[
    list[str] | None,
    typer.Option(
        "--level", help="another level of a water today, may be repeated: BODY=212.4 (metres) or BODY=696ft"
    ),
]
OutOpt = Annotated[Path | None, typer.Option("--out", help="folder for the files")]
FormatsOpt = Annotated[
    str | None,
    typer.Option(
        "--formats", help="any of gpkg,geojson,fgb,parquet,shp,kml,kmz,gpx,csv,png, separated by commas"
    ),
]
