"""One round trip as a picture: both legs from the side over the terrain, and the time of every part to scale."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import FancyArrowPatch, Rectangle
from matplotlib.ticker import MaxNLocator

from geo.export.drawing.canvas import INK, PAPER, SOFT_INK, literal, new_figure, put_text, title, write_png
from geo.export.drawing.map_drawing import HALO, draw_mark
from geo.export.drawing.palette import BLACK, BLUE, BLUISH_GREEN, ORANGE, SKY_BLUE, VERMILLION, YELLOW
from geo.records.aircraft import METHOD_NAMES
from geo.records.flight import Leg, LegSide
from geo.records.ranking import RankedSource, Ranking

Window = tuple[float, float, float, float]  # west, east, low, high of the drawn side [m]

SIDE_LEFT, SIDE_WIDTH = 0.062, 0.918
GROUND, GROUND_EDGE = "#D9CFBE", "#8C7B62"
ROOM_ABOVE = 0.50  # of the heights' span, for the figures above the path
TRANSIT = "#9AA5AE"
CLIMB = "#8F3A00"  # a darker vermillion
LIGHT = (YELLOW, SKY_BLUE, ORANGE)  # colours on which figures are black
LEAST_TURNS = 0.05  # fewer would be said as 0.0
NARROW_S = 0.045  # parts of the round trip that take no words of their own


@dataclass(frozen=True)
class TripPart:
    """One part of the cycle: its number in the picture, name, seconds and colour."""

    number: int
    name: str
    seconds: float
    colour: str


def parts_of(source: RankedSource) -> tuple[TripPart, ...]:
    """Give the parts of a source's cycle in flying order; their seconds add up to its round trip."""
    cycle = source.cycle
    climb_s = 0.0 if cycle.loaded_leg.climb is None else cycle.loaded_leg.climb.duration_s
    return (
        TripPart(1, f"fill by {METHOD_NAMES[cycle.method]}", cycle.fill_s, BLUE),
        TripPart(2, "approach and lift-off", cycle.manoeuvre_source_s, SKY_BLUE),
        TripPart(3, "climb", climb_s, CLIMB),
        TripPart(4, "loaded leg", cycle.loaded_leg.time_s - climb_s, VERMILLION),
        TripPart(5, "manoeuvre at the fire", cycle.manoeuvre_fire_s, ORANGE),
        TripPart(6, "drop", cycle.drop_s, YELLOW),
        TripPart(7, "empty leg", cycle.empty_leg.time_s, BLUISH_GREEN),
    )


def cycle_picture(
    path: Path, ranking: Ranking, source: RankedSource, sides: tuple[LegSide, LegSide], base: str | None
) -> Path:
    """Draw the cycle of one ranked source as a PNG of 1600 x 1100 pixels.

    Parameters: sides, its loaded and empty leg from the side; base, where it refuels, None without one.
    Raises: OSError when the disk refuses.
    """
    figure = new_figure()
    title(
        figure,
        f"One load from {source.name} to {ranking.fire_name}: {clock(source.cycle.round_trip_s)} min",
        f"{ranking.aircraft}, {source.cycle.litres:,.0f} L per load, {source.cycle.litres_per_hour:,.0f} L/h; "
        "heights drawn larger than distances",
    )
    parts = parts_of(source)
    reach = max(side.distance_m[-1] for side in sides)
    low = min(float(np.nanmin(np.append(side.ground_m, side.altitude_m.min()))) for side in sides)
    high = max(float(side.altitude_m.max()) for side in sides)
    window = (-0.11 * reach, 1.085 * reach, low - 0.10 * (high - low), high + ROOM_ABOVE * (high - low))
    _draw_loaded(figure, source, sides[0], window, parts)
    _draw_empty(figure, source, sides[1], window, parts)
    _strip(figure, parts, source.cycle.round_trip_s)
    _tank(figure, source, base)
    return write_png(path, figure)


def clock(seconds: float) -> str:
    """Give minutes and seconds, for example 7:05."""
    whole = round(seconds)
    return f"{whole // 60}:{whole % 60:02d}"


