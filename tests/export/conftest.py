"""The invented region, its survey and one ranking, made once for all tests of export."""

import export_samples as samples
import pytest


@pytest.fixture(scope="session")
def region():
    return samples.region()


@pytest.fixture(scope="session")
def survey(region):
    return samples.survey(region)


@pytest.fixture(scope="session")
def ranking(region):
    return samples.ranking(region)
