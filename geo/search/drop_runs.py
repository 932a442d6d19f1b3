"""How the loads of a question are dropped where it asks for a coverage level: ground speed, doors, time.

Joins the line asked for, the aircraft's doors and the day's wind for `geo/pipeline.py`.
"""

from dataclasses import replace

from geo.base.errors import BadArgument
from geo.base.geodesy import plane_geodesic
from geo.base.units import MS_PER_KNOT
from geo.base.wind import speed_on_track
from geo.ranking.extras.coverage import GROUND_SHARE, set_doors
from geo.records.drop_run import DropRun
from geo.records.geometry import LineM
from geo.records.question import RankingQuestion
from geo.records.region import RegionFrame


def with_drop_run(asked: RankingQuestion) -> RankingQuestion:
    """Give the question with the drop run that it asks for in its aircraft, so that every drop takes its time.

    Raises: BadArgument as `drop_run_of`.
    """
    drop = drop_run_of(asked)
    return asked if drop is None else replace(asked, aircraft=replace(asked.aircraft, drop_run=drop))


def drop_run_of(asked: RankingQuestion) -> DropRun | None:
    """Give how loads are dropped; None where no line is asked for, or the profile says nothing of its doors.

    Raises: BadArgument where the wind is no weaker than the airspeed on the drop run.
    Notes: along a drawn flank (of its two directions the one into the wind), else straight into the wind, as drop
    guides advise ("drop into the wind for best accuracy": USDA Forest Service, MTDC 0057-2868).
    """
    line, profile, weather = asked.extras.line, asked.aircraft, asked.weather
    least_l_s, most_l_s = profile.drop_least_flow_l_s, profile.drop_greatest_flow_l_s
    if line is None or profile.drop_speed_ms is None or least_l_s is None or most_l_s is None:
        return None
    from_deg, wind_ms = weather.wind_from_true_deg, weather.wind_ms
    headings: tuple[float, ...] = (from_deg,)
    if asked.target.kind == "flank" and asked.target.flank is not None:
        headings = _both_ways_true_deg(asked.target.flank, asked.region.frame)
    speeds = [float(speed_on_track(one, profile.drop_speed_ms, from_deg, wind_ms)) for one in headings]
    ground_ms, heading_deg = min(zip(speeds, headings, strict=True))
    if ground_ms <= 0.0:
        raise BadArgument(
            f"wind {wind_ms / MS_PER_KNOT:.0f} kt: the drop run is flown at {profile.drop_speed_ms / MS_PER_KNOT:.0f} "
            "kt and makes no way into it. Fix: ask without a line, or check wind and cycle.drop_speed of the profile"
        )
    flow_l_s, laid = set_doors(line.level, line.width_m, ground_ms, (least_l_s, most_l_s))
    run = line.level, line.width_m, heading_deg, profile.drop_speed_ms, ground_ms
    said = _words(line.level, laid, ground_ms, flow_l_s, flow_l_s / most_l_s)
    return DropRun(*run, flow_l_s, flow_l_s / most_l_s, laid, GROUND_SHARE, said)


def _both_ways_true_deg(flank: LineM, frame: RegionFrame) -> tuple[float, float]:
    (east, north), (to_east, to_north) = flank.coords[0], flank.coords[-1]
    heading_deg = plane_geodesic(frame.crs_wkt, (east, north), (to_east, to_north)).start_bearing_deg % 360.0
    return heading_deg, (heading_deg + 180.0) % 360.0


def _words(level: float, laid: float, ground_ms: float, flow_l_s: float, share: float) -> str:
    said = (
        f"at coverage level {level:g} and {ground_ms / MS_PER_KNOT:.0f} kt over the ground the doors let out "
        f"{flow_l_s:,.0f} L/s ({share:.0%} of their greatest flow); a load takes its litres by that flow"
    )
    if laid < level * (1.0 - 1e-9):
        return f"{said}; one drop lays level {laid:.1f} only: fly slower, or lay drops over one another"
    if laid > level * (1.0 + 1e-9):
        return f"{said}; they cannot let out less, so that one drop lays level {laid:.1f} over a shorter line"
    return said
