"""riskboard: a preflight go/no-go worksheet for a helicopter school.

Decision support only. A ``go`` means "no listed reason to stop", never "safe": the pilot in command decides,
the flight manual and local regulations prevail, and licensed maintenance staff judge airworthiness.
"""

__version__ = "0.1.0.dev0"
