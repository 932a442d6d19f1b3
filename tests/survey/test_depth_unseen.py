"""What soundings cannot see: the closed form against a reference law, survey orders, and what coverage does to it."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from depth_shapes import EAST, NORTH, basin, body, flat_with_banks, raster, record, sounded
from scipy.stats import nbinom

from geo.records.bed_search import BedSearch, search_of_order, search_of_zone
from geo.records.chart import DepthArea, DepthChart
from geo.records.survey import DEPTH_PROBABILITIES
from geo.survey.depth import depth_field, depth_model, run_depth_probability
from geo.survey.depth.corridor import Disc, Strip
from geo.survey.depth.features import FEATURES, Feature
from geo.survey.depth.looked import Looked, SearchedArea, SoundedSurvey
from geo.survey.depth.unseen import BedDepths, Unseen, cells_of

LAKE = basin(1500.0, 600.0)
RUN = shapely.LineString([(EAST + 300.0, NORTH + 300.0), (EAST + 900.0, NORTH + 300.0)])
STRIP = Strip(RUN, 20.0)
TREES = Feature("trees", 2.0, False, 1500.0, 2.0, 6.0)
BANK = Feature("a bank", 8.0, True, 400.0, 2.0, 5.0)
TWO = np.array([2.0])
NOTHING = Looked()


def of_depth(depth_m: float) -> BedDepths:
    return BedDepths(np.array([[depth_m]]))


def unseen(depth_m=8.0, looked=NOTHING, area=STRIP, kind="unknown", **more) -> Unseen:
    return Unseen(area, looked, kind, of_depth(depth_m), **more)


def lines(spacing_m: float, search: BedSearch) -> Looked:
    x, y = np.meshgrid(np.arange(EAST, EAST + 1500.0, 10.0), np.arange(NORTH + 3.0, NORTH + 600.0, spacing_m))
    return Looked((SoundedSurvey(np.column_stack((x.ravel(), y.ravel())), search),))


@pytest.mark.parametrize(("feature", "amount"), [(TREES, 600.0 * 20.0), (BANK, 600.0)])
def test_chance_of_none_is_the_negative_binomial_one(feature, amount):
    # A Poisson count whose rate has a gamma law is negative binomial (Johnson, Kemp and Kotz, Univariate Discrete
    # Distributions, sec. 5.3); the law itself is scipy's. Heights fall off exponentially: exp(-(8 - 2) / h) matter.
    share = np.exp(-(8.0 - 2.0) / feature.height_m)
    rate = feature.shape * feature.each
    expected = nbinom.pmf(0, feature.shape, rate / (rate + amount * share))
    assert unseen().chance(feature, TWO)[0] == pytest.approx(expected, rel=1e-9)


def test_chance_of_none_is_that_of_trees_really_strewn():
    rng = np.random.default_rng(4)
    rates = rng.gamma(TREES.shape, 1.0 / (TREES.shape * TREES.each), 40_000)
    trees = rng.poisson(rates * 600.0 * 20.0)
    tall = rng.exponential(TREES.height_m, (trees.max(), len(trees))) > 8.0 - 2.0
    tall &= np.arange(trees.max())[:, None] < trees
    # Binomial one sigma of 40 000 strips is at most 0.0025.
    assert unseen().chance(TREES, TWO)[0] == pytest.approx(1.0 - tall.any(axis=0).mean(), abs=0.01)


def test_pieces_of_a_strip_and_a_circle_fill_them():
    strip, circle = cells_of(STRIP), cells_of(Disc(shapely.Point(EAST + 500.0, NORTH + 300.0), 12.0))
    assert strip.area_m2.sum() == pytest.approx(600.0 * 20.0) and strip.length_m.sum() == pytest.approx(600.0)
    assert circle.area_m2.sum() == pytest.approx(np.pi * 12.0**2)
    assert circle.length_m.sum() == pytest.approx(0.5 * np.pi * 12.0)
    assert shapely.contains_xy(STRIP.area, *strip.xy.T).all()


@pytest.mark.parametrize(
    ("order", "size_m"), [("exclusive", 0.5), ("special", 1.0), ("1a", 2.0), ("1b", None), ("2", None)]
)
def test_orders_search_as_the_standard_says(order, size_m):
    # IHO S-44 Ed. 6 (2020), table 1: feature detection, cubic features above this size; 1b and 2: not specified.
    found = search_of_order(order)
    assert found.feature_m == size_m and found.method == ("full" if size_m else "none")


@pytest.mark.parametrize(
    ("zone", "full"), [("A1", True), ("A2", True), ("B", False), ("C", False), ("D", False), ("U", False)]
)
def test_zones_search_as_the_standard_says(zone, full):
    # IHO S-57 Ed. 3.1 Supp. 3 (2014), table of CATZOC: full area search in A1 and A2 only.
    assert (search_of_zone(zone).method == "full") is full


def test_a_full_search_leaves_only_what_is_smaller_than_it_finds():
    full = lines(30.0, search_of_order("1a"))
    # 2 m under the bed of 8 m a feature must stand 6 m high: order 1a finds 2 m. Over a bed of 3.5 m 1.5 m are enough.
    assert unseen(8.0, full).none(TWO)[0] == 1.0
    assert unseen(3.5, full).none(TWO)[0] < 0.9
    assert unseen(3.5, lines(30.0, search_of_order("special"))).none(TWO)[0] == 1.0
    beside = Strip(shapely.LineString([(EAST + 2000.0, NORTH), (EAST + 2600.0, NORTH)]), 20.0)
    assert unseen(8.0, full, beside).none(TWO)[0] == unseen(8.0, Looked(), beside).none(TWO)[0]


def test_a_drag_clears_what_lies_above_it_and_a_dry_bed_everything():
    swept = lines(10.0, BedSearch("swept", swath_m=12.0, swept_depth_m=2.5))
    assert unseen(8.0, swept).none(np.array([2.4]))[0] == 1.0
    assert unseen(8.0, swept).none(np.array([2.6]))[0] < 0.5
    # Today the water is 1 m lower: the drag cleared 1.5 m.
    fallen = unseen(7.0, swept, level_m=-1.0)
    assert fallen.none(np.array([1.4]))[0] == 1.0 and fallen.none(np.array([1.6]))[0] < 0.5
    assert unseen(2.1, lines(30.0, BedSearch("dry"))).none(TWO)[0] == 1.0


def test_an_unbroken_sounder_crosses_banks_but_sees_no_trees():
    broken, unbroken = (lines(40.0, BedSearch(how, line_spacing_m=40.0)) for how in ("none", "lines"))
    assert unseen(8.0, unbroken).chance(BANK, TWO)[0] == 1.0 > unseen(8.0, broken).chance(BANK, TWO)[0]
    assert unseen(8.0, unbroken).chance(TREES, TWO)[0] == unseen(8.0, broken).chance(TREES, TWO)[0]


@pytest.mark.parametrize("kind", FEATURES)
def test_more_coverage_never_lowers_and_more_strip_or_depth_never_raises(kind):
    swaths = [lines(60.0, BedSearch("swath", swath_m=w, feature_m=1.0)) for w in (1.0, 20.0, 40.0, 61.0)]
    chances = [unseen(5.0, looked, kind=kind).none(TWO)[0] for looked in swaths]
    assert chances == sorted(chances) and chances[-1] > chances[0]
    closer = [unseen(5.0, lines(s, BedSearch()), kind=kind).none(TWO)[0] for s in (90.0, 30.0, 10.0)]
    assert closer[0] <= closer[1] + 1e-3 and closer[1] <= closer[2] + 1e-3
    wider = [unseen(5.0, area=Strip(RUN, w), kind=kind).none(TWO)[0] for w in (6.0, 20.0, 33.0, 80.0)]
    longer = [
        unseen(5.0, area=Strip(shapely.LineString([(0.0, 0.0), (n, 0.0)]), 20.0), kind=kind).none(TWO)[0]
        for n in (100.0, 300.0, 900.0)
    ]
    deeper = unseen(5.0, kind=kind).none(np.linspace(0.0, 8.0, 30)).tolist()
    for falling in (wider, longer, deeper):
        assert falling == sorted(falling, reverse=True) and falling[0] > falling[-1]


def test_no_kind_of_water_is_more_careful_than_the_unknown_one():
    for depth_m in (3.0, 6.0, 12.0, 25.0):
        chances = {kind: unseen(depth_m, kind=kind).none(TWO)[0] for kind in FEATURES if kind != "river"}
        assert min(chances.values()) == chances["unknown"]


def test_finds_move_the_rate_both_ways():
    nothing = unseen(8.0).chance(TREES, TWO)[0]
    clean = unseen(8.0, finds=(0, [(200_000.0, 1.0)])).chance(TREES, TWO)[0]
    wood = unseen(8.0, finds=(400, [(200_000.0, 1.0)])).chance(TREES, TWO)[0]
    assert wood < nothing < clean
    # Very much clean bed: the closed form with a = 2, b = 3000 + S exp(-1 / 6).
    b = 3000.0 + 200_000.0 * np.exp(-1.0 / 6.0)
    assert clean == pytest.approx((b / (b + 12_000.0 * np.exp(-1.0))) ** 2, rel=1e-9)


def test_finds_count_only_where_their_number_is_told():
    told = BedSearch("swath", swath_m=20.0, feature_m=1.0, features_found=3)
    lattice = np.column_stack(
        [
            a.ravel()
            for a in np.meshgrid(
                np.arange(EAST + 5, EAST + 1500, 9.0), np.arange(NORTH + 5, NORTH + 600, 9.0)
            )
        ]
    )
    found, searched = lines(40.0, told).finds(lattice, LAKE.area)
    # Swaths of 20 m each 40 m see half the bed.
    assert found == 3 and searched[0][0] == pytest.approx(0.5 * LAKE.area, rel=0.1) and searched[0][1] == 1.0
    assert lines(40.0, replace(told, features_found=None)).finds(lattice, LAKE.area) == (0, [])


def test_the_table_is_the_beds_times_the_chance_of_nothing_unseen():
    table = tuple(np.linspace(3.0, 6.0, len(DEPTH_PROBABILITIES)).tolist())
    model = unseen(5.0, kind="sea")
    both = model.table(table)
    for depth_m in (1.0, 2.5, 3.7, 5.0):
        bed = 1.0 if depth_m < 3.0 else 1.0 - np.interp(depth_m, table, DEPTH_PROBABILITIES)
        stated = 1.0 - np.interp(depth_m, both, DEPTH_PROBABILITIES)
        assert stated == pytest.approx(bed * model.none(np.array([depth_m]))[0], abs=0.02)
    assert list(both) == sorted(both) and max(np.subtract(both, table)) <= 0.0
    assert unseen(5.0, lines(30.0, BedSearch("dry"))).table(table) == table


def test_a_door_without_a_word_on_the_search_takes_the_careful_end():
    points = sounded(LAKE, flat_with_banks(LAKE, 6.0, 30.0), 200)
    arrays = {n: getattr(points, n) for n in ("easting_m", "northing_m", "depth_m", "sd_m")}
    said = {
        search: run_depth_probability(depth_field(LAKE, search=how, **arrays), RUN, 20.0, 2.0)
        for search, how in (
            ("nothing", None),
            ("special", search_of_order("special")),
            ("2", search_of_order("2")),
        )
    }
    assert said["nothing"] < 0.3 and said["2"] == said["nothing"] and said["special"] >= 0.95
    # A deep natural lake: hardly anything that stands on a bed of 60 m reaches 2 m.
    deep = sounded(LAKE, flat_with_banks(LAKE, 60.0, 20.0), 200)
    arrays = {n: getattr(deep, n) for n in ("easting_m", "northing_m", "depth_m", "sd_m")}
    assert run_depth_probability(depth_field(LAKE, kind="lake", **arrays), RUN, 20.0, 2.0) >= 0.95


def test_every_kind_of_evidence_goes_through_the_same_check():
    bed = flat_with_banks(LAKE, 6.0, 30.0)
    points = replace(sounded(LAKE, bed, 200), searches=(), survey=None)
    seen, cells = sounded(LAKE, bed, 200), raster(LAKE, bed, 10.0, 10.0)
    charted = {
        zone: DepthChart((), (DepthArea(LAKE, 5.0, 10.0, zone, "chart", body_id="tarn"),))
        for zone in ("A1", "B")
    }

    def stated(soundings=None, grid=None, chart=None):
        least = depth_model(body(LAKE), soundings, grid, None, chart).least_along(RUN, 20.0)
        return least.probability_at_least(2.0), least

    low, least = stated(points)
    assert low < 0.8 and stated(seen)[0] >= 0.95
    assert least.bed_probability_at_least(2.0) >= 0.95
    assert least.unseen == "soundings every 65 m would not see rocks or sunken trees or a sill"
    assert stated(grid=replace(cells, search=BedSearch()))[0] < 0.8 and stated(grid=cells)[0] >= 0.95
    assert stated(chart=charted["B"])[0] < 0.8 and stated(chart=charted["A1"])[0] >= 0.95
    # What the raster's survey searched stands for soundings that searched nothing.
    assert stated(points, cells)[0] >= 0.95


def test_two_surveys_of_one_water_see_what_either_saw():
    west, east = (BedSearch("full", feature_m=1.0, line_spacing_m=40.0), BedSearch())
    x, y = np.meshgrid(
        np.arange(EAST + 20.0, EAST + 1500.0, 30.0), np.arange(NORTH + 20.0, NORTH + 600.0, 30.0)
    )
    x, y = x.ravel(), y.ravel()
    points = replace(
        record(x, y, np.full(len(x), 6.0)), searches=(west, east), survey=np.where(x < EAST + 750.0, 0, 1)
    )
    model = depth_model(replace(body(LAKE), kind="reservoir"), points, None)
    here, there = (
        model.least_along(
            shapely.LineString([(EAST + a, NORTH + 300.0), (EAST + a + 400.0, NORTH + 300.0)]), 20.0
        )
        for a in (150.0, 950.0)
    )
    assert here.probability_at_least(2.0) >= 0.95 and there.probability_at_least(2.0) < 0.5


def test_a_raster_looked_only_where_it_is_known():
    cells = raster(LAKE, flat_with_banks(LAKE, 6.0, 30.0), 10.0, 10.0)
    cells.grid.values[:, 60:] = np.nan
    area = SearchedArea(cells.grid, BedSearch("full", feature_m=1.0))
    assert area.looked(
        np.array([[EAST + 100.0, NORTH + 300.0], [EAST + 1200.0, NORTH + 300.0]])
    ).tolist() == [True, False]
