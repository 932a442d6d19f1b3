"""Figures without a screen: one size, one type face, a small PNG written whole."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure, SubFigure
from matplotlib.lines import Line2D
from matplotlib.text import Text
from PIL import Image
from scipy.spatial import cKDTree

from geo.base.whole_file import whole_file

WIDTH_PX, HEIGHT_PX, DOTS_PER_INCH = 1600, 1100, 100
COLOURS = 256  # of the stored palette: a quarter of the bytes, no visible loss
PAPER = "#FFFFFF"
INK = "#1A1A1A"
SOFT_INK = "#444444"


def new_figure(
    width_in: float = WIDTH_PX / DOTS_PER_INCH,
    height_in: float = HEIGHT_PX / DOTS_PER_INCH,
    dots_per_inch: int = DOTS_PER_INCH,
) -> Figure:
    """Give an empty figure (of 1600 x 1100 pixels) that no global plotting state knows of."""
    figure = Figure(figsize=(width_in, height_in), dpi=dots_per_inch, facecolor=PAPER)
    FigureCanvasAgg(figure)
    return figure


def canvas_of(figure: Figure | SubFigure) -> FigureCanvasAgg:
    """Give the canvas that holds the pixels of a figure made by `new_figure`."""
    assert isinstance(figure.canvas, FigureCanvasAgg)
    return figure.canvas


def pixels_of(figure: Figure) -> np.ndarray:
    """Draw a figure; give its red, green, blue (rows, columns, 3)."""
    canvas_of(figure).draw()
    return np.asarray(canvas_of(figure).buffer_rgba())[..., :3]


def map_axes(figure: Figure, left: float, bottom: float, width: float, height: float) -> Axes:
    """Give axes for a map: no ticks, equal scales, a thin frame. Position and size are parts of the figure."""
    axes = figure.add_axes((left, bottom, width, height))
    axes.set(xticks=[], yticks=[], facecolor="#E9EDF0")
    axes.set_aspect("equal", adjustable="box")
    for spine in axes.spines.values():
        spine.set(color=INK, linewidth=0.8)
    return axes


def text_axes(figure: Figure, left: float, bottom: float, width: float, height: float) -> Axes:
    """Give axes for text alone: 0 to 1 both ways, nothing drawn."""
    axes = figure.add_axes((left, bottom, width, height))
    axes.set_axis_off()
    axes.set(xlim=(0, 1), ylim=(0, 1))
    return axes


def words(
    axes: Axes,
    place: tuple[float, float],
    text: str,
    size: float,
    *,
    bold: bool = False,
    right: bool = False,
    soft: bool = False,
    end: float = 1.0,
) -> None:
    """Put a line of text into text axes, exactly as it is spelled; what would pass `end` is cut with an ellipsis."""
    look: dict[str, Any] = {"fontweight": "bold" if bold else "normal", "color": SOFT_INK if soft else INK}
    line = put_text(axes, *place, text, size, va="center", ha="right" if right else "left", **look)
    renderer = canvas_of(axes.figure).get_renderer()
    limit = axes.transData.transform((end, 0))[0]
    kept = text
    while line.get_window_extent(renderer).x1 > limit + 1 and len(kept) > 1:
        over = line.get_window_extent(renderer)
        fits = int(len(kept) * (limit - over.x0) / over.width)
        kept = kept[: max(1, min(len(kept) - 1, fits))]
        line.set_text(literal(f"{kept.rstrip()}…"))


def title(figure: Figure, first: str, second: str) -> None:
    """Put a title of two lines into the upper left; a line too long for the figure is drawn smaller."""
    for text, height, size, weight in ((first, 0.957, 23.0, "bold"), (second, 0.923, 13.5, "normal")):
        line = figure.text(
            0.016, height, literal(text), fontsize=size, fontweight=weight, color=INK, va="center"
        )
        width = line.get_window_extent(canvas_of(figure).get_renderer()).width
        line.set_fontsize(size * min(1.0, 0.70 * WIDTH_PX / width))


def key_line(label: str, colour: str, width: float, **look: Any) -> Line2D:
    """Give the legend's entry of a line of this width [pt]."""
    return Line2D([], [], color=colour, linewidth=width, label=label, **look)


