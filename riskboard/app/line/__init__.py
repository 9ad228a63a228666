"""Plain pages at the aircraft: run-up and shut-down. They stand a lost connection, and work without a script."""
