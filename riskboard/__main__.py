"""``python -m riskboard`` is the ``riskboard`` command."""

import sys

from riskboard.cli import main

sys.exit(main())
