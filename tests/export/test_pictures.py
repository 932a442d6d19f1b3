"""Pictures: size, weight, colours that survive, labels that do not collide. How they look was judged by eye."""

from dataclasses import replace

import export_samples as samples
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from matplotlib import _pylab_helpers
from matplotlib.colors import to_rgb
from PIL import Image

from geo.base.errors import BadArgument
from geo.export.drawing.body_picture import body_picture
from geo.export.drawing.canvas import axes_pixels, literal, map_axes, new_figure, write_png
from geo.export.drawing.map_drawing import fit_bounds, nice_length, place_labels
from geo.export.drawing.map_furniture import draw_ways
from geo.export.drawing.palette import BLACK, VERMILLION, YELLOW
from geo.export.drawing.ranking_map import of_station
from geo.export.drawing.ranking_picture import ranking_picture
from geo.export.formats.folder import export_ranking

MOST_BYTES = 400_000


def size(path):
    with Image.open(path) as picture:
        return picture.size


def colours(path):
    with Image.open(path) as picture:
        pixels = np.asarray(picture.convert("RGB"))
    return {tuple(c) for c in np.unique(pixels.reshape(-1, 3), axis=0)}


def rgb(colour):
    return tuple(round(255 * part) for part in to_rgb(colour))


def test_ranking_picture(tmp_path, region, survey, ranking):
    path = ranking_picture(tmp_path / "a.png", region, survey, ranking)
    assert size(path) == (1600, 1100) and path.stat().st_size < MOST_BYTES
    assert {rgb(YELLOW), rgb(BLACK), (255, 255, 255)} <= colours(path)
    assert [p.name for p in tmp_path.iterdir()] == ["a.png"]
    assert _pylab_helpers.Gcf.figs == {}


def test_same_picture_twice(tmp_path, region, survey, ranking):
    first = ranking_picture(tmp_path / "a.png", region, survey, ranking)
    second = ranking_picture(tmp_path / "b.png", region, survey, ranking)
    assert first.read_bytes() == second.read_bytes()


def test_ranking_picture_of_bare_records(tmp_path, region, survey, ranking):
    """No terrain, no fire outline, no source, no date: drawn all the same, with what there is."""
    bare = replace(region, terrain=None, fires=(), obstacles=(), closures=(), base=None, soundings=None)
    nobody = replace(ranking, sources=(), weather=replace(ranking.weather, day=None, wind_ms=0.0))
    assert size(ranking_picture(tmp_path / "a.png", bare, survey, nobody)) == (1600, 1100)
    with pytest.raises(BadArgument, match="nothing to draw"):
        ranking_picture(tmp_path / "b.png", replace(bare, bodies=()), survey, nobody)
    assert [p.name for p in tmp_path.iterdir()] == ["a.png"]


def test_ranking_picture_with_many_sources_and_dollars(tmp_path, region, survey, ranking):
    """A dollar sign must not start a formula; 40 sources must not overrun the list."""
    sources = tuple(replace(ranking.sources[i % 5], rank=i + 1, name=f"$x_{i}$ \\alpha $") for i in range(40))
    many = replace(ranking, sources=sources, fire_name="A very long name of a fire " * 5)
    assert ranking_picture(tmp_path / "a.png", region, survey, many).stat().st_size < MOST_BYTES
    assert literal("a $ b") == r"a \$ b" and literal("a \\ b") == "a \\ b"


def test_records_of_different_input_are_refused(tmp_path, region, survey, ranking):
    with pytest.raises(BadArgument, match="not of one input"):
        ranking_picture(tmp_path / "a.png", region, survey, replace(ranking, survey_fingerprint="other"))
    with pytest.raises(BadArgument, match="not in region"):
        body_picture(tmp_path / "b.png", replace(region, bodies=()), survey.bodies[0])
    assert list(tmp_path.iterdir()) == []


def test_body_picture(tmp_path, region, survey):
    path = body_picture(tmp_path / "a.png", region, survey.bodies[0], 780.0)
    assert size(path) == (1600, 1100) and path.stat().st_size < MOST_BYTES
    assert {rgb(YELLOW), rgb(VERMILLION)} <= colours(path)


def test_body_picture_of_a_body_of_which_nothing_is_known(tmp_path, region, survey):
    nothing = replace(
        survey.bodies[2], longest_run=None, heading_runs=(), hover_point=None, salinity_class=None
    )
    assert body_picture(tmp_path / "a.png", region, nothing).exists()


