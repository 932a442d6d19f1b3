"""A run seen from the side, to be drawn: ground, water, surfaces, obstacles and the depth below."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Standing:
    """An obstacle near the run: its distance along it and its top [m]; top_m None: unknown height."""

    label: str
    along_m: float
    top_m: float | None


@dataclass(frozen=True)
class SideView:
    """Heights [m, elevation] over the distance along a run [m]: 0 at its first point, negative before it.

    along_m: stations of the ground, from behind the touch-down to beyond the lift-off. ground_m: under the middle line;
    highest_m: the highest ground met there across the surface's width; both None where unknown. surface_m: water level.
    slope: rise of the surfaces over their length, which begin at the run's two ends at water level. depth_along_m:
    stations of depth_m and sd_m [m, one sigma], empty where nothing is known of the bed.
    """

    length_m: float
    surface_m: float | None
    slope: float
    corridor_width_m: float
    along_m: tuple[float, ...]
    ground_m: tuple[float | None, ...]
    highest_m: tuple[float | None, ...]
    obstacles: tuple[Standing, ...]
    depth_along_m: tuple[float, ...]
    depth_m: tuple[float | None, ...]
    depth_sd_m: tuple[float | None, ...]
    depth_origin: str
    note: str
