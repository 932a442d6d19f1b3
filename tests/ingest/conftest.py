import pytest

from geo.ingest.layers import Desk
from geo.ingest.process import Limits, Worker
from geo.ingest.report import Report


@pytest.fixture(scope="session")
def worker():
    with Worker(Limits(file_s=30.0, repair_s=2.0)) as one:
        yield one


@pytest.fixture
def desk(tmp_path, worker):
    return Desk(tmp_path, worker, Report(), lambda _: None)
