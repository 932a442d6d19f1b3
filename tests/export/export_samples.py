"""Invented records for the tests of export: an island with nine waters, one fire, one question. No real place."""

from dataclasses import replace
from datetime import date

import numpy as np
import shapely

from geo.base.geodesy import local_crs
from geo.base.grid import Grid
from geo.records.conditions import SourceConditions, Weather
from geo.records.flight import Leg, Segment
from geo.records.ranking import Cycle, Exclusion, FuelPlan, RankedSource, Ranking
from geo.records.region import Base, Closure, Fire, Obstacle, Region, RegionFrame, Soundings, WaterBody
from geo.records.suitability import MethodAssessment
from geo.records.survey import (
    DEPTH_PROBABILITIES,
    BodySurvey,
    EndClearance,
    HoverPoint,
    LeastDepth,
    Measure,
    RegionSurvey,
    Run,
    Sectors,
    SurveySettings,
)

DAY = date(2026, 1, 20)
FINGERPRINT = "f" * 64
NASTY = "Ōrua <b>Tarn</b> & \"Pond\" 'x'"
FORMULA = "=cmd|' /C calc'!A0"
NAMES = {
    "w1": "Long Water",
    "w2": "Isle Lake",
    "w3": NASTY,
    "w4": FORMULA,
    "w5": "Quarry Dam",
    "w6": "Grey Tarn",
    "w7": "Home Dam",
    "w8": "Twin Dam",
    "w9": "Ōsted Reservoir",
}


def frame_at(longitude_deg: float, latitude_deg: float) -> RegionFrame:
    """A region's frame centred on a position."""
    return RegionFrame(
        local_crs(longitude_deg, latitude_deg).to_wkt(), longitude_deg, latitude_deg, "mean sea level"
    )


def blob(east: float, north: float, half_length: float, half_width: float, turn_deg: float, seed: int):
    """A wobbly lake outline."""
    rng = np.random.default_rng(seed)
    angle = np.linspace(0, 2 * np.pi, 90, endpoint=False)
    wobble = 1 + sum(rng.normal(0, 0.09 / k) * np.cos(k * angle + rng.uniform(0, 6)) for k in range(2, 9))
    x, y = half_length * wobble * np.cos(angle), half_width * wobble * np.sin(angle)
    turn = np.radians(turn_deg)
    return shapely.Polygon(
        np.column_stack(
            [east + x * np.cos(turn) - y * np.sin(turn), north + x * np.sin(turn) + y * np.cos(turn)]
        )
    )


def terrain() -> Grid:
    """Two ridges and a plain, 60 m cells, sea in the south-west left unknown."""
    east, north = np.meshgrid(np.arange(-12000, 12000, 60) + 30.0, np.arange(9000, -9000, -60) - 30.0)
    rng = np.random.default_rng(5)
    height = 120 + 500 * np.exp(-(((east + 0.6 * north - 1500) / 1800) ** 2)) * (
        1 + 0.3 * np.sin(north / 900)
    )
    height += 320 * np.exp(-(((east - 0.4 * north + 7500) / 1500) ** 2)) * (1 + 0.3 * np.cos(north / 700))
    rough = rng.normal(0, 1, height.shape)
    for _ in range(3):
        rough = (rough + np.roll(rough, 1, 0) + np.roll(rough, 1, 1) + np.roll(rough, (1, 1), (0, 1))) / 4
    height += 12 * rough
    height[(east + north) < -17000] = np.nan
    return Grid(height.astype(np.float32), -12000.0, 9000.0, 60.0, 60.0)


def bodies() -> tuple[WaterBody, ...]:
    """Nine waters between 60 m and 5 km long."""
    holed = blob(6800, 4200, 1500, 800, 20, 2)
    island = shapely.Point(6900, 4250).buffer(260)
    shapes = {
        "w1": blob(-3400, -4500, 2600, 420, 35, 1),
        "w2": shapely.Polygon(holed.exterior.coords, [island.exterior.coords]),
        "w3": blob(-5200, 1800, 620, 380, -30, 3),
        "w4": blob(4200, -3000, 240, 160, 60, 4),
        "w5": blob(4800, -2500, 130, 110, 0, 5),
        "w6": blob(1200, 5200, 420, 260, 10, 6),
        "w7": blob(3300, -3300, 90, 70, 0, 7),
        "w8": blob(3700, -3350, 80, 70, 0, 8),
        "w9": blob(8800, -1200, 900, 520, 80, 9),
    }
    kinds = {"w5": "dam", "w7": "dam", "w8": "dam", "w6": "pond", "w9": "reservoir"}
    return tuple(
        WaterBody(
            key, NAMES[key], kinds.get(key, "lake"), shape, f"water.gpkg {key}", surface_elevation_m=150.0
        )
        for key, shape in shapes.items()
    )


