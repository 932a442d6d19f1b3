"""The question of the command line: from options to a workspace, the day's weather, and what is asked beside."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:  # everything heavy is loaded when it is needed, so that --help answers at once
    from geo.records.conditions import Weather
    from geo.records.extras import ExtrasRequest
    from geo.records.region import Region
    from services.core.workspace import Answer, Workspace


def print_json(value: object) -> None:
    """Print one JSON document."""
    print(json.dumps(value, ensure_ascii=False, allow_nan=False))


def weather(
    wind: str, oat: str, qnh: str, station: str, day: str | None, profile: str | None = None
) -> "Weather":
    """Give the day's weather from what was typed. Raises: BadArgument naming what cannot be read."""
    from services.core import quantities

    return quantities.weather(wind, oat, qnh, station, day, profile)


def in_field(weather_: "Weather", field: Path | None, region: "Region") -> "Weather":
    """Give the weather with the wind field of a file, where one was named. Raises: BadInput, BadArgument."""
    from geo import pipeline

    return weather_ if field is None else pipeline.in_wind_field(weather_, field, region)


def asked(
    region: "Region",
    target: str,
    day: date | None,
    *,
    line: str | None = None,
    width: str | None = None,
    coverage: float | None = None,
    fuel_model: str | None = None,
    time: str | None = None,
    perimeter: bool = False,
) -> "ExtrasRequest":
    """Give what is asked beside the order. Raises: BadArgument, BadInput naming what cannot be used."""
    from geo import pipeline
    from geo.records.extras import ExtrasRequest
    from services.core import quantities

    return ExtrasRequest(
        line=quantities.asked_line(line, width, coverage, fuel_model),
        at=None if time is None else quantities.clock_time(time, day),
        perimeter=perimeter,
        target=pipeline.target(target, region, files=True),
    )


def open_folder(folder: Path, quiet: bool, levels: Sequence[str] | None = None) -> "Workspace":
    """Open a region folder with the store of the settings, surveying what is not known yet behind a bar."""
    from services.cli.tables import progress_bar
    from services.core import quantities
    from services.core.workspace import open_workspace
    from services.settings import read_settings
    from services.store.store import open_store

    given = [quantities.level(text) for text in levels or ()]
    store = open_store(read_settings())
    with progress_bar(quiet) as progress:
        return open_workspace(folder, store, progress, given)


@dataclass(frozen=True)
class TypedQuestion:
    """A ranking's question as it was typed; None where it was left out."""

    fire: str
    wind: str | None
    oat: str | None
    qnh: str | None
    aircraft: str
    station_elevation: str
    day: str | None
    target: str
    time: str | None = None
    wind_profile: str | None = None
    wind_field: Path | None = None
    top: int | None = None

    def answer(self, workspace: "Workspace") -> "Answer":
        """Ask it and keep the answer, from which sheets and packages are printed.

        Raises: BadArgument where wind, temperature or pressure is missing; StoreUnreachable where it is not kept.
        """
        from geo import pipeline
        from geo.base.errors import BadArgument
        from geo.ingest.layers.aircraft import load_profile
        from services.core.workspace import ask
        from services.store.errors import StoreUnreachable

        if self.wind is None or self.oat is None or self.qnh is None:
            pairs = (("--wind", self.wind), ("--oat", self.oat), ("--qnh", self.qnh))
            missing = ", ".join(name for name, given in pairs if given is None)
            raise BadArgument(
                f"a ranking for --fire needs {missing}. Fix: give them as for `fetchwater rank`"
            )
        air = weather(self.wind, self.oat, self.qnh, self.station_elevation, self.day, self.wind_profile)
        profile = load_profile(self.aircraft)
        air = in_field(air, self.wind_field, workspace.region)
        beside = asked(workspace.region, self.target, air.day, time=self.time)
        fire = pipeline.fire(self.fire, workspace.region)
        found = ask(workspace, fire, profile, air, self.top, beside)
        if found.ranking_id is None:
            raise StoreUnreachable(
                f"a sheet prints what was kept, and this answer is {found.not_kept[0]}; or use `fetchwater rank --out "
                "FOLDER`, which needs no kept answer"
            )
        return found
