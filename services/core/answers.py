"""Answers that are not kept: the order while a wind is dragged, what can be done at every water, the nearest source,
a fleet."""

from typing import Any

from geo import pipeline
from geo.records.extras import FleetPlan
from services.core import views
from services.core.question import aircraft_of, nearest_question, ranking_question, weather_of
from services.core.typed import HOT_DAY, TypedDay, TypedFleet, TypedList, TypedNearest
from services.core.workspace import Workspace


def quick_answer(workspace: Workspace, typed: TypedList) -> dict[str, Any]:
    """Give the order of a ranking and nothing beside it: no certainty, no criteria of what is left out.

    Raises: BadArgument, BadInput for a word that cannot be used, and as a ranking does.
    """
    return pipeline.quick_answer(ranking_question(typed, workspace), brief=typed.brief)


def verdicts(workspace: Workspace, typed: TypedDay) -> dict[str, Any]:
    """Give the verdict of every water for every fill method of an aircraft, in the day's weather; no fire is needed.

    Raises: BadArgument for a word that cannot be used.
    """
    given = workspace.region, workspace.survey, aircraft_of(typed)[0], weather_of(typed, workspace.region)
    return {"survey_version": workspace.survey_key, "waters": views.verdicts(*given)}


def nearest(workspace: Workspace, typed: TypedNearest) -> dict[str, Any]:
    """Give the usable sources that are reached soonest from a position, and what lies nearer but does not count.

    Raises: BadArgument, BadInput for a word that cannot be used, and for a place outside the region.
    """
    asked = nearest_question(typed, workspace)
    found = pipeline.nearest(asked, top=typed.top)
    assumed = {name: text for name, text in HOT_DAY.items() if getattr(typed, name) is None}
    if typed.station_elevation is None and "@" not in (typed.oat or ""):
        assumed["station_elevation"] = asked.weather.read_at
    return workspace.document(found) | {"weather_assumed": assumed, "data_version": workspace.survey_key}


def fleet(workspace: Workspace, typed: TypedFleet, *, files: bool = False) -> FleetPlan:
    """Send a mixed fleet to the sources for the most litres per hour.

    Parameters: files, whether words may name files, see `ranking_question`.
    Raises: BadArgument, BadInput for a word that cannot be used, and as a ranking does.
    """
    aircraft = aircraft_of(typed, files=files)
    asked = ranking_question(typed, workspace, files=files, aircraft=aircraft[0])
    given = asked.region, asked.survey, asked.fire, aircraft, asked.weather
    return pipeline.fleet(*given, slots=typed.slots, hours=typed.hours, target=asked.target)