def _side_axes(figure: Figure, bottom: float, window: Window, text: str) -> Axes:
    axes = figure.add_axes((SIDE_LEFT, bottom, SIDE_WIDTH, 0.272))
    axes.set(xlim=window[:2], ylim=window[2:], facecolor="#F3F7FA")
    axes.xaxis.set_major_locator(MaxNLocator(8))
    axes.xaxis.set_major_formatter(lambda metres, _: f"{metres / 1000.0:g} km" if metres >= 0.0 else "")
    axes.yaxis.set_major_locator(MaxNLocator(5))
    axes.yaxis.set_major_formatter(lambda metres, _: f"{metres:,.0f} m")
    axes.tick_params(labelsize=10.5, colors=SOFT_INK, length=3)
    axes.grid(axis="y", color="#DDE3E8", linewidth=0.8)
    axes.set_axisbelow(True)
    for spine in axes.spines.values():
        spine.set(color=TRANSIT, linewidth=0.8)
    words = "dotted: least height over all ground and obstacles in the corridor"
    above: dict[str, Any] = {"transform": axes.transAxes, "va": "bottom"}
    put_text(axes, 0.0, 1.035, text, 14, fontweight="bold", **above)
    put_text(axes, 1.0, 1.035, words, 10.8, ha="right", **above)
    return axes


def _ground(axes: Axes, distance: np.ndarray, side: LegSide, window: Window) -> None:
    """Fill the terrain, going on level beyond both ends, and dot the height due above it."""
    order = np.argsort(distance, kind="stable")
    x, ground = distance[order], side.ground_m[order]
    known = np.isfinite(ground)
    x = np.concatenate(([window[0]], x[known], [window[1]]))
    ground = np.concatenate((ground[known][:1], ground[known], ground[known][-1:]))
    axes.fill_between(x, ground, window[2], color=GROUND, linewidth=0, zorder=2)
    axes.plot(x, ground, color=GROUND_EDGE, linewidth=1.4, zorder=3)
    due = np.isfinite(side.needed_m)
    axes.plot(
        distance[due], side.needed_m[due], color=GROUND_EDGE, linewidth=1.3, linestyle=(0, (1, 2)), zorder=3
    )


def _ends(axes: Axes, source: RankedSource, side_ends: tuple[float, float], fire: float) -> None:
    """Mark the water or fill station to the left, the fire to the right; side_ends: heights of the ground of both."""
    water, base = side_ends
    colour = TRANSIT if source.cycle.method == "ground_hose" else BLUE
    low, high = axes.get_ylim()
    left, right = axes.get_xlim()
    depth = 0.035 * (high - low)
    axes.add_patch(
        Rectangle((left, water - depth), -left, depth, facecolor=colour, edgecolor="none", zorder=4)
    )
    look: dict[str, Any] = {"ha": "center", "va": "top", "zorder": 8, "path_effects": HALO}
    put_text(axes, 0.5 * left, water - 1.35 * depth, _short(source.name), 10.5, **look)
    wide = 0.16 * (right - fire)
    for shift, tall in ((0.6, 0.10), (1.7, 0.15), (2.8, 0.11)):
        flame = np.array([(-0.5, 0.0), (-0.32, 0.45), (0.0, 1.0), (0.34, 0.40), (0.5, 0.0)])
        axes.fill(
            fire + wide * (shift + flame[:, 0]), base + tall * (high - low) * flame[:, 1], facecolor=VERMILLION,
            edgecolor=ORANGE, linewidth=1.2, zorder=4,
        )  # fmt: skip
    put_text(axes, fire + 0.5 * (right - fire), base - 0.03 * (high - low), "fire", 10.5, **look)


def _short(name: str) -> str:
    return name if len(name) <= 16 else f"{name[:15]}…"


def _path(axes: Axes, x: np.ndarray, height: np.ndarray, colour: str) -> None:
    axes.plot(x, height, color=PAPER, linewidth=6.5, zorder=5, solid_capstyle="round")
    axes.plot(x, height, color=colour, linewidth=3.6, zorder=6, solid_capstyle="round")
    along = np.interp(0.56 * abs(x[-1] - x[0]), np.abs(x - x[0]), np.arange(len(x)))
    at = int(along)
    axes.add_patch(
        FancyArrowPatch(
            (x[at], height[at]), (x[at + 1] + 1e-6, height[at + 1]), arrowstyle="-|>", mutation_scale=26,
            color=colour, linewidth=0, zorder=7,
        )
    )  # fmt: skip


def _note(axes: Axes, x: float, y: float, part: TripPart, text: str) -> None:
    """Write a note of one or two lines above a dot with the part's number."""
    _dot(axes, x, y, part)
    axes.annotate(
        literal(text), (x, y), (0, 15), textcoords="offset points", fontsize=11, color=INK, ha="center", va="bottom",
        zorder=9, path_effects=HALO, linespacing=1.25,
    )  # fmt: skip


