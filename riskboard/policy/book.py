"""Which policy applies to a flight: the one in force at the moment of decision, the stricter one for student solo."""

from dataclasses import dataclass
from datetime import datetime

from riskboard.policy.model import Policy

__all__ = ["DEFAULT_ID", "STUDENT_SOLO_ID", "NoPolicyError", "PolicyBook"]

DEFAULT_ID = "rotor-school-vfr"
STUDENT_SOLO_ID = "student-solo"


class NoPolicyError(LookupError):
    """No policy was in force; the message says which and when."""


@dataclass(frozen=True)
class PolicyBook:
    """All published policies of a school."""

    policies: tuple[Policy, ...]

    def in_force(self, policy_id: str, at: datetime) -> Policy:
        """The newest version of a policy whose effective time has come at ``at``.

        Raises:
            NoPolicyError: No version was in force then.
        """
        effective = [p for p in self.policies if p.id == policy_id and p.effective_from <= at]
        if not effective:
            raise NoPolicyError(f"no version of policy {policy_id!r} was in force at {at:%Y-%m-%d %H:%MZ}; publish one")
        return max(effective, key=lambda policy: (policy.effective_from, policy.version))

    def for_flight(self, *, student_solo: bool | None, at: datetime) -> Policy:
        """The policy for a flight. Not knowing whether it is a student solo means the stricter one."""
        return self.in_force(DEFAULT_ID if student_solo is False else STUDENT_SOLO_ID, at)
