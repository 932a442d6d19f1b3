"""GPX and KMZ as input: closed tracks are outlines, open ones are refused, hostile archives and entities are."""

import io
import struct
import zipfile

import gpxpy.gpx
import numpy as np
import pyproj
import pytest
import shapely
from ingest_files import LAKE, frame_of, write_region

from geo.base.errors import BadInput
from geo.ingest.layers.fires import read_fire
from geo.ingest.load_region import load_region
from geo.ingest.settings import VectorFile

EARTH = pyproj.Geod(ellps="WGS84")
# A ring of about 1.1 km by 0.85 km in open ocean.
RING = [(-30.02, -40.01), (-30.01, -40.01), (-30.01, -40.0), (-30.02, -40.0), (-30.02, -40.01)]
HEAD = '<?xml version="1.0" encoding="UTF-8"?>\n'
KML_HEAD = f'{HEAD}<kml xmlns="http://www.opengis.net/kml/2.2"><Document>'
KML = (
    f"{KML_HEAD}<Placemark><name>a</name><Polygon><outerBoundaryIs><LinearRing><coordinates>"
    + " ".join(f"{x},{y}" for x, y in RING)
    + "</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark></Document></kml>"
)


def gpx(kind="trk", pieces=(RING,), waypoints=()):
    """A GPX 1.1 document written by the gpxpy package."""
    document = gpxpy.gpx.GPX()
    document.waypoints = [gpxpy.gpx.GPXWaypoint(y, x, name=name) for name, x, y in waypoints]
    if kind == "trk":
        track = gpxpy.gpx.GPXTrack(name="flown")
        for piece in pieces:
            track.segments.append(
                gpxpy.gpx.GPXTrackSegment([gpxpy.gpx.GPXTrackPoint(y, x) for x, y in piece])
            )
        document.tracks.append(track)
    elif kind == "rte":
        for piece in pieces:
            route = gpxpy.gpx.GPXRoute(name="drawn")
            route.points = [gpxpy.gpx.GPXRoutePoint(y, x) for x, y in piece]
            document.routes.append(route)
    return document.to_xml(version="1.1")


def kmz(path, members):
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return path


@pytest.fixture(scope="module")
def region(tmp_path_factory, worker):
    return load_region(write_region(tmp_path_factory.mktemp("region")), worker=worker)


def refused(path, region, worker):
    with pytest.raises(BadInput) as told:
        read_fire(path, region, worker)
    assert all(fault.cure for fault in told.value.faults)
    return told.value.faults


def area_m2(ring):
    """Reference: PROJ's geodesic area."""
    return abs(EARTH.geometry_area_perimeter(shapely.Polygon(ring))[0])


@pytest.mark.parametrize("kind", ["trk", "rte"])
def test_closed_line_is_the_outline(tmp_path, region, worker, kind):
    (tmp_path / "edge.gpx").write_text(gpx(kind))
    fire = read_fire(tmp_path / "edge.gpx", region, worker)
    assert fire.name == "edge" and fire.cautions == ()
    assert fire.area.area == pytest.approx(area_m2(RING), rel=1e-4)


def test_track_whose_ends_lie_near_is_closed_and_that_is_said(tmp_path, region, worker):
    """3.9 km of track, 2 % of it are 78 m: 0.0008 degrees of latitude, 89 m, are too many, 0.0005, 56 m, are not."""
    near = [*RING[:-1], (-30.02, -40.0095)]
    (tmp_path / "near.gpx").write_text(gpx(pieces=[near]))
    fire = read_fire(tmp_path / "near.gpx", region, worker)
    gap_m = EARTH.inv(*near[0], *near[-1])[2]
    assert (
        len(fire.cautions) == 1
        and f"open by {gap_m:.0f} m" in fire.cautions[0]
        and "row 1" in fire.cautions[0]
    )
    assert fire.area.area == pytest.approx(area_m2(near), rel=1e-4)
    (tmp_path / "far.gpx").write_text(gpx(pieces=[[*RING[:-1], (-30.02, -40.0092)]]))
    (fault,) = refused(tmp_path / "far.gpx", region, worker)
    assert "open: there are 89 m" in fault.rule and fault.feature == "row 1" and "close it" in fault.cure


