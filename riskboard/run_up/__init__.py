"""The run-up gate: what was seen at the aircraft, and what of it stands against taking off."""

from riskboard.run_up.rule import Asked, Cause, Clearance, Finding, asked_of, check_run_up, run_up_decision
from riskboard.run_up.seen import RunUpSeen, partial_run_up, run_up_data

__all__ = [
    "Asked",
    "Cause",
    "Clearance",
    "Finding",
    "RunUpSeen",
    "asked_of",
    "check_run_up",
    "partial_run_up",
    "run_up_data",
    "run_up_decision",
]
