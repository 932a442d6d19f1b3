"""Which evidence is used, what is said of it, and what is refused."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
import shapely
from depth_shapes import EAST, NORTH, SEEN_DRY, basin, body, flat_with_banks, inside, raster, record, sounded
from shapely import LineString, Point

from geo.base.errors import BadArgument
from geo.base.grid import Grid
from geo.records.region import DepthGrid, StatedDepth
from geo.survey.depth import depth_field, depth_model, run_depth_probability
from geo.survey.depth.corridor import Disc, Strip
from geo.survey.depth.raster import raster_sd_m
from geo.survey.depth.shore import Shoreline
from geo.survey.depth.stated import stated_least

LAKE = basin(1500.0, 600.0)
BED = flat_with_banks(LAKE, 5.0, 25.0)
RUN = LineString([(EAST + 250.0, NORTH + 300.0), (EAST + 1250.0, NORTH + 320.0)])


def test_evidence_sentence_of_soundings():
    days = [date(2024, 3, 2)] * 33 + [date(2025, 11, 18)]
    soundings = sounded(LAKE, BED, 34, sd=0.27, days=days)
    least = depth_model(body(LAKE, -0.4), soundings, None).least_along(RUN, 20.0)
    nearest = shapely.distance(
        RUN.buffer(10.0, cap_style="flat"), shapely.points(soundings.easting_m, soundings.northing_m)
    ).min()
    assert least.evidence == (
        f"34 soundings, 2024-03-02 to 2025-11-18, nearest {nearest:.0f} m, uncertainty (one sigma) 0.27 m; "
        "level -0.40 m against the survey (gauge)"
    )
    assert least.oldest_on == date(2024, 3, 2)
    assert least.data_class == "soundings" and least.level_known


def test_level_not_known_is_said_and_nothing_is_subtracted():
    soundings = sounded(LAKE, BED, 34)
    unknown = depth_model(body(LAKE, None), soundings, None).least_along(RUN, 20.0)
    known = depth_model(body(LAKE, 0.0), soundings, None).least_along(RUN, 20.0)
    assert unknown.quantiles_m == known.quantiles_m
    assert not unknown.level_known
    assert "today's level not known" in unknown.evidence


def test_few_or_far_soundings_fall_back():
    stated = StatedDepth(6.0, 0.5, "owner", date(2020, 1, 1))
    few = sounded(LAKE, BED, 7)
    least = depth_model(body(LAKE, 0.0, stated), few, None).least_along(RUN, 20.0)
    assert least.data_class == "stated depth"
    assert "only 7 soundings within 1000 m, 8 needed" in least.reason
    assert depth_model(body(LAKE), few, None).least_along(RUN, 20.0).data_class == "none"
    long_lake = basin(9000.0, 500.0)
    x, y = inside(basin(1500.0, 500.0), 30, np.random.default_rng(3))
    far = depth_model(body(long_lake), record(x, y, np.full(30, 4.0)), None)
    end = LineString([(EAST + 7000.0, NORTH + 250.0), (EAST + 8000.0, NORTH + 250.0)])
    answer = far.least_along(end, 20.0)
    assert answer.quantiles_m is None
    assert "only 0 soundings within 1000 m" in answer.reason


def test_soundings_of_other_bodies_are_not_used():
    mixed = sounded(LAKE, BED, 30, body_id="another")
    assert depth_model(body(LAKE), mixed, None).least_along(RUN, 20.0).data_class == "none"


def test_soundings_at_the_shore_are_left_out_and_counted():
    good = sounded(LAKE, BED, 20)
    x = np.concatenate((good.easting_m, [EAST + 400.0, EAST - 50.0]))
    y = np.concatenate((good.northing_m, [NORTH + 0.2, NORTH + 100.0]))
    both = record(x, y, np.concatenate((good.depth_m, [3.0, 9.0])))
    least = depth_model(body(LAKE), both, None).least_along(RUN, 20.0)
    assert "2 at or beyond the shore left out" in least.evidence
    assert least.quantiles_m == depth_model(body(LAKE), good, None).least_along(RUN, 20.0).quantiles_m


def test_only_soundings_at_the_shore_are_no_evidence():
    shore = record(EAST + np.linspace(100.0, 1400.0, 12), np.full(12, NORTH + 0.1), np.full(12, 4.0))
    least = depth_model(body(LAKE), shore, None).least_along(RUN, 20.0)
    assert least.quantiles_m is None
    assert "all 12 soundings lie at or beyond the shore" in least.reason


def test_bent_line_with_a_repeated_corner():
    bent = LineString([RUN.coords[0], RUN.coords[0], (EAST + 700.0, NORTH + 200.0), RUN.coords[-1]])
    for soundings, grid in ((sounded(LAKE, BED, 40), None), (None, raster(LAKE, BED, 10.0, 8.0))):
        least = depth_model(body(LAKE), soundings, grid).least_along(bent, 30.0)
        assert least.depth_with_confidence_m(0.5) == pytest.approx(5.0, abs=0.35)


def test_soundings_that_disagree_at_one_place_count_as_the_shallowest():
    good = sounded(LAKE, BED, 30)
    at = RUN.interpolate(0.5, normalized=True)
    square = (np.floor(at.x) + 0.5, np.floor(at.y) + 0.5)
    twice = record(
        np.concatenate((good.easting_m, [square[0]] * 2)),
        np.concatenate((good.northing_m, [square[1]] * 2)),
        np.concatenate((good.depth_m, [5.0, 2.0])),
    )
    least = depth_model(body(LAKE), twice, None).least_along(RUN, 20.0)
    assert "1 places with soundings that disagree: the shallowest counts" in least.evidence
    assert least.depth_with_confidence_m(0.05) < 2.4


def test_raster_uncertainty_is_the_published_one():
    # IHO S-44 Ed. 6 (2020) table 1, order 1a: TVU at 95 % 0.517 m at 10 m, 0.634 m at 30 m.
    grid = raster(LAKE, BED, 10.0, 10.0, a=0.5, b=0.013)
    assert 1.96 * raster_sd_m(grid, np.array([10.0, 30.0])) == pytest.approx([0.517, 0.634], abs=0.0005)


def test_raster_quantiles_are_a_common_error_on_the_shallowest_cell():
    bed = lambda x, y: np.where((x > EAST + 600) & (x < EAST + 640), 3.0, 6.0)  # noqa: E731
    least = depth_model(body(LAKE), None, raster(LAKE, bed, 10.0, 8.0)).least_along(RUN, 20.0)
    sd = np.sqrt(0.5**2 + (0.013 * 3.0) ** 2) / 1.96
    assert least.depth_with_confidence_m(0.95) == pytest.approx(3.0 - 1.644854 * sd, abs=1e-4)
    assert least.depth_with_confidence_m(0.05) == pytest.approx(3.0 + 1.644854 * sd, abs=1e-4)
    assert least.expected_least_m == pytest.approx(3.0, abs=0.01)
    assert EAST + 595 <= least.shallowest.x <= EAST + 645
    assert least.data_class == "depth grid" and least.oldest_on == date(2023, 5, 4)
    assert "error taken as common" in least.reason


def with_gap(grid: DepthGrid, x: float, y: float) -> DepthGrid:
    row, column, _inside = grid.grid.cell_of(np.array([x]), np.array([y]))
    values = grid.grid.values.copy()
    values[row, column] = np.nan
    return replace(grid, grid=Grid(values, grid.grid.west_m, grid.grid.north_m, 10.0, 8.0))


def test_gap_in_the_raster_is_unknown_with_its_position():
    gap = with_gap(raster(LAKE, BED, 10.0, 8.0), EAST + 705.0, NORTH + 310.0)
    least = depth_model(body(LAKE), None, gap).least_along(RUN, 20.0)
    assert least.quantiles_m is None and least.data_class == "none"
    assert "unknown in 1 of" in least.reason
    assert f"E {EAST + 705.0:.0f} N {NORTH + 308.0:.0f}" in least.reason
    # Elsewhere the raster serves; and with soundings the run is covered.
    clear = LineString([(EAST + 250.0, NORTH + 200.0), (EAST + 1250.0, NORTH + 200.0)])
    assert depth_model(body(LAKE), None, gap).least_along(clear, 20.0).data_class == "depth grid"
    covered = depth_model(body(LAKE), sounded(LAKE, BED, 40), gap).least_along(RUN, 20.0)
    assert covered.data_class == "soundings"
    assert "depth raster is unknown in 1 of" in covered.evidence


def test_of_two_kinds_the_more_cautious_is_used_and_both_are_named():
    soundings = sounded(LAKE, BED, 40)
    deeper = raster(LAKE, lambda x, y: BED(x, y) + 2.0, 10.0, 8.0)
    shallower = raster(LAKE, lambda x, y: BED(x, y) - 2.0, 10.0, 8.0)
    for grid, expected in ((deeper, "soundings"), (shallower, "depth grid")):
        least = depth_model(body(LAKE), soundings, grid).least_along(RUN, 20.0)
        assert least.data_class == expected
        assert " soundings, 2024" in least.evidence and "depth raster depth.tif" in least.evidence


def test_raster_that_ends_before_the_run_does_is_unknown():
    half = raster(basin(700.0, 600.0), BED, 10.0, 8.0)
    assert depth_model(body(LAKE), None, half).least_along(RUN, 20.0).quantiles_m is None
    assert depth_model(body(LAKE), None, half).volume().value is None
    assert "covers" in depth_model(body(LAKE), None, half).volume().origin


def test_cells_of_an_area_equal_brute_force():
    rng = np.random.default_rng(5)
    grid = Grid(np.zeros((40, 60)), EAST, NORTH, 7.0, 11.0)
    rows, columns = (a.ravel() for a in np.meshgrid(np.arange(40), np.arange(60), indexing="ij"))
    west, north = EAST + 7.0 * columns, NORTH - 11.0 * rows
    boxes = shapely.box(west, north - 11.0, west + 7.0, north)
    for _ in range(60):
        ends = np.column_stack((EAST + rng.uniform(20, 400, 2), NORTH - rng.uniform(20, 420, 2)))
        for area in (Strip(LineString(ends), rng.choice([0.0, 5.0, 33.0])), Disc(Point(ends[0]), 17.0)):
            found = set(zip(*(index.tolist() for index in area.cells(grid)), strict=True))
            touched = shapely.intersects(boxes, area.area)
            brute = set(zip(rows[touched].tolist(), columns[touched].tolist(), strict=True))
            inside = {(r, c) for r, c in found if 0 <= r < 40 and 0 <= c < 60}
            assert brute <= inside
            # A shapely circle is a polygon inside the true circle: rim cells may be found beyond it.
            near = shapely.distance(boxes, area.area) < 0.2
            assert inside <= set(zip(rows[near].tolist(), columns[near].tolist(), strict=True))


def test_distance_to_shore_counts_islands():
    island = shapely.box(EAST + 700.0, NORTH + 250.0, EAST + 800.0, NORTH + 350.0)
    shore = Shoreline(LAKE.difference(island))
    x, y = EAST + np.array([650.0, 100.0, 750.0, -5.0]), NORTH + np.array([300.0, 300.0, 300.0, 300.0])
    assert shore.distance_m(x, y) == pytest.approx([50.0, 100.0, 0.0, 0.0])
    assert Shoreline(LAKE).greatest_m == pytest.approx(300.0, rel=0.01)


def test_stated_depth_rule_is_the_measured_ratio():
    # Ratio table of 2 000 corridors: median 1.4, measured 10 % point 0.56; never above it in the lower tail.
    values = stated_least(StatedDepth(10.0, 0.0, "sign", None), 50.0, 200.0, 0.0)
    ratio = values / (10.0 * 50.0 / 200.0)
    assert np.median(ratio) == pytest.approx(1.4, rel=0.02)
    assert np.quantile(ratio, 0.10) <= 0.56
    assert np.quantile(ratio, 0.05) <= 0.42
    assert ratio.max() * 2.5 <= 10.0


def test_stated_depth_answer_says_where_it_is_from():
    stated = StatedDepth(8.0, None, "sign at the jetty", date(2019, 7, 1))
    least = depth_model(body(LAKE, 0.0, stated), None, None).least_along(RUN, 20.0)
    assert least.data_class == "stated depth"
    assert "sign at the jetty" in least.evidence and "25% assumed" in least.evidence
    assert least.oldest_on == date(2019, 7, 1)
    assert least.quantiles_m[-1] <= 8.0 * (1 + 3 * 0.25)
    assert depth_model(body(LAKE, 0.0, stated), None, None).volume().value is None


def test_soundings_in_one_corner_give_no_volume():
    long_lake = basin(9000.0, 2000.0)
    x, y = inside(basin(600.0, 400.0), 12, np.random.default_rng(3))
    rng = np.random.default_rng(1)
    volume = depth_model(body(long_lake), record(x, y, rng.uniform(1.0, 9.0, 12)), None).volume()
    assert volume.value is None
    assert "% of the water, 30% needed" in volume.origin


@pytest.mark.parametrize("name", ["easting_m", "northing_m", "depth_m", "sd_m"])
def test_not_finite_is_refused_by_name_and_row(name):
    soundings = sounded(LAKE, BED, 12)
    getattr(soundings, name)[4] = np.nan
    with pytest.raises(BadArgument, match=f"{name} of soundings.csv row 6"):
        depth_model(body(LAKE), soundings, None)


def test_arguments_that_cannot_be_are_refused():
    field = depth_field(LAKE, sounded(LAKE, BED, 12))
    soundings = sounded(LAKE, BED, 12)
    soundings.sd_m[0] = -0.1
    calls = [
        lambda: depth_field(LAKE, soundings),
        lambda: depth_field(shapely.Polygon()),
        lambda: depth_field(LAKE, easting_m=[1.0], northing_m=[1.0, 2.0], depth_m=[3.0]),
        lambda: depth_field(LAKE, level_change_m=np.inf),
        lambda: run_depth_probability(field, RUN, -1.0, 2.0),
        lambda: run_depth_probability(field, RUN, 10.0, np.nan),
        lambda: run_depth_probability(field, LineString([(1.0, 1.0), (1.0, 1.0)]), 10.0, 2.0),
        lambda: depth_model(body(LAKE), None, None).least_within(Point(), 3.0),
        lambda: depth_model(body(LAKE, np.nan), None, None),
        lambda: depth_model(body(LAKE, 0.0, StatedDepth(-3.0, None, "x", None)), None, None).least_along(
            RUN, 5.0
        ),
    ]
    for call in calls:
        with pytest.raises(BadArgument):
            call()


def test_arrays_and_record_give_the_same_field():
    s = sounded(LAKE, BED, 20)
    arrays = depth_field(
        LAKE,
        easting_m=s.easting_m,
        northing_m=s.northing_m,
        depth_m=s.depth_m,
        sd_m=s.sd_m,
        seed_text="tarn",
        search=SEEN_DRY,
    )
    assert run_depth_probability(arrays, RUN, 20.0, 4.6) == run_depth_probability(
        depth_field(LAKE, s, seed_text="tarn"), RUN, 20.0, 4.6
    )
