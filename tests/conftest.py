"""How much the property tests try: a fixed small set always, a long random search on request."""

import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

from tests.house.never_skip import pytest_runtest_makereport

__all__ = ["pytest_runtest_makereport"]  # a hook: pytest finds it here by its name

settings.register_profile(
    "ci",
    max_examples=50,
    derandomize=True,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
settings.register_profile(
    "long",
    max_examples=20_000,
    deadline=None,
    print_blob=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
settings.load_profile("long" if os.environ.get("RISKBOARD_HYPOTHESIS") == "long" else "ci")

_BROWSER = Path(__file__).parent / "browser"


@pytest.hookimpl(tryfirst=True)  # before the workers read the groups
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Where tests run side by side, a file stays together, and all that drive a browser stay with one worker.

    Two browsers at once on two cores wait for each other until something times out.
    """
    if not config.pluginmanager.hasplugin("xdist") and not hasattr(config, "workerinput"):
        return
    for item in items:
        group = "browser" if item.path.is_relative_to(_BROWSER) else str(item.path)
        item.add_marker(pytest.mark.xdist_group(group))