def soundings(body: WaterBody, count: int = 60) -> Soundings:
    """Depths that grow from the shore."""
    rng = np.random.default_rng(11)
    west, south, east, north = body.polygon.bounds
    points = shapely.points(rng.uniform(west, east, 4000), rng.uniform(south, north, 4000))
    points = points[shapely.contains(body.polygon, points)][:count]
    depth = 0.6 + 0.03 * shapely.distance(body.polygon.exterior, points)
    ones = np.full(len(points), 0.2)
    ids = np.array([body.body_id] * len(points), dtype=object)
    origin = tuple(f"soundings.csv row {i}" for i in range(len(points)))
    return Soundings(
        shapely.get_x(points), shapely.get_y(points), depth, ones, ids, origin, (None,) * len(points)
    )


def region(frame: RegionFrame | None = None) -> Region:
    """The whole invented region."""
    waters = bodies()
    return Region(
        name="Sample Island",
        frame=frame or frame_at(-150.0, -45.0),
        bodies=waters,
        fingerprint=FINGERPRINT,
        terrain=terrain(),
        terrain_error_m=6.0,
        soundings=soundings(waters[0]),
        obstacles=(
            Obstacle("o1", "Mast", "mast", shapely.Point(500, -1500), 260.0, 60.0, "obstacles.gpkg 1"),
            Obstacle(
                "o2",
                "Wire",
                "wire",
                shapely.LineString([(3800, -2200), (5600, -2700)]),
                None,
                None,
                "obstacles.gpkg 2",
            ),
        ),
        obstacles_listed=True,
        closures=(
            Closure("c1", "Gliding field", "no flying", shapely.box(-1500, 2200, 700, 3900), "gliders"),
            Closure("c2", "Drinking water", "no filling", waters[8].polygon.buffer(150), "drinking water"),
        ),
        fires=(Fire("f1", "Ridge Fire", blob(1900, 300, 900, 500, 50, 21)),),
        base=Base("Sample Field", shapely.Point(-8800, -2600)),
    )


def least_depth(deepest: float | None) -> LeastDepth:
    """A spread of least depths, or nothing known."""
    if deepest is None:
        return LeastDepth("none", None, "no depth was ever measured", "")
    quantiles = tuple(float(q) for q in np.linspace(0.4 * deepest, deepest, len(DEPTH_PROBABILITIES)))
    return LeastDepth("soundings", quantiles, "", "60 soundings, 2024")


def run_through(polygon, heading_deg: float, search: str, deepest: float | None) -> Run | None:
    """The longest piece of the line through the inner point (not the true longest run)."""
    centre = polygon.representative_point()
    step = 20000 * np.array([np.sin(np.radians(heading_deg)), np.cos(np.radians(heading_deg))])
    middle = np.array([centre.x, centre.y])
    pieces = shapely.get_parts(
        shapely.intersection(shapely.LineString([middle - step, middle + step]), polygon)
    )
    line = max(pieces, key=lambda piece: piece.length)
    end = EndClearance(heading_deg, 0.125, -12.0, 300.0, "terrain", 1500.0)
    return Run(
        search,
        line.length,
        line.length * 1.01,
        heading_deg,
        heading_deg,
        60.0,
        line,
        least_depth(deepest),
        end,
        end,
    )


def body_survey(body: WaterBody) -> BodySurvey:
    """A survey record with runs every 10 degrees."""
    deepest = None if body.body_id == "w2" else 8.0
    headings = tuple(run_through(body.polygon, float(h), "heading", deepest) for h in range(0, 180, 10))
    longest = replace(max(headings, key=lambda run: run.length_m), search="longest")
    point = body.polygon.representative_point()
    radius = float(body.polygon.boundary.distance(point))
    unknown = Measure(None, "no depth was ever measured")
    return BodySurvey(
        body_id=body.body_id,
        name=body.name,
        kind=body.kind,
        area_m2=body.polygon.area,
        perimeter_m=body.polygon.length,
        shoreline_development=body.polygon.length / (2 * np.sqrt(np.pi * body.polygon.area)),
        surface_elevation_m=Measure(150.0, "owner's file"),
        level_change_m=Measure(-1.5, "gauge"),
        salinity_class="fresh",
        salinity_reason="owner's file",
        longest_run=longest,
        heading_runs=headings,
        hover_point=HoverPoint(point, radius, "shore", least_depth(deepest)),
        volume_m3=unknown if deepest is None else Measure(1.0e6, "from the depth model"),
        mean_depth_m=unknown if deepest is None else Measure(4.0, "from the depth model"),
        obstacles_listed=True,
        remarks=("outline of 2019",),
    )