def key_mark(label: str, colour: str, marker: str, size: float, edge: str = "white", **look: Any) -> Line2D:
    """Give the legend's entry of a mark of this size [pt], with no line unless `look` says so."""
    style: dict[str, Any] = {
        "linestyle": "none",
        "marker": marker,
        "markersize": size,
        "markeredgecolor": edge,
    } | look
    return Line2D([], [], color=colour, label=label, **style)


def put_text(axes: Axes, x: float, y: float, text: str, size: float, **look: Any) -> Text:
    """Put a text at a place, exactly as it is spelled, in ink unless `look` says so; size in points."""
    style: dict[str, Any] = {"fontsize": size, "color": INK} | look
    return axes.text(x, y, literal(text), **style)


def draw_legend(axes: Axes, handles: Sequence[Artist]) -> None:
    """Draw a framed legend in the lower left of text axes."""
    axes.legend(
        handles=list(handles), loc="lower left", bbox_to_anchor=(-0.02, -0.01), fontsize=11, frameon=True,
        facecolor=PAPER, edgecolor="#BBBBBB", handlelength=2.6, handleheight=1.3, labelspacing=0.55, borderpad=0.7,
    )  # fmt: skip


def axes_pixels(axes: Axes) -> tuple[float, float]:
    """Give width and height of axes in pixels."""
    box, figure = axes.get_position(original=True), axes.figure
    return box.width * figure.bbox.width, box.height * figure.bbox.height


def literal(text: str) -> str:
    """Give a text that is drawn as it is: a dollar sign in a name must not start a formula."""
    return text.replace("\\", "\\\\").replace("$", r"\$") if "$" in text else text


def write_png(path: Path, figure: Figure) -> Path:
    """Write a figure as a PNG with a palette: its commonest colours exactly, the rest by the nearest.

    Raises: OSError when the disk refuses; the old file is then untouched.
    """
    picture = _with_palette(pixels_of(figure))
    with whole_file(path) as private:
        picture.save(private, format="PNG", optimize=True)
    return Path(path)


def _with_palette(pixels: np.ndarray) -> Image.Image:
    """Give red, green, blue pixels (rows, columns, 3) as a palette image.

    Half of the palette are the commonest colours, so that plain fills keep theirs exactly; half spread over all
    other colours, each counted once, so that a small scale of colours survives a large map.
    """
    packed = pixels.astype(np.uint32) @ np.array([65536, 256, 1], dtype=np.uint32)
    colours, place, count = np.unique(packed, return_inverse=True, return_counts=True)
    order = np.argsort(-count, kind="stable")
    common, rare = _channels(colours[order[: COLOURS // 2]]), _channels(colours[order[COLOURS // 2 :]])
    palette = np.concatenate([common, _spread(rare, COLOURS // 2)]) if len(rare) else common
    nearest = np.asarray(cKDTree(palette).query(_channels(colours))[1], dtype=np.uint8)
    picture = Image.fromarray(nearest[place.reshape(packed.shape)])
    picture.putpalette(palette.astype(np.uint8).tobytes())
    return picture


def _spread(colours: np.ndarray, count: int) -> np.ndarray:
    """Give at most `count` colours that stand for many."""
    row = Image.fromarray(colours.astype(np.uint8)[None])
    flat = row.quantize(count, method=Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE).getpalette()
    return np.array(flat, dtype=np.int64).reshape(-1, 3)[:count]


def _channels(packed: np.ndarray) -> np.ndarray:
    return np.column_stack([packed >> 16, packed >> 8 & 255, packed & 255]).astype(np.int64)
