"""Fill stations: read in declared units, unknown where a cell cannot be read, refused where nobody could tell."""

from datetime import date

import pytest
import shapely
from ingest_files import HEAD, WATER, frame_of, write_region

from geo.base.errors import BadInput
from geo.ingest.load_region import check_region, load_region

STATIONS = (
    '[fill_stations]\nfile = "t.gpkg"\nflow_unit = "US gal/min"\nvolume_unit = "m3"\nlength_unit = "foot"\n'
    '[fill_stations.columns]\nid = "ref"\nkind = "sort"\nagent = "holds"\nflow = "flow"\ncoupling_s = "couple"\n'
    'volume = "store"\nrefill = "refill"\nclear_radius = "clear"\nslope_percent = "slope"\ndepth = "deep"\n'
    'permission = "leave"\nfrom = "first"\nto = "last"\n[fill_stations.kinds]\n"street plug" = "hydrant"\n'
    '[fill_stations.agents]\n"long-term" = "retardant"\n[fill_stations.permissions]\n"yes" = "granted"\n'
)
ROW = {
    "ref": "P", "sort": "street plug", "holds": "long-term", "flow": 500.0, "couple": 45.0, "store": 60.0,
    "refill": 100.0, "clear": 100.0, "slope": 3.0, "deep": 6.0, "leave": "yes", "first": "2026-11-01",
    "last": "2027-03-31",
}  # fmt: skip


def write(folder, toml=STATIONS, **changes):
    row = ROW | changes
    write_region(folder, HEAD + WATER + toml, ref=["W1", "W2"])
    frame_of([shapely.Point(-30.01, -40.02)], **{name: [value] for name, value in row.items()}).to_file(
        folder / "t.gpkg"
    )
    return folder


def test_units_and_words_are_those_of_the_section(tmp_path, worker):
    """500 US gal/min = 31.545 L/s; 60 m3; 100 ft = 30.48 m; 6 ft = 1.8288 m (exact factors of 1959)."""
    (one,) = load_region(write(tmp_path), worker=worker).stations
    assert (one.station_id, one.kind, one.agent, one.permission) == ("P", "hydrant", "retardant", "granted")
    assert one.flow_l_s == pytest.approx(500.0 * 3.785411784 / 60.0)
    assert one.refill_l_s == pytest.approx(one.flow_l_s / 5.0) and one.volume_l == 60_000.0
    assert (one.clear_radius_m, one.depth_m) == (pytest.approx(30.48), pytest.approx(1.8288))
    assert (one.slope, one.coupling_s) == (pytest.approx(0.03), 45.0)
    assert (one.valid_from, one.valid_to) == (date(2026, 11, 1), date(2027, 3, 31))


@pytest.mark.parametrize(
    ("cell", "value", "field", "words"),
    [
        ("flow", "lots", "flow_l_s", "the flow"),
        ("flow", 0.0, "flow_l_s", "the flow"),
        ("slope", -2.0, "slope", "the slope"),
        ("clear", 1e6, "clear_radius_m", "the clear radius"),
        ("couple", 601.0, "coupling_s", "the coupling time"),
        ("sort", "fountain", "kind", "not mapped"),
        ("holds", "gel", "agent", "not mapped"),
    ],
)
def test_what_cannot_be_read_is_unknown_and_said(tmp_path, worker, cell, value, field, words):
    region = load_region(write(tmp_path, **{cell: value}), worker=worker)
    assert getattr(region.stations[0], field) is None
    (fault,) = [one for one in region.cautions if one.field == cell]
    assert words in fault.rule and fault.feature == "row 1 (P)" and fault.cure


@pytest.mark.parametrize("unit", ["flow_unit", "volume_unit", "length_unit"])
def test_a_unit_that_is_not_declared_is_asked_for(tmp_path, worker, unit):
    lines = [line for line in STATIONS.splitlines() if not line.startswith(unit)]
    faults, summary = check_region(write(tmp_path, "\n".join(lines) + "\n"), worker=worker)
    assert not summary["usable"]
    assert any(one.field == f"fill_stations.{unit}" and unit in one.cure for one in faults)


def test_a_station_with_the_id_of_a_water_is_refused(tmp_path, worker):
    water = '[water]\nfile = "water.gpkg"\n[water.columns]\nid = "ref"\n'
    folder = write(tmp_path, ref="W1")
    (folder / "region.toml").write_text(HEAD + water + STATIONS)
    with pytest.raises(BadInput, match="a water of the region has the same id"):
        load_region(folder, worker=worker)
