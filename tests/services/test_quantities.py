"""Typed quantities: what is understood, and what is refused with its fix."""

from datetime import date
from types import SimpleNamespace

import pytest

from geo import pipeline
from geo.base.errors import BadArgument
from geo.base.positions import magnetic_variation_deg
from geo.records.conditions import WindReport
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


KT = 1852 / 3600


# METAR groups as WMO FM 15 writes them: dddff(f)Gfmfm KT or MPS, VRB, 00000KT for calm; the rest are this program's.
@pytest.mark.parametrize(
    ("text", "report"),
    [
        ("300/18kt", WindReport(300.0, 18 * KT)),
        ("300/18G35kt", WindReport(300.0, 18 * KT, 35 * KT)),
        ("30018G35KT", WindReport(300.0, 18 * KT, 35 * KT)),
        ("30018KT", WindReport(300.0, 18 * KT)),
        ("24010MPS", WindReport(240.0, 10.0)),
        ("VRB05KT", WindReport(0.0, 5 * KT, None, True)),
        ("vrb/5kt", WindReport(0.0, 5 * KT, None, True)),
        ("VRB03G14KT", WindReport(0.0, 3 * KT, 14 * KT, True)),
        ("00000KT", WindReport(0.0, 0.0)),
        ("calm", WindReport(0.0, 0.0)),
        ("270M/18kt", WindReport(270.0, 18 * KT, None, False, True)),
        ("270M18G30KT", WindReport(270.0, 18 * KT, 30 * KT, False, True)),
    ],
)
def test_winds_as_reported(text, report):
    found = quantities.wind_report(text)
    assert (found.from_deg, found.variable, found.magnetic) == (
        report.from_deg, report.variable, report.magnetic,
    )  # fmt: skip
    assert found.speed_ms == pytest.approx(report.speed_ms)
    assert found.gust_ms == (None if report.gust_ms is None else pytest.approx(report.gust_ms))


@pytest.mark.parametrize(
    "text",
    [
        "30018",
        "300/18G10kt",
        "30018G10KT",
        "37018KT",
        "300/18GKT",
        "VRB",
        "G35KT",
        "300/18X35kt",
        "30018G99KM",
    ],
)
def test_winds_that_nobody_reports_are_refused(text):
    with pytest.raises(BadArgument, match="Fix"):
        quantities.wind_report(text)


def test_a_magnetic_wind_turns_by_the_variation_of_the_day_and_needs_a_day():
    frame = SimpleNamespace(centre_longitude_deg=-120.0, centre_latitude_deg=0.0)
    region = SimpleNamespace(frame=frame)
    magnetic = quantities.wind_report("270M/18kt")
    # The variation itself is tested with its own published values (tests of positions).
    day = date(2025, 1, 1)
    turned = pipeline.true_wind(magnetic, day, region)
    assert turned.from_deg == pytest.approx(270.0 + magnetic_variation_deg(-120.0, 0.0, day)) != 270.0
    assert not turned.magnetic and pipeline.true_wind(turned, None, region) == turned
    with pytest.raises(BadArgument, match="give the day"):
        pipeline.true_wind(magnetic, None, region)


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