def test_long_track_is_closed_over_250_m_at_most(tmp_path, region, worker):
    long = [(x0 * 10, y0) for x0, y0 in ((-3.06, -40.05), (-2.97, -40.05), (-2.97, -40.0), (-3.06, -40.0))]
    for gap_deg, closed in ((0.0022, True), (0.0024, False)):
        (tmp_path / "t.gpx").write_text(gpx(pieces=[[*long, (long[0][0], long[0][1] + gap_deg)]]))
        if closed:
            assert "open by 244 m" in read_fire(tmp_path / "t.gpx", region, worker).cautions[0]
        else:
            assert (
                "266 m between its ends; up to 250 m" in refused(tmp_path / "t.gpx", region, worker)[0].rule
            )


def test_segments(tmp_path, region, worker):
    """Segments that close are rings of their own; those of one round, with the receiver lost between, are joined."""
    second = [(x + 0.03, y) for x, y in RING]
    (tmp_path / "two.gpx").write_text(gpx(pieces=[RING, second]))
    fire = read_fire(tmp_path / "two.gpx", region, worker)
    assert len(shapely.get_parts(fire.area)) == 2
    assert fire.area.area == pytest.approx(area_m2(RING) + area_m2(second), rel=1e-4)
    (tmp_path / "lost.gpx").write_text(gpx(pieces=[RING[:2], RING[2:]]))
    assert "open: there are 1110 m" in refused(tmp_path / "lost.gpx", region, worker)[0].rule
    half = [RING[0], RING[1], (-30.01, -40.005)]
    (tmp_path / "short.gpx").write_text(gpx(pieces=[half, [(-30.01, -40.0049), *RING[2:]]]))
    assert read_fire(tmp_path / "short.gpx", region, worker).area.area == pytest.approx(
        area_m2(RING), rel=1e-3
    )


def test_one_open_track_of_two_refuses_the_fire(tmp_path, region, worker):
    document = gpxpy.parse(gpx())
    open_track = gpxpy.gpx.GPXTrack()
    open_track.segments.append(
        gpxpy.gpx.GPXTrackSegment([gpxpy.gpx.GPXTrackPoint(y, x) for x, y in RING[:4]])
    )
    document.tracks.append(open_track)
    (tmp_path / "two.gpx").write_text(document.to_xml())
    (fault,) = refused(tmp_path / "two.gpx", region, worker)
    assert fault.feature == "row 2" and "open" in fault.rule


def test_waypoints_alone_are_no_outline(tmp_path, region, worker):
    (tmp_path / "p.gpx").write_text(gpx(None, waypoints=[("ramp", -30.0, -40.0)]))
    (fault,) = refused(tmp_path / "p.gpx", region, worker)
    assert "no routes or tracks; it holds waypoints (1)" in fault.rule


def test_waypoints_are_points(tmp_path, reader):
    (tmp_path / "p.gpx").write_text(gpx(waypoints=[("ramp", -30.5, -40.25), ("dam", -30.0, -40.0)]))
    layer = reader.read_layer(VectorFile(file="p.gpx"), {"name": "name"}, "point")
    assert [layer.row(place).text("name") for place in layer.present()] == ["ramp", "dam"]
    assert shapely.get_coordinates(layer.degrees).tolist() == [[-30.5, -40.25], [-30.0, -40.0]]
    assert reader.read_layer(VectorFile(file="p.gpx"), {}, "any") is None
    assert "waypoints (2), tracks (1)" in reader.report.all_faults()[0].cure


@pytest.mark.parametrize(
    ("change", "rule"),
    [
        (lambda text: text.replace('lat="-40.01"', 'lat="abc"', 1), "broken"),
        (lambda text: text.replace('lat="-40.01"', "", 1), "broken"),
        (lambda text: text.replace('lat="-40.01"', 'lat="-95"', 1), "outside longitude and latitude"),
        (lambda text: text.replace('lat="-40.01"', 'lat="nan"', 1), "not a number"),
        (lambda text: text[:300], "cut short or broken"),
        (lambda text: text.replace("<gpx ", '<!DOCTYPE gpx [<!ENTITY a "aaaa">]>\n<gpx ', 1), "entities"),
        (lambda text: text.replace("<trk>", "<!--" + "x" * 5000 + '--><!ENTITY b "c"><trk>', 1), "entities"),
        (lambda text: text.encode("utf-16"), "not a vector layer"),
        (lambda text: text.encode().replace(b"flown", b"fl\xf8wn"), "not UTF-8"),
        (lambda text: "", "empty"),
    ],
)
def test_bad_gpx_is_refused(tmp_path, region, worker, change, rule):
    """A latitude that is no number, or missing, must not become 0 or a point less; entities are never resolved."""
    bad = change(gpx())
    (tmp_path / "bad.gpx").write_bytes(bad if isinstance(bad, bytes) else bad.encode())
    assert rule in refused(tmp_path / "bad.gpx", region, worker)[0].rule


