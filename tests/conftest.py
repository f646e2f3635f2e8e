"""In CI nothing may be missing: a test that would skip there, for want of a browser or the glTF validator, fails."""

import os

import pytest
from hypothesis import settings


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item, call):
    """Turn a skip into a failure where the variable RIGKIT_CI is set."""
    report = yield
    if report.skipped and os.environ.get("RIGKIT_CI"):
        report.outcome = "failed"
        report.longrepr = f"{item.nodeid} was skipped, and CI must run it: {report.longrepr}"
    return report


settings.register_profile("normal", max_examples=25, deadline=None)
settings.register_profile("slow", max_examples=10_000, deadline=None)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "normal"))
