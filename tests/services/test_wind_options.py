"""Winds aloft and wind fields, from what is typed to the pieces of the legs."""

import math

import pytest

from geo.base.errors import BadArgument
from services.core import quantities
from services.core.question import weather_of
from services.core.typed import TypedRanking

ASKED = {"fire": "fellside", "wind": "300/18kt", "oat": "34C", "qnh": "1009"}


def test_a_power_law_and_tables_are_read():
    assert quantities.wind_profile(" power:0.14 ").exponent == 0.14
    table = quantities.wind_profile("sea:3000ft=300/20kt,6000ft=360/30km/h")
    assert not table.above_ground
    first, second = table.rows
    # The international foot is 0.3048 m, the knot 1852 m an hour, exactly.
    assert (first.height_m, first.speed_ms) == pytest.approx((914.4, 20 * 1852 / 3600))
    assert (second.from_true_deg, second.speed_ms) == pytest.approx((0.0, 30 / 3.6))
    assert quantities.wind_profile("ground:300m=310/25kt").above_ground


@pytest.mark.parametrize(
    "text",
    ["", "0.14", "power:", "power:x", "power:nan", "power:-1", "power:2", "sea:", "sea:300/20kt", "air:1m=300/20kt",
     "sea:3000=300/20kt", "sea:300m=300/20", "sea:300m=300/20kt,200m=300/20kt", "ground:5m=300/20kt"],
)  # fmt: skip
def test_what_is_no_wind_by_height_is_refused_with_the_cure(text):
    with pytest.raises(BadArgument, match="Fix"):
        quantities.wind_profile(text)


def test_the_service_takes_winds_by_height_and_by_place(workspace):
    aloft = weather_of(TypedRanking(**ASKED, wind_profile="power:0.2"), workspace.region)
    assert aloft.wind_profile is not None and aloft.wind_profile.exponent == 0.2
    centre = workspace.region.frame.centre_longitude_deg, workspace.region.frame.centre_latitude_deg
    axes = {
        "longitude_deg": [centre[0] - 1.0, centre[0] + 1.0],
        "latitude_deg": [centre[1] - 0.7, centre[1] + 0.7],
    }
    sent = axes | {"u_ms": [[3.0, 3.0]] * 2, "v_ms": [[4.0, 4.0]] * 2}
    field = weather_of(TypedRanking(**ASKED, wind_field=sent), workspace.region).wind_field
    assert field.greatest_ms == pytest.approx(5.0)
    assert math.isclose(float(field.east.bilinear(0.0, 0.0)), 3.0)
    with pytest.raises(BadArgument, match="give one of them"):
        weather_of(TypedRanking(**ASKED, wind_field=sent, wind_profile="power:0.2"), workspace.region)
