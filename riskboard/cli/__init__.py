"""The command line: thin verbs over ``riskboard.jobs``. Nothing heavy is imported before a command needs it."""

from riskboard.cli.main import main

__all__ = ["main"]