def _dot(axes: Axes, x: float, y: float, part: TripPart) -> None:
    mark = draw_mark(axes, shapely.Point(x, y), "o", part.colour, 19, 9, PAPER)
    mark.set_clip_on(False)
    _number(axes, x, y, part)


def _number(axes: Axes, x: float, y: float, part: TripPart) -> None:
    look: dict[str, Any] = {"fontweight": "bold", "ha": "center", "va": "center", "zorder": 10}
    put_text(axes, x, y, str(part.number), 11.5, color=BLACK if part.colour in LIGHT else PAPER, **look)


def _draw_side(
    axes: Axes, source: RankedSource, side: LegSide, window: Window, part: TripPart, *, back: bool
) -> np.ndarray:
    """Draw ground, water, fire and the path flown; give the path's distances from the water [m], in flying order."""
    x = side.distance_m[-1] - side.distance_m if back else side.distance_m
    _ground(axes, x, side, window)
    at_water, at_fire = (slice(None), slice(None, None, -1)) if back else (slice(None, None, -1), slice(None))
    surface = source.conditions.elevation_m
    ends = (
        _last_known(side.ground_m[at_water]) if surface is None else surface,
        _last_known(side.ground_m[at_fire]),
    )
    _ends(axes, source, ends, float(x.max()))
    _path(axes, x, side.altitude_m, part.colour)
    _circles(axes, side, window, back=back)
    return x


def _circles(axes: Axes, side: LegSide, window: Window, *, back: bool) -> None:
    """Draw height gained or lost in circles as a coil, and say how many turns."""
    for at_m, low, high, turns in side.circles:
        middle = float(side.distance_m[-1]) - at_m if back else at_m
        angle = np.linspace(0.0, 2.0 * np.pi * max(1, round(turns)), 200)
        wide = 0.009 * (window[1] - window[0])
        x, height = middle + wide * np.sin(angle), np.linspace(low, high, len(angle))
        axes.plot(x, height, color=INK, linewidth=1.3, zorder=7)
        said = "under 0.1 turns" if turns < LEAST_TURNS else f"{turns:.1f} turns"
        look: dict[str, Any] = {"va": "center", "zorder": 9, "path_effects": HALO}
        put_text(axes, middle + 1.6 * wide, 0.5 * (low + high), f"circles: {said}", 10.5, **look)


def _draw_loaded(
    figure: Figure, source: RankedSource, side: LegSide, window: Window, parts: tuple[TripPart, ...]
) -> None:
    leg, axes = source.cycle.loaded_leg, _side_axes(figure, 0.605, window, "Out with the load")
    x = _draw_side(axes, source, side, window, parts[3], back=False)
    span, end, top = window[3] - window[2], float(x[-1]), float(side.altitude_m.max())
    if leg.climb is not None and side.reached_m is not None:
        begun = x <= side.reached_m + 1.0
        line = axes.plot(x[begun], side.altitude_m[begun], color=CLIMB, linewidth=4.2, zorder=6)
        line[0].set_solid_capstyle("round")
        words = f"climb {leg.climb.to_m - leg.climb.from_m:,.0f} m in {clock(leg.climb.duration_s)}"
        words += f",\n{leg.climb_extra_s:.0f} s more than at cruise"
        # A climb that takes most of the leg is noted early, clear of the note on the leg.
        middle = min(max(0.5 * side.reached_m, 0.10 * end), 0.22 * end)
        _note(axes, middle, top + 0.08 * span, parts[2], words)
    water, fire = float(side.altitude_m[0]), float(side.altitude_m[-1])
    _note(axes, 0.55 * window[0], water + 0.10 * span, parts[0], f"fill {clock(parts[0].seconds)}")
    words = f"loaded leg with climb {clock(leg.time_s)}:\n{_leg_words(leg)}"
    _note(axes, 0.60 * end, top + 0.08 * span, parts[3], words)
    beyond = end + 0.5 * (window[1] - end)
    _note(axes, beyond, fire + 0.15 * span, parts[5], f"drop {clock(parts[5].seconds)}")


def _draw_empty(
    figure: Figure, source: RankedSource, side: LegSide, window: Window, parts: tuple[TripPart, ...]
) -> None:
    leg, axes = source.cycle.empty_leg, _side_axes(figure, 0.275, window, "Back empty")
    x = _draw_side(axes, source, side, window, parts[6], back=True)
    span, end = window[3] - window[2], float(x[0])
    water, fire = float(side.altitude_m[-1]), float(side.altitude_m[0])
    beyond = end + 0.5 * (window[1] - end)
    _note(axes, beyond, fire + 0.15 * span, parts[4], f"turn {clock(parts[4].seconds)}")
    words = f"empty leg {clock(leg.time_s)}: {_leg_words(leg)}"
    if leg.descent is not None and leg.descent.extra_s >= 0.5:
        words += f"\ndescent takes {leg.descent_extra_s:.0f} s more than cruise"
    _note(axes, 0.5 * end, float(side.altitude_m.max()) + 0.08 * span, parts[6], words)
    words = f"approach and\nlift-off {clock(parts[1].seconds)}"
    _note(axes, 0.55 * window[0], water + 0.10 * span, parts[1], words)


