"""Ways in and out of a hover: what the survey saw against the day's gradients and wind."""

from dataclasses import replace

import numpy as np
import pytest
import shapely

from geo.base.units import MS_PER_KNOT
from geo.records.aircraft import HoverFill
from geo.records.conditions import SourceConditions
from geo.records.region import Obstacle
from geo.records.survey import EndClearance
from geo.suitability.assess import assess_body
from geo.suitability.ways import VERTICAL_CLIMB_MS, judged_ways
from tests.suitability.example_waters import AIR, HEAVY, body, criterion_of, hover_point, sectors, survey

FILL = HoverFill(60.0, 1.0, 0.8, 16.8, 20.0, 0.5, False, 0.23, 15 * MS_PER_KNOT, 5 * MS_PER_KNOT)
CALM = replace(AIR, wind_ms=0.0)


def ring(default: float = 1.0, after: float | None = None, **by_direction: float):
    """Slopes by direction ("d09": east), the same for all others; after: those after the climb."""
    row = [default] * 36
    for name, slope in by_direction.items():
        row[int(name[1:])] = slope
    last = row if after is None else [after] * 36
    both = tuple(row), tuple(last)
    return sectors(slopes=both, without_error=both)


def states(found) -> tuple[str, str]:
    return tuple(c.state for c in found.criteria)


def judged(seen, air: SourceConditions = CALM, fill: HoverFill = FILL):
    return judged_ways(hover_point(sectors=seen), fill, air)


def test_open_on_all_sides_serves_on_all_sides():
    found = judged(ring(0.0))
    assert states(found) == ("met", "met")
    assert len(found.ways.in_from_true_deg) == len(found.ways.out_to_true_deg) == 36


def test_just_met_and_just_not():
    """The gradient itself serves, a hair more does not: 8 % loaded in the example's air."""
    assert states(judged(ring(AIR.climb_gradient_loaded))) == ("met", "met")
    assert states(judged(ring(AIR.climb_gradient_loaded + 1e-4))) == ("met", "not met")
    assert states(judged(ring(0.23, after=0.0))) == ("met", "met")
    assert states(judged(ring(0.2301, after=0.0)))[0] == "not met"


def test_a_balked_approach_must_get_out_ahead():
    """One gap to the north: in from there the way ahead is south, where nothing opens; a second gap in the east is 90
    degrees off the way ahead, one in the south-west is nearer."""
    assert states(judged(ring(d00=0.0))) == ("not met", "met")
    assert "balked" in judged(ring(d00=0.0)).criteria[0].reason
    assert states(judged(ring(d00=0.0, d09=0.0))) == ("met", "met")
    assert states(judged(ring(d00=0.0, d08=0.0))) == ("not met", "met")
    # 14 % empty in the example's air: ahead it must be no steeper.
    assert 0.0 in judged(ring(d00=0.0, d18=0.14)).ways.in_from_true_deg
    assert judged(ring(d00=0.0, d18=0.1401)).ways.in_from_true_deg == (180.0,)


def test_the_wind_chooses_the_directions():
    """20 kt from the north: out within asin(15/20) = 48.6 degrees of it, in from as far to the south (trigonometry)."""
    air = replace(AIR, wind_ms=20.0 * MS_PER_KNOT, wind_from_true_deg=2.0, wind_from_grid_deg=0.0)
    ways = judged(ring(0.0), air).ways
    assert sorted(ways.out_to_true_deg) == [2.0, 12.0, 22.0, 32.0, 42.0, 322.0, 332.0, 342.0, 352.0]
    assert sorted(ways.in_from_true_deg) == [float(d) for d in range(142, 223, 10)]
    # 5 kt of tail wind is the limit: with 4 kt every direction serves, with 6 kt those well away from it.
    light = [replace(air, wind_ms=kt * MS_PER_KNOT) for kt in (4.0, 6.0)]
    count = [len(judged(ring(0.0), one).ways.out_to_true_deg) for one in light]
    # cos(a) >= -5/6: a <= 146.4 degrees, 14 steps of 10 to each side.
    assert count == [36, 29]
    assert states(judged(ring(d18=0.0, d17=0.0, d19=0.0), air)) == ("not met", "not met")


def test_without_limits_of_its_own_an_aircraft_takes_the_published_surface():
    plain = replace(FILL, approach_slope=None, crosswind_limit_ms=None, tailwind_limit_ms=None)
    assert states(judged(ring(0.125, after=0.0), fill=plain)) == ("met", "met")
    assert states(judged(ring(0.126, after=0.0), fill=plain))[0] == "not met"
    assert "8:1" in judged(ring(0.0), fill=plain).criteria[0].reason


def test_what_nobody_knows_asks_for_a_survey():
    seen = sectors()
    barred = replace(seen, unknown=((0,),) * 36, things=("mast M1 (height unknown) 80 m away",))
    assert states(judged(barred)) == ("unknown", "unknown")
    assert "mast M1" in judged(barred).criteria[1].reason
    known_wall = replace(barred, slopes=((9.0,) * 36,) * 2, without_error=((9.0,) * 36,) * 2)
    assert states(judged(known_wall)) == ("not met", "not met")
    # One direction that is known and clear is enough for both where the other way gets out too.
    some = tuple(() if i in (0, 18) else (0,) for i in range(36))
    assert states(judged(replace(barred, unknown=some))) == ("met", "met")
    assert states(judged(None)) == ("unknown", "unknown")
    assert states(judged(seen, replace(CALM, climb_gradient_loaded=None))) == ("unknown", "unknown")