def test_ways_in_and_out_are_drawn_where_they_are_open(region, survey):
    """Directions run from grid north, half a sector to either side of each; a shut one gets no arc."""
    hover = samples.with_ways(survey.bodies[0]).hover_point
    axes = map_axes(new_figure(), 0.0, 0.0, 1.0, 1.0)
    fit_bounds(hover.point.buffer(500.0).bounds, axes)
    (arc,) = draw_ways(axes, hover)
    east, north = (np.array(arc.coords) - (hover.point.x, hover.point.y)).T
    assert np.degrees(np.arctan2(east, north))[[0, -1]] == pytest.approx([35.0, 125.0])
    assert np.hypot(east, north).min() > hover.clear_radius_m
    assert draw_ways(axes, replace(hover, sectors=None)) == []


def test_fill_stations_have_a_mark_of_their_own(tmp_path, region, survey, ranking):
    assert not any(of_station(one) for one in ranking.sources)
    kinds = ("hydrant", "tanker", "portable tank", "dip tank", "mixing plant")
    pairs = zip(ranking.sources, kinds, strict=True)
    stations = replace(ranking, sources=tuple(replace(one, kind=kind) for one, kind in pairs))
    assert all(of_station(one) for one in stations.sources)
    waters = ranking_picture(tmp_path / "a.png", region, survey, ranking).read_bytes()
    assert ranking_picture(tmp_path / "b.png", region, survey, stations).read_bytes() != waters


def test_rough_terrain_stays_within_the_weight(tmp_path, region, survey, ranking):
    """White noise is the worst case for the file size."""
    rng = np.random.default_rng(1)
    noise = replace(region.terrain, values=rng.uniform(0, 1500, region.terrain.values.shape))
    path = ranking_picture(tmp_path / "a.png", replace(region, terrain=noise), survey, ranking)
    assert path.stat().st_size < 2 * MOST_BYTES


def test_everything_at_once(tmp_path, region, survey, ranking):
    assert tmp_path / "ranking.png" in export_ranking(tmp_path, region, survey, ranking)


@pytest.mark.parametrize(
    ("limit", "length"),
    [(1.0, 1.0), (1.9, 1.0), (2.0, 2.0), (4.99, 2.0), (5.0, 5.0), (999.0, 500.0), (0.07, 0.05)],
)
def test_scale_bars_have_round_lengths(limit, length):
    assert nice_length(limit) == pytest.approx(length)


def test_map_limits_hold_the_bounds_at_equal_scale():
    axes = map_axes(new_figure(), 0.0, 0.0, 0.5, 0.5)
    west, south, east, north = fit_bounds((0.0, 0.0, 1000.0, 9000.0), axes)
    width, height = axes_pixels(axes)
    assert west <= 0 and south <= 0 and east >= 1000 and north >= 9000
    assert (east - west) / (north - south) == pytest.approx(width / height)


boxes = st.lists(st.tuples(st.floats(20, 580), st.floats(20, 380)), min_size=1, max_size=15)


@settings(deadline=None)  # a busy machine is no fault
@given(boxes)
def test_labels_never_collide(anchors):
    frame = (0.0, 0.0, 600.0, 400.0)
    sizes = [(60.0, 14.0)] * len(anchors)
    placed = [box for box in place_labels(sizes, anchors, [True] * len(anchors), frame) if box is not None]
    assert placed
    for i, a in enumerate(placed):
        assert a[0] >= 0 and a[1] >= 0 and a[2] <= 600 and a[3] <= 400
        for b in placed[i + 1 :]:
            assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]


def test_palette_keeps_plain_fills_exactly(tmp_path):
    figure = new_figure()
    figure.set_facecolor("#123457")
    assert colours(write_png(tmp_path / "a.png", figure)) == {(0x12, 0x34, 0x57)}


def test_relief_leaves_unknown_ground_plain(tmp_path):
    """Unknown terrain must not look like flat land: the paper shows there."""
    region = samples.region()
    unknown = replace(region.terrain, values=np.full_like(region.terrain.values, np.nan))
    ranking, survey = samples.ranking(region), samples.survey(region)
    path = ranking_picture(tmp_path / "a.png", replace(region, terrain=unknown), survey, ranking)
    assert rgb("#E9EDF0") in colours(path)
