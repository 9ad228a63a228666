"""Measures that were called otherwise once: how a policy that was published under the old name stays readable.

A policy is published for good, and every past decision is scored again under its own text. So a measure that gets
another name is entered here for ever. A new policy is refused with the new name; only a published one may keep the old.
"""

from collections.abc import Mapping

__all__ = ["RENAMED"]

RENAMED: Mapping[str, str] = {}
"""Old name -> the name today, of a measure that means the same: same unit, same worse direction, same values."""
