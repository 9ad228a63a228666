"""How much the property tests try: a fixed small set always, a long random search on request."""

import os

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
