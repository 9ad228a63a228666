"""The run-up gate: what was seen at the aircraft, and what of it stands against taking off."""

from riskboard.run_up.rule import Cause, Clearance, Finding, check_run_up, run_up_decision
from riskboard.run_up.seen import RunUpSeen

__all__ = ["Cause", "Clearance", "Finding", "RunUpSeen", "check_run_up", "run_up_decision"]
