"""The user's description of a region, region.toml: its keys."""

from datetime import date
from typing import Annotated, Any, ClassVar, Literal

from pydantic import BaseModel, ConfigDict, Field

from geo.base.units import METRE_PER_FATHOM, METRE_PER_FOOT
from geo.records.bed_search import SearchMethod
from geo.records.chart import Zone
from geo.records.region import ClosureKind, Permission, SalinityClass
from geo.records.station import Agent, StationKind

FILE_NAME = "region.toml"
Text = Annotated[str, Field(min_length=1, max_length=400)]
Unit = Literal["metre", "foot"]
Day = date | str | None
Kind = Literal["lake", "reservoir", "dam", "pond", "river", "estuary", "sea"]
FileStatus = Literal["open", "closed", "unknown"]  # a season is said in the store only
Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0, allow_inf_nan=False)]


# The units that may be declared -> metres.
UNIT_M = {"metre": 1.0, "foot": METRE_PER_FOOT, "fathom": METRE_PER_FATHOM}


class _Section(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)
    key: ClassVar[str]  # the section's name, where a fault of its file must name it


class VectorFile(_Section):
    """A file of shapes."""

    file: Text
    layer: Text | None = None
    crs: Text | None = None
    encoding: Text | None = None


class MappedFile(VectorFile):
    """A file of shapes of which columns are read: our name of a column -> the user's."""

    columns: dict[Any, Text] = {}


WaterColumn = Literal[
    "id", "name", "kind", "surface_elevation", "current_level", "depth_level", "tide_height", "stated_depth",
    "stated_depth_sd", "stated_depth_date", "salinity_class", "conductivity", "conductivity_temperature",
    "salinity_date", "mouth_distance_m", "current_ms", "volume_m3", "permission", "owner", "note",
]  # fmt: skip
SoundingColumn = Literal[
    "depth", "uncertainty", "date", "longitude", "latitude", "easting", "northing", "body", "survey"
]


class Water(MappedFile):
    """[water]"""

    vertical_unit: Unit | None = None
    conductivity_unit: Literal["mS/cm", "uS/cm"] | None = None
    columns: dict[WaterColumn, Text] = {}
    kinds: dict[str, Kind] = {}
    salinity_classes: dict[str, SalinityClass] = {}
    permissions: dict[str, Permission] = {}


class RasterFile(_Section):
    """A raster of heights or depths."""

    file: Text
    crs: Text | None = None
    vertical_unit: Unit | None = None
    nodata: float | None = None


class Terrain(RasterFile):
    """[terrain]"""

    key: ClassVar[str] = "terrain"
    vertical_datum: Text | None = None
    error_m: Positive | None = None


class Canopy(RasterFile):
    """[canopy]: height of trees above the terrain."""

    key: ClassVar[str] = "canopy"
    error_m: NotNegative | None = None


class Searched(_Section):
    """How a survey searched the bed between the depths that it handed over; see BedSearch."""

    survey_order: Literal["exclusive", "special", "1a", "1b", "2"] | None = None
    catzoc: Zone | None = None
    bed_search: SearchMethod | None = None
    feature_m: NotNegative | None = None
    swath_m: Positive | None = None
    line_spacing_m: Positive | None = None
    swept_depth_m: Positive | None = None
    features_found: Annotated[int, Field(ge=0)] | None = None


class Uncertain(Searched):
    """How uncertain the depths of a section are, declared in one way."""

    uncertainty_a_m: NotNegative | None = None
    uncertainty_b: NotNegative | None = None


class DepthRaster(Uncertain, RasterFile):
    """[depth_raster]"""

    key: ClassVar[str] = "depth_raster"
    positive: Literal["down", "up"] | None = None
    reference: Literal["depth level", "vertical datum"] = "depth level"
    date: Day = None


class SignedDepths(MappedFile):
    """A layer of depths, with their unit and sign as declared."""

    unit: Literal["metre", "foot", "fathom"] | None = None
    positive: Literal["down", "up"] | None = None


class SoundingsFile(Uncertain, SignedDepths):
    """[soundings]"""

    key: ClassVar[str] = "soundings"
    columns: dict[SoundingColumn, Text] = {}
    surveys: dict[Text, Searched] = {}


