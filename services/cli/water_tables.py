"""What the survey knows of single waters, for people at a terminal: levels, the next sounding, remarks."""

import shapely
from rich.markup import escape

from geo.base.positions import degrees_minutes
from geo.records.geographic_shapes import geographic
from geo.records.region import Region
from geo.records.survey import BodySurvey, RegionSurvey
from services.cli.tables import number, say


def print_waters(region: Region, survey: RegionSurvey, asked: list[str]) -> None:
    """Tell of each water asked for, by id or name, once and in the survey's order."""
    for body in survey.bodies:
        if body.body_id in asked or body.name in asked:
            for line in _lines(region, body):
                say(line)


def _lines(region: Region, body: BodySurvey) -> list[str]:
    change = body.level_change_m
    lines = [
        f"[bold]{escape(body.name)}[/bold] ({escape(body.body_id)})",
        f"  level today {number(body.surface_elevation_m.value, ',.1f')} m, {number(change.value, '+.1f')} m against "
        f"that of the depths ({escape(change.origin)})",
        f"  area today {number(body.area_today_m2.value)} m2 of {body.area_m2:,.0f} m2 inside the outline "
        f"({escape(body.area_today_m2.origin)})",
    ]
    lines += [f"  {escape(one.sentence)}" for one in body.level_outlooks]
    if body.level_outlooks:
        lines.append(
            "  these levels change the depth alone: the shore, which moves in as the level falls, is not counted"
        )
    advice = body.next_sounding
    if advice is not None:
        at = None if advice.point is None else geographic(advice.point, region.frame)
        place = f"at {degrees_minutes(at.x, at.y)}, " if isinstance(at, shapely.Point) else ""
        lines.append(f"  sound next {place}{escape(advice.sentence)}")
    if body.greatest_depth:
        lines.append(f"  {escape(body.greatest_depth)}")
    return [*lines, *(f"  {escape(remark)}" for remark in body.remarks)]
