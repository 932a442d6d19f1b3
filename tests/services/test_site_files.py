"""Annotated sites out of and into files: every format, a mapping, a dry run, all rows or none, history kept."""

import csv
import json
import zipfile
from datetime import date
from functools import partial
from pathlib import Path

import fastkml
import geopandas
import gpxpy
import pytest
import shapely
from lxml import etree

from geo import pipeline
from geo.base.errors import BadArgument, BadInput
from geo.export.layers.site_layer import ENDINGS
from services.core.site_files import COLUMNS, export_sites
from services.core.site_import_plan import carry_out, plan_import
from services.core.site_mapping import FIELDS, read_mapping
from services.errors import Conflict
from services.store import sites
from services.store.site_import import Wanted, take_in
from services.store.site_record import SiteFields
from tests.services.commands import commands_on
from tests.services.tiny_region import write_tiny_region

# Every field is written in one of the three, so that none can get lost unseen.
FULL = SiteFields(
    name="Ramp 'Ōst' & <b>north</b>",
    longitude_deg=-128.014,
    latitude_deg=-47.0101,
    body_id="L1",
    place="=cmd|' /C calc'!A0",
    method="hover pump",
    status="seasonal",
    valid_from=date(2026, 1, 1),
    valid_to=date(2026, 12, 31),
    season_from="11-01",
    season_to="03-31",
    effect="limit",
    most_litres=2500.5,
    hazards="snags, left bank; rock",
    wires="one, 12 m",
    access='gate "B"',
    owner="A. Example",
    permission="granted",
    permission_to=date(2027, 6, 30),
    contact="radio 4",
    inspected_on=date(2026, 1, 3),
    inspected_by="R. Example",
    inspection_due=date(2026, 11, 1),
    depth_evidence_to=date(2028, 1, 1),
    note="line one\nline two " + "x" * 300,
)
VETO = SiteFields(
    name="Dam east", longitude_deg=-127.975, latitude_deg=-47.008, status="closed", effect="veto"
)
BARE = SiteFields(name="007", longitude_deg=-127.97, latitude_deg=-47.007)
NAME = ("Boat ramp", "Dam west")


@pytest.fixture(scope="module")
def region(tmp_path_factory):
    return pipeline.load(write_tiny_region(tmp_path_factory.mktemp("tiny") / "region"))


@pytest.fixture
def filled(store, region):
    for site_id, fields in (("S1", FULL), ("S2", VETO), ("3", BARE)):
        sites.create(store.engine, region.name, fields, "anna", site_id)
    return store


def actions(plan):
    return [row.action for row in plan.rows]


def points(path, driver="GPKG", **columns):
    places = [shapely.Point(-128.014 + 0.001 * n, -47.008) for n in range(len(next(iter(columns.values()))))]
    geopandas.GeoDataFrame(columns, geometry=places, crs="EPSG:4326").to_file(path, driver=driver)
    return path


def test_the_sample_has_every_field():
    assert all(value is not None for value in FULL.model_dump().values())
    assert [one.name for one in COLUMNS] == [
        "site_id",
        *SiteFields.model_fields,
        "revision",
        "updated_at",
        "updated_by",
    ]


@pytest.mark.parametrize("ending", [one for one in ENDINGS if one != ".parquet"])
def test_out_and_in_again_changes_nothing(filled, region, tmp_path, ending):
    """The same store says "the same" of every row of every format, cut texts and rounded places among them."""
    count, _ = export_sites(filled, region.name, tmp_path / f"o{ending}")
    plan = plan_import(filled, region, tmp_path / f"o{ending}", read_mapping([]))
    assert count == 3 and actions(plan) == ["same"] * 3, [row.changes or row.faults for row in plan.rows]
    assert set(plan.taken) >= ({"name"} if ending == ".gpx" else {"site_id", "name", "status", "revision"})


@pytest.mark.parametrize("ending", [".gpkg", ".geojson", ".fgb", ".kml", ".kmz"])
def test_into_another_store_without_loss(filled, new_store, region, tmp_path, ending):
    export_sites(filled, region.name, tmp_path / f"o{ending}")
    other = new_store("file")
    plan = plan_import(other, region, tmp_path / f"o{ending}", read_mapping([]))
    assert actions(plan) == ["create"] * 3, plan.faults
    carry_out(other, region, plan, "ben")
    for site_id, fields in (("S1", FULL), ("S2", VETO), ("3", BARE)):
        found = sites.get(other.engine, site_id)
        assert found.updated_by == "ben" and found.revision == 1
        for name, value in fields.model_dump().items():
            got = getattr(found.fields, name)
            assert got == (pytest.approx(value, abs=1e-6) if isinstance(value, float) else value), name


