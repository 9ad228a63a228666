"""From facts to a reasoned decision: one engine, and readers that explain what it found without computing anew."""
