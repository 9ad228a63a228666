"""The invented school: people, aircraft and airfields that exist nowhere, for trying riskboard and for its tests."""

from riskboard.demo.school import DEMO_PIN, SCHOOL_NAME, school_documents

__all__ = ["DEMO_PIN", "SCHOOL_NAME", "school_documents"]
