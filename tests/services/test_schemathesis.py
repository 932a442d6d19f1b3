"""schemathesis over both OpenAPI documents, all checks on: generated requests, good and bad, to a live service."""

import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from services.app import create_app
from services.settings import Settings
from tests.services.conftest import DEMO
from tests.services.feature_samples import listening

CONFIG = Path(__file__).with_name("schemathesis.toml")
pytestmark = pytest.mark.early


@pytest.fixture(scope="module")
def address(workspace, data_dir, tmp_path_factory):
    """The service on a store of its own, because the requests edit; copied, so that nothing is surveyed again."""
    folder = tmp_path_factory.mktemp("asked")
    with (
        closing(sqlite3.connect(data_dir / "fetchwater.gpkg")) as kept,
        closing(sqlite3.connect(folder / "fetchwater.gpkg")) as own,
    ):
        kept.backup(own)
    with listening(create_app(Settings(region=DEMO, data_dir=folder))) as address:
        yield address


def ask(address: str, document: str, examples: int) -> None:
    done = subprocess.run(
        [
            *(Path(sys.executable).with_name("st"), "--config-file", CONFIG, "run", f"{address}/{document}"),
            *(
                "--checks",
                "all",
                "-n",
                str(examples),
                "--seed",
                "20260131",
                "--no-color",
                "--max-failures",
                "20",
            ),
        ],
        capture_output=True,
        text=True,
        timeout=1500,
        check=False,
    )
    assert done.returncode == 0, done.stdout[-6000:]


@pytest.mark.parametrize("document", ["openapi.json", "ogc/api"])
def test_generated_requests_are_answered_as_documented(address, document):
    ask(address, document, 1)


@pytest.mark.slow
@pytest.mark.timeout(3600)
@pytest.mark.parametrize("document", ["openapi.json", "ogc/api"])
def test_many_generated_requests_are_answered_as_documented(address, document):
    ask(address, document, 150)
