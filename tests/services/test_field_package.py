"""The field package: what is in it, all or nothing, the page in one file, and the bundle of the page's modules."""

import io
import json
import re
import zipfile
from dataclasses import replace
from pathlib import Path

import pytest
from lxml import etree, html
from pypdf import PdfReader
from typer.testing import CliRunner

from geo.base.errors import BadArgument
from geo.base.positions import duration_text
from services.app import package_pages
from services.cli.main import app as cli
from services.core.field_package import write_package
from services.core.question import ranking_question
from services.core.typed import TypedRanking
from services.core.workspace import ask, open_workspace
from services.pages.bundle import CannotBundle, classic_script
from services.pages.packed_map import packed_map
from services.store import rankings
from services.store.store import embedded_store
from tests.needs import needs
from tests.services.tiny_region import write_tiny_region

TYPED = {"wind": "300/18kt", "oat": "25C", "qnh": "1013", "aircraft": "light_bucket_helicopter"}


@pytest.fixture(scope="module")
def tiny(tmp_path_factory):
    folder = tmp_path_factory.mktemp("package")
    write_tiny_region(folder / "region")
    store = embedded_store(folder / "store")
    yield open_workspace(folder / "region", store)
    store.close()


@pytest.fixture(scope="module")
def answer(tiny):
    return ask(tiny, ranking_question(TypedRanking(fire="F1", day="2026-01-31", **TYPED), tiny))


def data_of(page: str) -> dict:
    """The data in the page as the browser reads it."""
    return json.loads(re.search(r"<script>window\.FETCHWATER_DATA = (.*?);</script>", page, re.DOTALL)[1])


@needs("Pango")
def test_the_package_holds_what_a_place_without_the_service_needs(tiny, answer, tmp_path):
    path = write_package(tmp_path / "fellside.zip", tiny, answer, package_pages)
    with zipfile.ZipFile(path) as archive:
        assert archive.testzip() is None
        names = {name.removeprefix("fellside/") for name in archive.namelist()}
        sheets = {f"sheets/water_{one.body_id}.pdf" for one in answer.ranking.sources[:10]}
        assert names == sheets | {
            "README.html", "map.html", "sheets/ranking.pdf", "water_sources.gpx", "water_sources.kmz",
            "water_sources.gpkg", "ranked.geojson", "runs.geojson", "legs.geojson", "water.geojson",
        }  # fmt: skip
        readme = archive.read("fellside/README.html").decode()
        first = PdfReader(io.BytesIO(archive.read("fellside/sheets/ranking.pdf"))).pages[0].extract_text()
        with zipfile.ZipFile(io.BytesIO(archive.read("fellside/water_sources.kmz"))) as kmz:
            # OGC 07-147r2, annex on KMZ: the first .kml of the archive's root is the document.
            assert kmz.namelist() == ["doc.kml"] and etree.fromstring(kmz.read("doc.kml")).tag.endswith(
                "}kml"
            )
    for source in answer.ranking.sources:
        assert duration_text(source.cycle.round_trip_s) in first
    tree = html.fromstring(readme)
    assert {one.get("href") for one in tree.iter("a")} == names - {"README.html"}
    said = tree.text_content()
    for words in (
        answer.ranking_id,
        tiny.survey_key,
        tiny.region.fingerprint,
        "the pilot in command decides",
    ):
        assert words in said
    assert all(caution in said for caution in answer.ranking.cautions)


@needs("Pango")
def test_a_folder_is_written_whole_and_nothing_is_written_over(tiny, answer, tmp_path):
    out = write_package(tmp_path / "pack", tiny, answer, package_pages, ["L2"])
    assert sorted(one.name for one in (out / "sheets").iterdir()) == ["ranking.pdf", "water_L2.pdf"]
    with pytest.raises(BadArgument, match="is there already"):
        write_package(out, tiny, answer, package_pages)
    with pytest.raises(BadArgument, match="nowhere"):
        write_package(tmp_path / "other", tiny, answer, package_pages, ["nowhere"])
    assert [one.name for one in tmp_path.iterdir()] == ["pack"]


@needs("Pango")
def test_a_fault_on_the_way_leaves_nothing_behind(tiny, answer, tmp_path, monkeypatch):
    def fail(*_):
        raise OSError("disk full")

    monkeypatch.setattr("services.core.sheets.water_sheet", fail)
    with pytest.raises(OSError, match="disk full"):
        write_package(tmp_path / "half.zip", tiny, answer, package_pages)
    assert list(tmp_path.iterdir()) == []


def test_the_page_holds_the_answer_and_nothing_that_could_end_its_script(tiny, answer):
    hostile = "</script><script>alert(1)</script><!--"
    document = answer.document | {"fire_name": hostile}
    page = packed_map(
        tiny, replace(answer, document=document), rankings.find(tiny.store.engine, answer.ranking_id)
    )
    data = data_of(page)
    assert data["answer"] == json.loads(json.dumps(document))
    assert page.count("<script>") == page.count("</script>") == 3 and hostile not in page
    assert 'http-equiv="Content-Security-Policy" content="default-src \'none\'' in page
    shown = {one["body_id"] for one in (*document["sources"], *document["excluded"])}
    assert set(data["surveys"]) == shown and {one["body_id"] for one in data["sides"]} <= shown


@needs("Pango")
def test_pack_command(tmp_path, monkeypatch, tiny):
    monkeypatch.setenv("FETCHWATER_DATA_DIR", str(tmp_path / "store"))
    region = write_tiny_region(tmp_path / "region") or tmp_path / "region"
    out = tmp_path / "out.zip"
    given = ["pack", str(region), "--fire", "F1", "--out", str(out), "--json"]
    for name, value in TYPED.items():
        given += [f"--{name}", value]
    made = CliRunner().invoke(cli, given)
    assert made.exit_code == 0, made.output
    assert [Path(one) for one in json.loads(made.stdout)["files"]] == [out] and zipfile.is_zipfile(out)


def write(folder: Path, **modules: str) -> Path:
    for name, text in modules.items():
        (folder / f"{name}.js").write_text(text)
    return folder


def test_bundle_keeps_order_names_and_stand_ins(tmp_path):
    folder = write(
        tmp_path,
        a='import { two as second, one } from "./b.js";\nwindow.sum = one + second();\n',
        b='import { three } from "./c.js";\nexport const one = 1;\nexport function two() {\n  return three;\n}\n',
        c="export const three = 3;\n",
        d="export const three = 30;\n",
    )
    text = classic_script(folder, "a", {"c": "d"})
    assert text.index("module_d") < text.index("module_b") < text.index("module_a")
    assert "const { two: second, one } = module_b;" in text and "return { one, two };" in text
    assert "import" not in text and "export" not in text and "= 3;" not in text


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ('import b from "./b.js";\n', "import b"),
        ('import * as b from "./b.js";\n', "import"),
        ('export { one } from "./b.js";\n', "export"),
        ("export default 1;\n", "export default"),
        ("export let one = 1;\n", "export let"),
        ('const b = await import("./b.js");\n', "import"),
        ('import { a } from "./a.js";\n', "ring"),
        ('import { a } from "./gone.js";\n', "gone.js"),
        ('import { a-b } from "./b.js";\n', "a-b"),
    ],
)
def test_bundle_refuses_what_it_does_not_understand(tmp_path, text, word):
    write(tmp_path, a=text, b="export const one = 1;\n")
    with pytest.raises(CannotBundle, match=word):
        classic_script(tmp_path, "a")