def test_kmz_gives_what_its_kml_gives(tmp_path, region, worker):
    (tmp_path / "a.kml").write_text(KML)
    plain = read_fire(tmp_path / "a.kml", region, worker)
    for name, members in {
        "doc": {"doc.kml": KML, "files/icon.png": b"\x89PNG", "other.kml": KML_HEAD + "</Document></kml>"},
        "only": {"layers/FIRE.KML": KML, "__MACOSX/._FIRE.KML": b"junk"},
    }.items():
        fire = read_fire(kmz(tmp_path / f"{name}.kmz", members), region, worker)
        assert fire.area.equals(plain.area) and fire.cautions == ()
    renamed = read_fire(kmz(tmp_path / "fire.zip", {"doc.kml": KML}), region, worker)
    assert renamed.area.equals(plain.area) and "is KMZ; it was read as KMZ" in renamed.cautions[0]


def encrypted(members):
    """A zip that says of its first member that it is encrypted (bit 0 of the flags, APPNOTE 4.4.4)."""
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w") as archive:
        for name, text in members.items():
            archive.writestr(name, text)
    data = bytearray(content.getvalue())
    for mark, place in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        at = data.index(mark) + place
        data[at : at + 2] = struct.pack("<H", 1)
    return bytes(data)


LINKED = f"{KML_HEAD}<NetworkLink><Link><href>layers/a.kml</href></Link></NetworkLink></Document></kml>"


@pytest.mark.parametrize(
    ("members", "rule"),
    [
        ({"doc.kml": b" " * (11 * 1024**2)}, "unpacks to"),
        ({f"{number}.kml": b"x" for number in range(201)}, "more than 200 members"),
        ({"../doc.kml": KML}, "points outside"),
        ({"/doc.kml": KML}, "points outside"),
        ({"a.kml": KML, "b.kml": KML}, "several KML files and no doc.kml: a.kml, b.kml"),
        ({"doc.kml": KML, "DOC.KML": KML}, "differ only in case"),
        ({"doc.kml": LINKED, "layers/a.kml": KML}, "NetworkLink"),
        ({"doc.kml": HEAD + '<!DOCTYPE kml [<!ENTITY a "b">]>' + KML[len(HEAD) :]}, "entities"),
        ({"doc.kml": "<OGRVRTDataSource/>"}, "refers to other files"),
        ({"doc.kml": b"PK\x03\x04 a zip in a zip"}, "no KML"),
        ({"doc.kml": KML.encode("utf-16")}, "no KML"),
        ({"doc.kml": KML[:250]}, "cannot be read"),
        ({"readme.txt": "nothing"}, "neither a Shapefile nor KML"),
        (encrypted({"doc.kml": KML}), "encrypted"),
        (b"PK\x03\x04 broken", "damaged or cut short"),
    ],
)
def test_hostile_kmz_is_refused(tmp_path, region, worker, members, rule):
    path = tmp_path / "bad.kmz"
    if isinstance(members, bytes):
        path.write_bytes(members)
    else:
        kmz(path, members)
    assert rule in refused(path, region, worker)[0].rule


def test_kml_with_a_link_is_not_read_in_part(tmp_path, region, worker):
    (tmp_path / "a.kml").write_text(KML.replace("</Document>", "<networklink/></Document>"))
    assert "NetworkLink" in refused(tmp_path / "a.kml", region, worker)[0].rule


def test_geoparquet_is_said_to_be_written_but_not_read(tmp_path, region, worker):
    frame_of([LAKE]).to_parquet(tmp_path / "a.parquet")
    (fault,) = refused(tmp_path / "a.parquet", region, worker)
    assert "GeoParquet, which is written here but not read" in fault.rule and "GeoPackage" in fault.cure


def test_worker_lives_on_after_all_that(region, worker, tmp_path):
    (tmp_path / "edge.gpx").write_text(gpx())
    assert np.isfinite(read_fire(tmp_path / "edge.gpx", region, worker).area.area)
