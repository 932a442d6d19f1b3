"""The rose of a water: run length by true heading."""

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.projections.polar import PolarAxes
from matplotlib.ticker import MaxNLocator

from geo.export.drawing.canvas import INK, SOFT_INK, put_text
from geo.export.drawing.map_drawing import HALO
from geo.export.drawing.palette import BLUE, VERMILLION, YELLOW
from geo.records.survey import BodySurvey


def draw_rose(figure: Figure, record: BodySurvey, needed_run_m: float | None) -> None:
    """Draw run length by true heading; each run counts both ways."""
    axes = figure.add_axes((0.755, 0.655, 0.18, 0.25), projection="polar")
    assert isinstance(axes, PolarAxes)
    axes.set_theta_zero_location("N")
    axes.set_theta_direction(-1)
    headings = [run.heading_true_deg for run in record.heading_runs]
    lengths = [run.length_m for run in record.heading_runs]
    if headings:
        width = np.radians(0.8 * 180.0 / len(headings))
        for turn in (0.0, 180.0):
            angles = np.radians(np.add(headings, turn))
            axes.bar(angles, lengths, width=width, color=BLUE, edgecolor="white", zorder=3)
    if record.longest_run is not None:
        for turn in (0.0, 180.0):
            angle = np.radians(record.longest_run.heading_true_deg + turn)
            axes.plot([angle, angle], [0, record.longest_run.length_m], color=YELLOW, linewidth=3, zorder=4)
    if needed_run_m is not None:
        around = np.linspace(0, 2 * np.pi, 181)
        axes.plot(
            around, np.full(181, needed_run_m), color=VERMILLION, linewidth=2.2, linestyle="--", zorder=5
        )
    axes.set_xticks(np.radians(np.arange(0, 360, 30)))
    axes.set_xticklabels([f"{(d - 1) % 360 + 1:03d}°" for d in range(0, 360, 30)], fontsize=10, color=INK)
    _rings(axes, headings, lengths)
    axes.set_title("Run length by true heading", fontsize=13, fontweight="bold", color=INK, pad=14)
    axes.grid(color="#CCCCCC", linewidth=0.7)


def _rings(axes: Axes, headings: list[float], lengths: list[float]) -> None:
    """Label the rings where the runs are shortest, above the bars."""
    free = np.radians(headings[int(np.argmin(lengths))]) if lengths else 0.0
    axes.yaxis.set_major_locator(MaxNLocator(4))
    axes.set_yticklabels([])
    for radius in axes.get_yticks():
        if 0 < radius <= axes.get_ylim()[1]:
            look: dict[str, Any] = {"color": SOFT_INK, "ha": "center", "zorder": 6, "path_effects": HALO}
            put_text(axes, free, radius, f"{radius:,.0f} m", 9, **look)
