"""What old depth evidence is worth today: silt makes water shallower, and nobody knows by how much."""

from dataclasses import dataclass
from datetime import date

import numpy as np

from geo.base.errors import BadArgument
from geo.records.region import WaterKind

DAYS_PER_YEAR = 365.25
# Evidence without a date is taken to be as old as this [years]: our choice, no source.
UNDATED_YEARS = 20.0
# Share of the depth that is expected to be lost each year, and one sigma of what is not known, both shares per year.
# Reservoirs of the world lose some 0.5 to 1 % of their volume a year (Mahmood 1987, World Bank Technical Paper 71, from
# memory); the other kinds are our choice, no source.
RATES: dict[WaterKind, tuple[float, float]] = {
    "reservoir": (0.005, 0.005),
    "dam": (0.010, 0.010),
    "pond": (0.010, 0.010),
    "lake": (0.001, 0.002),
    "river": (0.000, 0.050),
    "estuary": (0.000, 0.030),
    "sea": (0.000, 0.010),
    "unknown": (0.010, 0.050),
}
# Nothing loses more than this share of its depth by these rules, however old; then only a new survey helps.
MOST_LOST = 0.5


@dataclass(frozen=True, eq=False)
class Ageing:
    """What age does to depths: `lost`, the share taken off, and `unsure`, one sigma as a share (numbers or (n,))."""

    lost: np.ndarray | float
    unsure: np.ndarray | float
    text: str

    def applied(self, depth_m: np.ndarray, sd_m: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Give depths and one sigma as they stand today [m]: never deeper and never surer than measured."""
        depth, sd = np.asarray(depth_m, float), np.asarray(sd_m, float)
        settled = np.where(depth > 0.0, depth * (1.0 - self.lost), depth)
        return settled, np.hypot(sd, self.unsure * np.abs(depth))


def aged(
    depth_m: np.ndarray, sd_m: np.ndarray, measured_on: tuple[date | None, ...], kind: WaterKind, today: date
) -> tuple[np.ndarray, np.ndarray, str]:
    """Give depths with the weight that their age leaves them.

    Parameters: depths [m, positive down] and one sigma [m] (n,); the day of each, None unknown; the kind of water; the
    day for which they are wanted.
    Returns: depths and one sigma as they stand then [m] (n,), and the rule in words.
    Raises: BadArgument for evidence from the future.

    Notes: with y years and the kind's rates l and s: depth' = depth (1 - min(l y, 0.5)), sd' = sqrt(sd^2 + (s y
    depth)^2). Undated counts as 20 years old.
    """
    if len(measured_on) == 0:
        return np.asarray(depth_m, float), np.asarray(sd_m, float), ""
    each = [ageing(day, kind, today) for day in dict.fromkeys(measured_on)]
    index = {day: k for k, day in enumerate(dict.fromkeys(measured_on))}
    of = np.array([index[day] for day in measured_on], int)
    lost, unsure = (np.array([getattr(one, name) for one in each])[of] for name in ("lost", "unsure"))
    oldest = max(each, key=lambda one: one.unsure + one.lost)
    depth, sd = Ageing(lost, unsure, "").applied(depth_m, sd_m)
    return depth, sd, oldest.text if len(each) == 1 else f"the oldest {oldest.text}"


def ageing(day: date | None, kind: WaterKind, today: date) -> Ageing:
    """Give what age does to depths of one day in a kind of water. Raises: BadArgument for a day after today."""
    if day is not None and day > today:
        raise BadArgument(
            f"evidence of {day} lies after the day asked for, {today}: check the order of the date"
        )
    years = UNDATED_YEARS if day is None else (today - day).days / DAYS_PER_YEAR
    loss, unsure = RATES[kind]
    since = f"undated, taken as {years:.0f} years old" if day is None else f"{years:.1f} years old"
    text = (
        f"{since}: for {kind} {loss:.1%} of the depth a year taken off, one sigma {unsure:.1%} a year added"
    )
    return Ageing(min(loss * years, MOST_LOST), unsure * years, text)
