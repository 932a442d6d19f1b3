"""The public suite for OGC API - Features (PyPI ogctests), run from its own environment against a live service."""

import re
import subprocess

import pytest

from tests.needs import OGC_SUITE, needs
from tests.services.feature_samples import features_app, fill, listening


@needs("OGC suite")
@pytest.mark.parametrize("kind", ["file", pytest.param("postgis", marks=pytest.mark.slow)])
def test_all_core_tests_of_the_public_suite_pass(new_store, kind):
    store = new_store(kind)
    fill(store.engine)
    with listening(features_app(store.engine)) as address:
        done = subprocess.run(
            [OGC_SUITE, "-m", "ogctests", "features/core", "-i", f"{address}/ogc"],
            capture_output=True, text=True, timeout=240, cwd="/tmp", check=False,
        )  # fmt: skip
    found = re.search(r"(\d+) passed", done.stdout)
    assert found is not None and "failed" not in done.stdout and "error" not in done.stdout.lower(), (
        done.stdout[-3000:]
    )
    assert int(found[1]) == 29, done.stdout[-500:]