def test_files_are_valid(filled, region, tmp_path):
    """KML 2.2 schema as fastkml ships it; GPX 1.1 restated in gpx11.rng; CSV by Python's reader."""
    for ending in ENDINGS:
        export_sites(filled, region.name, tmp_path / f"o{ending}")
    schema = etree.XMLSchema(etree.parse(str(Path(fastkml.__file__).parent / "schema" / "ogckml22.xsd")))
    schema.assertValid(etree.parse(str(tmp_path / "o.kml")))
    with zipfile.ZipFile(tmp_path / "o.kmz") as archive:
        assert archive.read("doc.kml") == (tmp_path / "o.kml").read_bytes()
    grammar = Path(__file__).parents[1] / "export" / "gpx11.rng"
    etree.RelaxNG(etree.parse(str(grammar))).assertValid(etree.parse(str(tmp_path / "o.gpx")))
    assert [one.name for one in gpxpy.parse((tmp_path / "o.gpx").read_text("utf-8")).waypoints] == [
        BARE.name, VETO.name, FULL.name,
    ]  # fmt: skip
    with (tmp_path / "o.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    assert rows[2]["place"] == f"'{FULL.place}" and rows[2]["note"].startswith("line one / line two")
    assert "note: 318 bytes cut to 254" in (tmp_path / "o_limits.txt").read_text("utf-8")
    assert len(geopandas.read_parquet(tmp_path / "o.parquet")) == 3
    with pytest.raises(BadArgument, match="no format has this ending"):
        export_sites(filled, region.name, tmp_path / "o.dwg")


def test_kml_draws_each_site_in_the_colour_of_its_status(filled, region, tmp_path):
    """The style that a placemark names is one of the file's (OGC 07-147r2, 12.2); closed does not look like open."""
    export_sites(filled, region.name, tmp_path / "o.kml")
    tree = etree.parse(str(tmp_path / "o.kml"))
    at = {"k": "http://www.opengis.net/kml/2.2"}
    drawn = {
        one.findtext("k:name", namespaces=at): one.findtext("k:styleUrl", namespaces=at)
        for one in tree.iterfind(".//k:Placemark", at)
    }
    assert drawn == {FULL.name: "#seasonal", VETO.name: "#closed", BARE.name: "#unknown"}
    colours = {
        one.get("id"): one.findtext("k:IconStyle/k:color", namespaces=at)
        for one in tree.iterfind(".//k:Style", at)
    }
    assert all(url[1:] in colours for url in drawn.values()) and colours["open"] != colours["closed"]


def test_the_store_is_not_written_over(new_store, region):
    store = new_store("file")
    with pytest.raises(BadArgument, match="the store itself"):
        export_sites(store, region.name, Path(store.where))


def test_mapping_words_dry_run_and_history(store, region, tmp_path):
    points(
        tmp_path / "in.gpkg", NAME=NAME, STATE=["offen", "ZU"], INSP=["2026/01/03", None], WEIGHT=[None, 3.0]
    )
    (tmp_path / "m.toml").write_text(
        '[columns]\nname = "NAME"\nstatus = "STATE"\ninspected_on = "INSP"\n'
        '[words.status]\noffen = "open"\nzu = "closed"\n'
    )
    mapping = read_mapping([str(tmp_path / "m.toml")])
    plan = plan_import(store, region, tmp_path / "in.gpkg", mapping)
    assert actions(plan) == ["create", "create"] and plan.left == ("WEIGHT",)
    assert plan.rows[0].notes == ("open, effect note, on Lake L1 (L1)",)
    assert sites.listed(store.engine, region.name) == []
    made = carry_out(store, region, plan, "anna")
    assert [(one.fields.status, one.fields.inspected_on) for one in made] == [
        ("open", date(2026, 1, 3)), ("closed", None),
    ]  # fmt: skip
    # The same file again, one word changed: only that field changes, and who changed it is kept.
    points(tmp_path / "in.gpkg", NAME=NAME, STATE=["offen", "offen"], INSP=[None, None])
    plan = plan_import(store, region, tmp_path / "in.gpkg", mapping)
    assert actions(plan) == ["same", "change"] and plan.rows[1].changes == (("status", "closed", "open"),)
    carry_out(store, region, plan, "ben")
    past = sites.history(store.engine, made[1].site_id)
    assert [(one["changed_by"], one["action"]) for one in past] == [("ben", "update"), ("anna", "create")]
    assert past[0]["before"]["status"] == "closed" and past[0]["after"]["status"] == "open"


def test_an_empty_cell_says_nothing_unless_asked(filled, region, tmp_path):
    points(tmp_path / "in.gpkg", site_id=["S2"], name=["Dam east"], effect=[None], status=[""])
    moved = ("longitude_deg",)
    kept = plan_import(filled, region, tmp_path / "in.gpkg", read_mapping([]))
    assert [key for key, _, _ in kept.rows[0].changes] == list(moved)
    cleared = plan_import(filled, region, tmp_path / "in.gpkg", read_mapping([]), clear_empty=True)
    assert dict((key, new) for key, _, new in cleared.rows[0].changes if key not in moved) == {
        "status": "unknown", "effect": "note",
    }  # fmt: skip


def test_one_bad_row_refuses_all_and_every_fault_is_told(filled, region, tmp_path):
    columns = {
        "site_id": ["N1", "N2", "N3", "N4", "N5", "N5", "S1"],
        "name": ["ok", "bad status", None, "bad day", "no water", "twice", "stale"],
        "status": ["open", "offen", "open", "open", "open", "open", "open"],
        "inspected_on": [None, None, None, "03.01.2026", None, None, None],
        "body_id": [None, None, None, None, "W99", None, None],
        "revision": [None, None, None, None, None, None, 7],
    }
    points(tmp_path / "in.gpkg", **columns)
    plan = plan_import(filled, region, tmp_path / "in.gpkg", read_mapping([]))
    assert actions(plan) == ["create", *["refuse"] * 6]
    said = {row.where: "; ".join(fault.rule for fault in row.faults) for row in plan.rows}
    assert "'open', 'closed', 'seasonal' or 'unknown'" in said["row 2"] and "needs a name" in said["row 3"]
    assert "inspected_on: is no day" in said["row 4"] and "no water 'W99'" in said["row 5"]
    assert "stands in row 5 too" in said["row 6"]
    assert "anna changed it meanwhile (revision 1, the file was made of 7)" in said["row 7"]
    assert all(fault.cure for fault in plan.faults)
    with pytest.raises(BadInput) as told:
        carry_out(filled, region, plan, "ben")
    assert len(told.value.faults) == len(plan.faults) >= 6
    assert len(sites.listed(filled.engine, region.name)) == 3


def test_the_same_site_twice_in_a_file(store, region, tmp_path):
    geopandas.GeoDataFrame(
        {"name": ["a", "a"]}, geometry=[shapely.Point(-128.01, -47.008)] * 2, crs="EPSG:4326"
    ).to_file(tmp_path / "in.fgb", driver="FlatGeobuf")
    plan = plan_import(store, region, tmp_path / "in.fgb", read_mapping([]))
    assert actions(plan) == ["create", "refuse"] and "stands in row 1 too" in plan.faults[0].rule


def test_a_site_that_rules_nothing_is_said_so(store, region, tmp_path):
    frame = geopandas.GeoDataFrame(
        {"name": ["far"]}, geometry=[shapely.Point(-128.05, -46.97)], crs="EPSG:4326"
    )
    frame.to_file(tmp_path / "in.geojson", driver="GeoJSON")
    plan = plan_import(store, region, tmp_path / "in.geojson", read_mapping([]))
    assert "CAUTION" in plan.rows[0].notes[0] and "rules nothing" in plan.rows[0].notes[0]


def test_who_was_faster_is_told_and_nothing_is_written(filled, region, tmp_path):
    """All or nothing in one transaction, on both stores: the first row is sound, the second is stale."""
    points(tmp_path / "in.gpkg", site_id=["N1", "S2"], name=["new", "Dam east"], note=["x", "y"])
    plan = plan_import(filled, region, tmp_path / "in.gpkg", read_mapping([]))
    assert actions(plan) == ["create", "change"]
    sites.update_site(filled.engine, "S2", VETO.model_copy(update={"wires": "two"}), 1, "carl")
    with pytest.raises(Conflict, match="carl changed it meanwhile"):
        carry_out(filled, region, plan, "ben")
    assert [one.site_id for one in sites.listed(filled.engine, region.name)] == ["3", "S2", "S1"]
    with pytest.raises(BadArgument, match="this id is taken"):
        take_in(filled.engine, region.name, [Wanted("N2", BARE, None), Wanted("S1", BARE, None)], "ben")
    assert len(sites.listed(filled.engine, region.name, retired=True)) == 3


def test_retired_sites_are_not_changed_by_a_file(filled, region, tmp_path):
    export_sites(filled, region.name, tmp_path / "o.gpkg")
    sites.retire(filled.engine, "S2", 1, "anna")
    plan = plan_import(filled, region, tmp_path / "o.gpkg", read_mapping([]))
    assert "is retired" in plan.faults[0].rule and "restore it" in plan.faults[0].cure
    assert export_sites(filled, region.name, tmp_path / "p.gpkg")[0] == 2


def test_csv_with_columns_of_its_own(store, region, tmp_path):
    (tmp_path / "in.csv").write_text("Ort;lon;lat;Zustand\nRamp;-128,014;-47,0101;open\n", encoding="utf-8")
    given = ["name=Ort", "longitude_deg=lon", "latitude_deg=lat", "status=Zustand"]
    plan = plan_import(store, region, tmp_path / "in.csv", read_mapping(given))
    assert actions(plan) == ["create"] and plan.rows[0].where == "line 2"
    assert any("decimal comma" in one.rule for one in plan.cautions)
    made = carry_out(store, region, plan, "ben")[0].fields
    assert (made.longitude_deg, made.latitude_deg, made.status) == (-128.014, -47.0101, "open")
    with pytest.raises(BadInput, match="longitude_deg, latitude_deg is not in the table"):
        plan_import(store, region, tmp_path / "in.csv", read_mapping(["name=Ort"]))


@pytest.mark.parametrize(
    ("given", "rule"),
    [
        (["name"], "cannot be read"),
        (["name=A", "name=B"], "given twice"),
        (["nom=A"], "nom is no field of a site"),
        (["name=", "status=B"], "not understood"),
    ],
)
def test_bad_mappings(given, rule):
    with pytest.raises(BadArgument, match=rule):
        read_mapping(given)


def test_bad_mapping_files(tmp_path, store, region):
    for text, rule in (
        ("[columns", "no TOML"),
        ("colums = 1", "colums"),
        ("[words.nom]\na='b'", "nom is no field"),
    ):
        (tmp_path / "m.toml").write_text(text)
        with pytest.raises(BadArgument, match=rule):
            read_mapping([str(tmp_path / "m.toml")])
    points(tmp_path / "in.gpkg", name=["a"])
    with pytest.raises(BadInput, match=r"the column is not in the file.*map one of: name"):
        plan_import(store, region, tmp_path / "in.gpkg", read_mapping(["name=NOM"]))
    assert "site_id" in FIELDS and "revision" in FIELDS


@pytest.mark.parametrize(
    ("name", "content", "rule"),
    [
        ("a.gpkg", b"", "empty"),
        ("a.kml", b"<kml><!ENTITY a 'b'></kml>", "entities"),
        ("a.geojson", b'{"type":"FeatureCollection","features":[', "breaks off"),
        ("a.csv", b"name,longitude_deg,latitude_deg\na,-128.0\n", "line 2 is broken"),
        ("a.csv", b"name,longitude_deg,latitude_deg\na,,-47.0\n", "missing or empty"),
        ("a.csv", b"name,longitude_deg,latitude_deg\na,0,0\n", "lies at 0, 0"),
        ("a.gpx", b'<gpx version="1.1" creator="x"><trk/></gpx>', "no waypoints"),
    ],
)
def test_broken_files_are_refused_whole(store, region, tmp_path, name, content, rule):
    (tmp_path / name).write_bytes(content)
    with pytest.raises(BadInput, match=rule):
        plan_import(store, region, tmp_path / name, read_mapping([]))


def test_lines_are_no_sites(store, region, tmp_path):
    line = shapely.LineString([(-128.0, -47.0), (-128.01, -47.0)])
    geopandas.GeoDataFrame({"name": ["a", "b"]}, geometry=[line, line.centroid], crs="EPSG:4326").to_file(
        tmp_path / "in.geojson", driver="GeoJSON"
    )
    with pytest.raises(BadInput, match="a single point is needed, not LineString"):
        plan_import(store, region, tmp_path / "in.geojson", read_mapping([]))


def test_the_commands(tmp_path):
    """A dry run writes nothing, a refused row ends with exit code 2, an export is taken back."""
    folder = write_tiny_region(tmp_path / "region")
    points(tmp_path / "in.gpkg", NAME=NAME, STATE=["open", "shut"])
    run = partial(commands_on(tmp_path / "store"), "sites")

    done = run("import", folder, tmp_path / "in.gpkg", "--map", "name=NAME", "--map", "status=STATE")
    assert done.exit_code == 2 and "a row that is refused refuses all" in done.stdout, done.stderr
    dry = run("import", folder, tmp_path / "in.gpkg", "--map", "name=NAME", "--dry-run")
    assert dry.exit_code == 0 and "2 to create" in dry.stdout and "columns not taken: STATE" in dry.stdout
    done = run("import", folder, tmp_path / "in.gpkg", "--map", "name=NAME", "--by", "anna", "--json")
    assert json.loads(done.stdout)["written"] is True
    done = run("export", folder, tmp_path / "o.shp.zip")
    assert "2 sites" in done.stdout and "column names shortened" in done.stdout and done.exit_code == 0
    back = run("import", folder, tmp_path / "o.shp.zip", "--dry-run")
    assert "0 to create, 0 to change, 0 to refuse, 2 the same" in back.stdout
