"""The demo region, surveyed once for all tests of the services."""

from pathlib import Path

import pytest

from services.store import Store
from services.workspace import open_workspace

DEMO = Path(__file__).resolve().parents[2] / "demo_region"


@pytest.fixture(scope="session")
def data_dir(tmp_path_factory):
    return tmp_path_factory.mktemp("store")


@pytest.fixture(scope="session")
def workspace(data_dir):
    return open_workspace(DEMO, Store(data_dir))