def with_ways(record: BodySurvey) -> BodySurvey:
    """The same water, its hover point open to the east and the south-west; a height to the north is unknown."""
    slopes = (*(0.05 if 4 <= i <= 12 else 0.1 if 20 <= i <= 24 else 0.3 for i in range(35)), 0.0)
    unknown = ((),) * 35 + ((0,),)
    sectors = Sectors((0.0,), (slopes,), (slopes,), (None,) * 36, unknown, ("wire",), 30.0, 0.1, 1500.0)
    return replace(record, hover_point=replace(record.hover_point, sectors=sectors))


def survey(of: Region) -> RegionSurvey:
    """A survey of the invented region."""
    return RegionSurvey(of.name, of.fingerprint, SurveySettings(), tuple(body_survey(b) for b in of.bodies))


def leg(start: shapely.Point, end: shapely.Point, speed_ms: float, bend: bool = False) -> Leg:
    """A straight leg, or one with a bend half way."""
    middle = [((start.x + end.x) / 2 + 900, (start.y + end.y) / 2 + 900)] if bend else []
    route = shapely.LineString([(start.x, start.y), *middle, (end.x, end.y)])
    segment = Segment(route.length, 90.0, speed_ms, speed_ms, route.length / speed_ms)
    return Leg(
        route.length / speed_ms,
        route.length,
        (segment,),
        120.0,
        0.0,
        0.0,
        620.0,
        "ridge at 560 m",
        route,
        bend,
        (),
    )


def assessment(
    record: BodySurvey, method: str, verdict: str, score: float, litres: float | None
) -> MethodAssessment:
    """One method's verdict."""
    run = record.longest_run if method == "ram_intake" else None
    point = run.line.centroid if run is not None else record.hover_point.point
    return MethodAssessment(
        record.body_id,
        method,
        verdict,
        score,
        (),
        ("level read in 2024",),
        "run 980 m of 720 m needed" if run is not None else "hover point clear to 60 m",
        litres,
        "tank",
        45.0 if run is not None else 60.0,
        point,
        None if run is None else run.line,
        None if run is None else run.heading_true_deg,
        80.0,
    )


def ranked(rank: int, record: BodySurvey, method: str, drop: shapely.Point) -> RankedSource:
    """One ranked source with times that add up."""
    a = assessment(record, method, "usable", 88.0 - rank, 10000.0)
    loaded, empty = leg(a.fill_point, drop, 55.0, bend=rank == 3), leg(drop, a.fill_point, 65.0)
    total = a.fill_time_s + 30 + loaded.time_s + 20 + 30 + empty.time_s
    cycle = Cycle(
        method, 10000.0, a.fill_time_s, 30.0, loaded, 20.0, 30.0, empty, total, 3600 / total, 3.6e7 / total
    )
    fuel = FuelPlan(
        7200, 1200, 300, 300, 12, 120000.0, 900, 40000.0, "", sustained_litres_per_hour=40000.0 - 100.0 * rank
    )
    air = SourceConditions(150.0, 200.0, 1100.0, 31.0, 300.0, 300.0, 9.3, 9500.0, 0.997, "")
    reason = "best of all" if rank == 1 else "0:31 slower than the one above"
    return RankedSource(
        rank, record.body_id, record.name, record.kind, a, air, cycle, fuel, a.fill_point, drop, a.run_line,
        reason, ("wires near the shore",) if rank == 2 else (),
        (assessment(record, "hover_pump", "survey first", 55.0, None),),
    )  # fmt: skip


def ranking(of: Region, day: date | None = DAY) -> Ranking:
    """Five ranked sources and four left out, one of them without a fill point."""
    records = {record.body_id: record for record in survey(of).bodies}
    drop = shapely.Point(1700.0, 150.0)
    order = (
        ("w7", "hover_pump"),
        ("w5", "hover_pump"),
        ("w4", "hover_pump"),
        ("w1", "ram_intake"),
        ("w3", "ram_intake"),
    )
    sources = tuple(ranked(i, records[key], method, drop) for i, (key, method) in enumerate(order, 1))
    unsounded = assessment(records["w2"], "ram_intake", "survey first", 61.0, None)
    hovering = assessment(records["w2"], "hover_pump", "not usable", 0.0, None)
    excluded = (
        Exclusion("w2", NAMES["w2"], "lake", "survey first", "nobody knows the depth", (hovering, unsounded)),
        Exclusion("w6", NAMES["w6"], "pond", "not usable", "run 410 m of 720 m needed", ()),
        Exclusion("w8", NAMES["w8"], "dam", "usable", "no way there: closed air", ()),
        Exclusion("w9", NAMES["w9"], "reservoir", "not usable", "closed: drinking water", ()),
    )
    weather = Weather(300.0, 9.26, 34.0, 1009.0, 120.0, day)
    return Ranking(
        of.name, of.fingerprint, "f1", "Ridge Fire", "heavy_tank", "heavy tank helicopter", weather, sources, excluded,
        ("wind is taken as the same everywhere",), {"release": "whole tank at once"},
    )  # fmt: skip
