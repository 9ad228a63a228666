"""The policy language: strict YAML in, one flat and proved policy out. A safety officer changes YAML, never Python.

What only an editor or a safety officer needs is imported from its own module: ``compare``, ``trials``, ``json_schema``.
"""

from riskboard.policy.dump import dump_policy
from riskboard.policy.load import PolicyError, load_policy
from riskboard.policy.model import Policy

__all__ = ["Policy", "PolicyError", "dump_policy", "load_policy"]