def test_the_terrains_error_alone_asks_for_a_look():
    seen = replace(ring(0.5), without_error=((0.02,) * 36,) * 2)
    assert states(judged(seen)) == ("unknown", "unknown")
    assert "only the terrain's error" in judged(seen).criteria[0].reason


def pump(seen, **changes):
    given = survey(hover_point=hover_point(sectors=seen))
    return next(
        m
        for m in assess_body(given, body(), HEAVY, replace(CALM, **changes)).methods
        if m.method == "hover_pump"
    )


def test_straight_up_costs_load_and_time():
    """9,000 kg can be lifted: a tenth stays unused, and 30 m at 300 ft/min are 19.7 s more."""
    free, up = pump(ring(0.0), liftable_kg=9_000.0), pump(ring(0.2, after=0.0), liftable_kg=9_000.0)
    assert (free.verdict, up.verdict) == ("usable", "usable")
    assert up.litres == pytest.approx(0.9 * free.litres)
    assert up.litres_ruled_by == "hover payload less 10% for a climb straight up"
    assert up.ways.out_climb_m == up.lift_off_above_m == 30.0 and free.lift_off_above_m == 0.0
    assert up.fill_time_s == pytest.approx(60.0 * up.litres / 10_000.0 + 30.0 / VERTICAL_CLIMB_MS)
    assert up.score < free.score and "straight up" in criterion_of(up, "way out").reason


def test_no_way_is_not_usable_and_names_the_figures():
    found = pump(ring(1.05))
    assert found.verdict == "not usable" and found.litres is None
    assert "105.0%" in found.reason and "way in" in found.reason and "way out" in found.reason


def test_the_best_of_several_points_is_judged_and_the_others_are_offered():
    shut, one, two = (
        hover_point(point=shapely.Point(x, 0.0), sectors=ring(s))
        for x, s in ((0, 1.0), (900, 0.02), (1800, 0.0))
    )
    given = survey(hover_point=shut, further_hover_points=(one, two))
    found = next(m for m in assess_body(given, body(), HEAVY, CALM).methods if m.method == "hover_pump")
    assert found.verdict == "usable" and found.fill_point.x == 1800
    assert [other.fill_point.x for other in found.alternatives] == [900]


@pytest.mark.parametrize("seed", range(20))
def test_more_in_the_way_never_helps(seed):
    """Raise slopes, hide heights, or take knowledge away: neither verdict nor load gains."""
    rng = np.random.default_rng(seed)
    order = ("usable", "survey first", "not usable")
    row = rng.choice([0.0, 0.05, 0.15, 0.3, 1.0], 36)
    last = row * rng.choice([0.0, 0.5, 1.0])
    rows = tuple(row.tolist()), tuple(last.tolist())
    seen = sectors(slopes=rows, without_error=rows, things=("mast",))
    wind = {"wind_ms": float(rng.uniform(0.0, 12.0)), "wind_from_grid_deg": float(rng.uniform(0.0, 360.0))}
    before = pump(seen, **wind)
    for i in rng.integers(0, 36, 6):
        worse = [list(each) for each in rows]
        for each in worse:
            each[i] += 0.2
        higher = tuple(map(tuple, worse))
        hidden = tuple((0,) if k == i else () for k in range(36))
        for after in (
            pump(replace(seen, slopes=higher, without_error=higher), **wind),
            pump(replace(seen, unknown=hidden), **wind),
        ):
            assert order.index(after.verdict) >= order.index(before.verdict)
            assert (after.litres or 0.0) <= (before.litres or 0.0) or after.verdict != "usable"


def test_every_known_wire_within_a_kilometre_is_named():
    """Height, distance and bearing from the hover point; 1,001 m off is not near."""
    at = [
        ("W1", 0.0, 58.0, 61.0, None),
        ("M2", 300.0, 300.0, None, None),
        ("W3", -1001.0, 0.0, 9.0, None),
        ("W4", 0.0, -999.0, None, 199.4),
    ]
    stands = [Obstacle(n, "", "wire", shapely.Point(e, u), top, high, "f") for n, e, u, high, top in at]
    air = replace(CALM, wind_from_true_deg=5.0, wind_from_grid_deg=0.0)
    given = survey(hover_point=hover_point())
    methods = assess_body(given, body(), HEAVY, air, (), (), stands).methods
    said = next(m for m in methods if m.method == "hover_pump").cautions
    near = next(text for text in said if text.startswith("within 1 km of the hover point"))
    assert "wire W1, 61 m above ground, 58 m to the 005" in near
    assert "wire M2, HEIGHT UNKNOWN, 424 m to the 050" in near
    # A top below the water's level (200 m) is named too: it may hang into the water.
    assert "wire W4, top at 199 m, 999 m to the 185" in near and "W3" not in near
    run = next(m for m in methods if m.method == "ram_intake").cautions
    assert any(text.startswith("within 1 km of the run") and "wire W1" in text for text in run)
    assert isinstance(given.longest_run.start_end, EndClearance)
