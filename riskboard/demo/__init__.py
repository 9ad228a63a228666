"""The invented school: people, aircraft and airfields that exist nowhere, for trying riskboard and for its tests."""

from riskboard.demo.access import DEMO_PASSPHRASE, DEMO_PIN, LOGIN_NAMES, ROLES
from riskboard.demo.school import SCHOOL_NAME, school_documents

__all__ = ["DEMO_PASSPHRASE", "DEMO_PIN", "LOGIN_NAMES", "ROLES", "SCHOOL_NAME", "school_documents"]