class DepthContoursFile(Uncertain, SignedDepths):
    """[depth_contours]"""

    key: ClassVar[str] = "depth_contours"
    columns: dict[Literal["depth", "uncertainty", "date"], Text] = {}


class DepthAreasFile(SignedDepths):
    """[depth_areas]"""

    key: ClassVar[str] = "depth_areas"
    catzoc: Zone | None = None
    columns: dict[Literal["least_depth", "greatest_depth", "zone", "date"], Text] = {}
    zones: dict[str, Zone] = {}


class ObstaclesFile(MappedFile):
    """[obstacles]"""

    vertical_unit: Unit | None = None
    columns: dict[Literal["id", "name", "kind", "height_above_ground", "top_elevation"], Text] = {}


class ClosuresFile(MappedFile):
    """[closures]"""

    columns: dict[Literal["id", "name", "kind", "reason", "from", "to"], Text] = {}
    kinds: dict[str, ClosureKind] = {}


class SitesFile(MappedFile):
    """[sites]"""

    columns: dict[Literal["id", "name", "method", "status", "note", "inspected"], Text] = {}
    statuses: dict[str, FileStatus] = {}


StationColumn = Literal[
    "id", "name", "kind", "agent", "flow", "coupling_s", "volume", "refill", "clear_radius", "slope_percent", "depth",
    "permission", "owner", "note", "from", "to",
]  # fmt: skip


class FillStationsFile(MappedFile):
    """[fill_stations]"""

    flow_unit: Literal["L/s", "L/min", "US gal/min"] | None = None
    volume_unit: Literal["L", "m3", "US gal"] | None = None
    length_unit: Unit | None = None
    columns: dict[StationColumn, Text] = {}
    kinds: dict[str, StationKind] = {}
    agents: dict[str, Agent] = {}
    permissions: dict[str, Permission] = {}


class FiresFile(MappedFile):
    """[fires]"""

    columns: dict[Literal["id", "name"], Text] = {}


ClockTime = Annotated[str, Field(pattern=r"^([01]\d|2[0-3]):[0-5]\d$")]


class BasePlace(_Section):
    """[base], and each of [[bases]]"""

    name: Text
    longitude: Annotated[float, Field(ge=-180, le=180)]
    latitude: Annotated[float, Field(ge=-89, le=89)]
    fuel_left_l: NotNegative | None = None
    fuel_flow_l_min: Positive | None = None
    open_from_utc: ClockTime | None = None
    open_until_utc: ClockTime | None = None


class StationPlace(_Section):
    """[station]: where the day's temperature is read"""

    name: Text
    elevation: Annotated[float, Field(ge=-500, le=20_000)]
    vertical_unit: Unit


class SurveyNumbers(_Section):
    """[survey]: what the survey is run with; the names are those of SurveySettings."""

    corridor_width_m: NotNegative | None = None
    heading_step_deg: Annotated[float, Field(ge=1, le=90)] | None = None
    hover_radius_cap_m: Positive | None = None
    end_look_m: Positive | None = None
    surface_slope: Positive | None = None
    surface_divergence: NotNegative | None = None
    hover_circle_m: Positive | None = None
    approach_slope: Positive | None = None
    useful_cap_m: Positive | None = None
    least_useful_m: Positive | None = None
    most_runs: Annotated[int, Field(ge=1, le=200)] | None = None
    as_of: date | None = None


class RegionSettings(_Section):
    """The whole of region.toml.

    water is required, and None only where it was wrong and the rest is read to find its faults too.
    """

    name: Text
    vertical_datum: Text
    metric_crs: Annotated[str, Field(pattern=r"^(auto|[Ee][Pp][Ss][Gg]:\d{3,6})$")] = "auto"
    water: Water | None
    terrain: Terrain | None = None
    canopy: Canopy | None = None
    depth_raster: DepthRaster | None = None
    soundings: SoundingsFile | None = None
    depth_contours: DepthContoursFile | None = None
    depth_areas: DepthAreasFile | None = None
    obstacles: ObstaclesFile | None = None
    closures: ClosuresFile | None = None
    sites: SitesFile | None = None
    fill_stations: FillStationsFile | None = None
    fires: FiresFile | None = None
    base: BasePlace | None = None
    station: StationPlace | None = None
    bases: list[BasePlace] = []
    survey: SurveyNumbers = SurveyNumbers()
