"""An answer as it is kept: all that paper needs of it later, whatever becomes of the region's data."""

from dataclasses import dataclass, replace
from typing import Any, ClassVar

from geo.records.extras import Extras
from geo.records.ranking import Ranking
from geo.records.region import Fire, RegionFrame


@dataclass(frozen=True)
class KeptAnswer:
    """A ranking with what was answered beside it, the fire, the plane its shapes lie in, and the state of the store's
    levels, closures and sites (`Workspace.day_revision`) that it was made from. No wind field is kept, see `kept`."""

    frame: RegionFrame
    fire: Fire
    ranking: Ranking
    further: Extras
    day_revision: int = 0

    # Grids (of a wind field) are of a type that is no plain record; `kept` leaves them out.
    __pydantic_config__: ClassVar[dict[str, Any]] = {"arbitrary_types_allowed": True}


def kept(frame: RegionFrame, fire: Fire, ranking: Ranking, further: Extras, day_revision: int) -> KeptAnswer:
    """Give an answer to be kept. The cells of a wind field are left out; the ranking's assumptions name it."""
    weather = replace(ranking.weather, wind_field=None)
    return KeptAnswer(frame, fire, replace(ranking, weather=weather), further, day_revision)