def _leg_words(leg: Leg) -> str:
    speeds = [segment.ground_speed_ms for segment in leg.segments]
    low, high = (round(value * 3.6) for value in (min(speeds, default=0.0), max(speeds, default=0.0)))
    speed = f"{low}" if low == high else f"{low} to {high}"
    return f"{leg.distance_m / 1000.0:.1f} km at {speed} km/h over the ground"


def _last_known(values: np.ndarray) -> float:
    known = values[np.isfinite(values)]
    return float(known[-1]) if len(known) else 0.0


def _strip(figure: Figure, parts: tuple[TripPart, ...], total_s: float) -> None:
    """Draw the round trip to scale of time, a colour and a number for each part."""
    axes = figure.add_axes((SIDE_LEFT, 0.128, SIDE_WIDTH, 0.105))
    axes.set(xlim=(0.0, total_s), ylim=(0.0, 1.0))
    axes.set_axis_off()
    begun = 0.0
    for part in (one for one in parts if one.seconds > 0.0):
        _bar(axes, begun, part.seconds, part.colour, 2.0)
        middle = begun + 0.5 * part.seconds
        draw = _dot if part.seconds > NARROW_S * total_s else _number
        draw(axes, middle, 0.60, part)
        begun += part.seconds
    words = [f"{part.number} {part.name} {clock(part.seconds)}" for part in parts if part.seconds > 0.0]
    _words(axes, "The round trip in time", "  +  ".join(words) + f"  =  {clock(total_s)}")


def _bar(axes: Axes, begun: float, seconds: float, colour: str, gap: float) -> None:
    bar = Rectangle((begun, 0.42), seconds, 0.34, facecolor=colour, edgecolor=PAPER, linewidth=gap)
    axes.add_patch(bar)


def _words(axes: Axes, above: str, below: str) -> None:
    """Write a heading above a strip and a line below it."""
    left = axes.get_xlim()[0]
    put_text(axes, left, 0.97, above, 14, fontweight="bold", va="top")
    put_text(axes, left, 0.25, below, 10.8, va="top")


def _tank(figure: Figure, source: RankedSource, base: str | None) -> None:
    """Draw one fuel cycle to scale: the transit out, the round trips, the transit home, the reserve."""
    fuel = source.fuel
    axes = figure.add_axes((SIDE_LEFT, 0.012, SIDE_WIDTH, 0.098))
    axes.set(xlim=(0.0, fuel.endurance_s), ylim=(0.0, 1.0))
    axes.set_axis_off()
    begun = 0.0
    trips = [(one.round_trip_s, BLUE if one.number % 2 else SKY_BLUE) for one in fuel.table]
    for seconds, colour in ((fuel.transit_to_s, TRANSIT), *trips, (fuel.transit_from_s, TRANSIT)):
        _bar(axes, begun, seconds, colour, 1.0)
        begun += seconds
    reserve = fuel.endurance_s - fuel.reserve_s
    axes.add_patch(Rectangle((reserve, 0.42), fuel.reserve_s, 0.34, facecolor="#F3F7FA", edgecolor=TRANSIT,
                             hatch="////", linewidth=0.8))  # fmt: skip
    if reserve - begun > 0.06 * fuel.endurance_s:
        middle = 0.5 * (begun + reserve)
        put_text(axes, middle, 0.59, "left over", 10.8, color=SOFT_INK, ha="center", va="center")
    place = "no base given" if base is None else f"refuel at {base} ({clock(fuel.refuel_turn_s)})"
    _words(
        axes,
        f"One fuel cycle: {clock(fuel.endurance_s)} min, {fuel.loads} loads, {fuel.litres:,.0f} L",
        f"transit to the water {clock(fuel.transit_to_s)}, then {fuel.loads} round trips, transit home "
        f"{clock(fuel.transit_from_s)}, reserve {clock(fuel.reserve_s)} (hatched); {place}; with refuelling "
        f"{fuel.long_run_litres_per_hour:,.0f} L/h",
    )
