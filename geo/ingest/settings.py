"""The user's description of a region, region.toml: its keys."""

from datetime import date
from typing import Annotated, ClassVar, Literal

from pydantic import BaseModel, ConfigDict, Field

from geo.records.chart import Zone
from geo.records.region import ClosureKind, Permission, SalinityClass

FILE_NAME = "region.toml"
Text = Annotated[str, Field(min_length=1, max_length=400)]
Unit = Literal["metre", "foot"]
DepthUnit = Literal["metre", "foot", "fathom"]
Day = date | str | None
Kind = Literal["lake", "reservoir", "dam", "pond", "river", "estuary", "sea"]
FileStatus = Literal["open", "closed", "unknown"]  # a season is said in the store only
Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0, allow_inf_nan=False)]


class _Section(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)


class Columns(_Section):
    """Our names for the user's columns of one layer."""

    def mapped(self) -> dict[str, str]:
        """Give the columns that are mapped: our name -> the user's."""
        return {ours: theirs for ours, theirs in self.model_dump().items() if theirs is not None}


class VectorFile(_Section):
    """A file of shapes."""

    file: Text
    layer: Text | None = None
    crs: Text | None = None
    encoding: Text | None = None


class MappedFile(VectorFile):
    """A file of shapes of which columns are read."""

    columns: Columns = Columns()


class WaterColumns(Columns):
    """Our names for the user's water columns."""

    id: Text | None = None
    name: Text | None = None
    kind: Text | None = None
    surface_elevation: Text | None = None
    current_level: Text | None = None
    depth_level: Text | None = None
    tide_height: Text | None = None
    stated_depth: Text | None = None
    stated_depth_sd: Text | None = None
    stated_depth_date: Text | None = None
    salinity_class: Text | None = None
    conductivity: Text | None = None
    conductivity_temperature: Text | None = None
    salinity_date: Text | None = None
    mouth_distance_m: Text | None = None
    volume_m3: Text | None = None
    permission: Text | None = None
    owner: Text | None = None
    note: Text | None = None


class Water(MappedFile):
    """[water]"""

    vertical_unit: Unit | None = None
    conductivity_unit: Literal["mS/cm", "uS/cm"] | None = None
    columns: WaterColumns = WaterColumns()
    kinds: dict[str, Kind] = {}
    salinity_classes: dict[str, SalinityClass] = {}
    permissions: dict[str, Permission] = {}


class RasterFile(_Section):
    """A raster of heights or depths; `key` is the section's name."""

    key: ClassVar[str]
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


class Uncertain(_Section):
    """How uncertain the depths of a section are, declared in one way."""

    key: ClassVar[str]
    survey_order: Literal["exclusive", "special", "1a", "1b", "2"] | None = None
    catzoc: Zone | None = None
    uncertainty_a_m: NotNegative | None = None
    uncertainty_b: NotNegative | None = None


class DepthRaster(Uncertain, RasterFile):
    """[depth_raster]"""

    key: ClassVar[str] = "depth_raster"
    positive: Literal["down", "up"] | None = None
    reference: Literal["depth level", "vertical datum"] = "depth level"
    date: Day = None


class SignedDepths(MappedFile):
    """A layer of depths, with their unit and sign as declared; `key` is the section's name."""

    key: ClassVar[str]
    unit: DepthUnit | None = None
    positive: Literal["down", "up"] | None = None


class SoundingColumns(Columns):
    """Our names for the user's sounding columns."""

    longitude: Text | None = None
    latitude: Text | None = None
    easting: Text | None = None
    northing: Text | None = None
    depth: Text | None = None
    uncertainty: Text | None = None
    date: Text | None = None
    body: Text | None = None


class SoundingsFile(Uncertain, SignedDepths):
    """[soundings]"""

    key: ClassVar[str] = "soundings"
    columns: SoundingColumns = SoundingColumns()


class ContourColumns(Columns):
    """Our names for the user's columns of contour lines."""

    depth: Text | None = None
    uncertainty: Text | None = None
    date: Text | None = None


class DepthContoursFile(Uncertain, SignedDepths):
    """[depth_contours]"""

    key: ClassVar[str] = "depth_contours"
    columns: ContourColumns = ContourColumns()


class DepthAreaColumns(Columns):
    """Our names for the user's columns of depth areas."""

    least_depth: Text | None = None
    greatest_depth: Text | None = None
    zone: Text | None = None
    date: Text | None = None


class DepthAreasFile(SignedDepths):
    """[depth_areas]"""

    key: ClassVar[str] = "depth_areas"
    catzoc: Zone | None = None
    columns: DepthAreaColumns = DepthAreaColumns()
    zones: dict[str, Zone] = {}


class ObstacleColumns(Columns):
    """Our names for the user's obstacle columns."""

    id: Text | None = None
    name: Text | None = None
    kind: Text | None = None
    height_above_ground: Text | None = None
    top_elevation: Text | None = None


class ObstaclesFile(MappedFile):
    """[obstacles]"""

    vertical_unit: Unit | None = None
    columns: ObstacleColumns = ObstacleColumns()


class ClosureColumns(Columns):
    """Our names for the user's closure columns; `from` and `to` are days."""

    id: Text | None = None
    name: Text | None = None
    kind: Text | None = None
    reason: Text | None = None
    valid_from: Text | None = Field(default=None, alias="from")
    valid_to: Text | None = Field(default=None, alias="to")


class ClosuresFile(MappedFile):
    """[closures]"""

    columns: ClosureColumns = ClosureColumns()
    kinds: dict[str, ClosureKind] = {}


class SiteColumns(Columns):
    """Our names for the user's site columns."""

    id: Text | None = None
    name: Text | None = None
    method: Text | None = None
    status: Text | None = None
    note: Text | None = None
    inspected: Text | None = None


class SitesFile(MappedFile):
    """[sites]"""

    columns: SiteColumns = SiteColumns()
    statuses: dict[str, FileStatus] = {}


class FireColumns(Columns):
    """Our names for the user's fire columns."""

    id: Text | None = None
    name: Text | None = None


class FiresFile(MappedFile):
    """[fires]"""

    columns: FireColumns = FireColumns()


class BasePlace(_Section):
    """[base]"""

    name: Text
    longitude: Annotated[float, Field(ge=-180, le=180)]
    latitude: Annotated[float, Field(ge=-89, le=89)]


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
    fires: FiresFile | None = None
    base: BasePlace | None = None
    survey: SurveyNumbers = SurveyNumbers()
