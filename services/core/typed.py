"""What can be typed, each word with its description and examples once: bodies of HTTP, options of the command line.

Nothing is read here, so that `--help` loads neither numbers nor shapes; `services.core.question` reads it.
"""

from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field

USUAL_AIRCRAFT = "heavy_tank_helicopter"
# Without the day's weather a hot day without wind is assumed: heat costs hover payload, so the load is not overstated.
HOT_DAY = {"wind": "0/0kt", "oat": "35C", "qnh": "1013.25"}

WIND = Field(
    description="where it blows FROM in degrees true (300M: magnetic) / speed, gusts after G, as reported",
    examples=["300/18kt", "300/18G35kt", "30018G35KT", "VRB05KT", "calm"],
)
OAT = Field(
    description="outside air temperature with its unit, and where it was read", examples=["34C@210m", "93F"]
)
QNH = Field(
    description="pressure at sea level, in hPa where no unit is named", examples=["1009", "29.80inHg"]
)
STATION = Field(
    description="where the temperature was read: a height with its unit, or the name of the region's station or base; "
    "without it that station, else the base",
    examples=["120m", "400ft"],
)
DAY = Field(description="date for closures, YYYY-MM-DD; without it all count")
TOP = Field(ge=1, le=1000, description="how many sources to list")
# Each other level is surveyed apart, so that only so many may be asked for at once.
LEVELS = Field(
    max_length=50,
    description="other levels of waters today: id or name, =, metres or feet",
    examples=[["W04=58.8", "W05=696ft"]],
)


class Typed(BaseModel):
    """Words as they were typed; a word that nobody answers to is refused."""

    model_config = ConfigDict(extra="forbid", strict=True)


class TypedDay(Typed):
    """The day's weather and an aircraft."""

    wind: Annotated[str, WIND]
    oat: Annotated[str, OAT]
    qnh: Annotated[str, QNH]
    station_elevation: Annotated[str | None, STATION] = None
    day: Annotated[str | None, DAY] = None
    aircraft: Annotated[str, Field(description="built-in aircraft profile")] = USUAL_AIRCRAFT


class TypedFire(TypedDay):
    """A fire, and the weather of the waters and of the legs."""

    fire: str | dict[str, Any] = Field(
        description="id or name of a fire of the region, or a GeoJSON Polygon, MultiPolygon, Point or Feature"
    )
    target: str | dict[str, Any] = Field(
        default="edge",
        description="where loads go: edge (the nearest safe one), head, flank, middle, or a GeoJSON LineString of the "
        "active flank",
    )
    wind_profile: str | None = Field(
        default=None,
        description="wind of the legs by height; `wind` then holds at the waters",
        examples=["power:0.14", "sea:3000ft=300/20kt,6000ft=310/30kt"],
    )
    wind_field: dict[str, Any] | None = Field(
        default=None,
        description="wind of the legs by place: longitude_deg, latitude_deg, and rows u_ms, v_ms towards east, north",
    )


class TypedList(TypedFire):
    """The order alone, or only what a list of it shows."""

    top: Annotated[int | None, TOP] = None
    brief: bool = Field(default=False, description="of each source only what a list and a map show of it")


class TypedRanking(TypedFire):
    """A fire, an aircraft, the weather, and what is answered beside the order."""

    top: Annotated[int | None, TOP] = None
    line: str | None = Field(default=None, description="length of a line to be covered", examples=["400m"])
    width: str | None = Field(default=None, description="its width", examples=["18m"])
    coverage: float | None = Field(
        default=None, gt=0.0, description="its coverage level, US gallons per 100 square feet"
    )
    fuel_model: str | None = Field(
        default=None, description="fuel model instead of the level", examples=["10", "G", "F5"]
    )
    time: str | None = Field(
        default=None,
        description="time on the day with its zone, for daylight left and glare",
        examples=["15:30Z"],
    )
    end_of_day: str | None = Field(
        default=None,
        description="rule that ends the day: sunset, sunset+30min or civil dusk; without it that of the profile, else "
        "the earliest, sunset",
        examples=["sunset", "civil dusk"],
    )
    perimeter: bool = Field(
        default=False, description="also split the fire's edge (or the flank) by its best source"
    )
    hours: float | None = Field(
        default=None,
        gt=0.0,
        le=48.0,
        description="order by the water delivered in so many hours; without it over one fuel cycle with refuelling",
    )
    levels: Annotated[list[str], LEVELS] = []


class TypedFleet(TypedFire):
    """A mixed fleet for a fire."""

    aircraft: str = Field(
        description="aircraft profiles with counts",
        examples=["heavy_tank_helicopter*2,light_bucket_helicopter"],
    )
    slots: int = Field(default=2, ge=1, le=50, description="aircraft that may work one source")
    hours: float = Field(default=1.0, gt=0.0, le=48.0, description="how long small waters must last")
    levels: Annotated[list[str], LEVELS] = []


class TypedNearest(Typed):
    """Where the aircraft is and which one. The weather may be left out; what is then assumed stands in the answer."""

    longitude_deg: Annotated[float, Field(ge=-180.0, le=180.0, description="WGS 84, east positive")]
    latitude_deg: Annotated[float, Field(ge=-90.0, le=90.0, description="WGS 84, north positive")]
    aircraft: str = Field(description="built-in aircraft profile", examples=[USUAL_AIRCRAFT])
    wind: Annotated[str | None, WIND] = None
    oat: Annotated[str | None, OAT] = None
    qnh: Annotated[str | None, QNH] = None
    station_elevation: Annotated[str | None, STATION] = None
    day: Annotated[str | None, DAY] = None
    top: int = Field(default=3, ge=1, le=100, description="how many sources to list")


class TypedSurvey(Typed):
    """A survey to be made: of the region's files as they are now, or with other levels of today."""

    levels: list[Annotated[str, Field(max_length=200)]] = Field(
        default=[],
        max_length=50,
        description="other levels of waters today: id or name, =, metres or feet; none surveys the region as it is",
        examples=[["W04=58.8"]],
    )
