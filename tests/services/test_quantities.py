"""Typed quantities: what is understood, and what is refused with its fix."""

import pytest

from geo.base.errors import BadArgument
from services.core import quantities


@pytest.mark.parametrize(
    ("text", "direction_deg", "speed_ms"),
    [
        # 1 kt = 1852/3600 m/s exactly (international nautical mile, 1929).
        ("300/18kt", 300.0, 18 * 1852 / 3600),
        ("000/0kt", 0.0, 0.0),
        ("360/10 m/s", 0.0, 10.0),
        (" 45 / 36 km/h", 45.0, 10.0),
    ],
)
def test_wind_is_read(text, direction_deg, speed_ms):
    assert quantities.wind(text) == pytest.approx((direction_deg, speed_ms), abs=1e-12)


@pytest.mark.parametrize(
    "text", ["300", "300/18", "300/18mph", "361/10kt", "-10/10kt", "300/200kt", "nan/10kt", "x"]
)
def test_wind_is_refused_with_a_cure(text):
    with pytest.raises(BadArgument, match="Fix"):
        quantities.wind(text)


def test_temperature_needs_its_unit():
    # 93.2 degF = 34 degC by definition of the scale.
    assert quantities.temperature_c("34C") == 34.0
    assert quantities.temperature_c("93.2F") == pytest.approx(34.0, abs=1e-9)
    for text in ("34", "93", "nanC", "93C"):
        with pytest.raises(BadArgument, match="Fix"):
            quantities.temperature_c(text)


def test_qnh_in_inches_needs_its_unit():
    # 29.92 inHg is 1013.2 hPa to the printed digit (US handbook practice).
    assert quantities.qnh_hpa("29.92inHg") == pytest.approx(1013.2, abs=0.05)
    assert quantities.qnh_hpa("1009") == 1009.0
    assert quantities.qnh_hpa("1009 hPa") == 1009.0
    with pytest.raises(BadArgument, match="inches"):
        quantities.qnh_hpa("29.92")
    with pytest.raises(BadArgument, match="850 to 1100"):
        quantities.qnh_hpa("1200")


def test_heights_and_days():
    assert quantities.length_m("400ft") == pytest.approx(121.92)  # 1 ft = 0.3048 m exactly
    assert quantities.day("2026-01-31").isoformat() == "2026-01-31"
    for reader, text in (
        (quantities.length_m, "400"),
        (quantities.day, "31.1.2026"),
        (quantities.day, "2026-02-30"),
    ):
        with pytest.raises(BadArgument, match="Fix"):
            reader(text)
