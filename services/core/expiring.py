"""What expires before the season, of the sites and waters that the store holds."""

from datetime import date
from typing import Any

from geo.records.expiring import expiring
from services.store import layers, sites
from services.store.store import Store


def items_expiring(
    store: Store, region_id: str, before: date, evidence_years: int | None = None
) -> list[dict[str, Any]]:
    """Give what expires before a day, the soonest first: inspections, permissions, depth evidence of sites.

    Parameters: evidence_years, after how many years the depth evidence of any water expires too; None leaves it out.
    Returns: dicts of site_id (None: of a water), name, what, on (None: never, or undated, so due now), contact.
    """
    dates = sites.dates_of(store.engine, region_id)
    ages = layers.evidence_ages(store.engine, region_id)
    found = expiring(dates, ages, before, evidence_years)
    return [vars(one) | {"on": None if one.on is None else one.on.isoformat()} for one in found]
