"""One small search, shared by the tests that look at its front."""

from __future__ import annotations

import pytest

from engine.formats.scenario import demo_scenarios, read_scenario
from engine.scenario import Scenario
from engine.search.runs import Run, run


@pytest.fixture(scope="session", params=sorted(demo_scenarios()))
def scenario(request: pytest.FixtureRequest) -> Scenario:
    return read_scenario(demo_scenarios()[request.param])


@pytest.fixture(scope="session")
def searched(scenario: Scenario) -> Run:
    return run(scenario, seed=3, evaluations=24_576)
