"""What a picture or a sheet is of, found among the records of a region."""

from geo.base.errors import BadArgument
from geo.records.ranking import Ranking
from geo.records.region import Fire, Region, WaterBody
from geo.records.survey import BodySurvey


def water_of(region: Region, record: BodySurvey) -> WaterBody:
    """Give the water body that a survey's record is of.

    Raises: BadArgument when the region has no such body.
    """
    found = next((one for one in region.bodies if one.body_id == record.body_id), None)
    if found is None:
        raise BadArgument(
            f"water body {record.body_id}: not in region {region.name}; survey this region again"
        )
    return found


def fire_of(region: Region, ranking: Ranking) -> Fire | None:
    """Give the fire of a ranking; None where it is not one of the region's."""
    return next((one for one in region.fires if one.fire_id == ranking.fire_id), None)
