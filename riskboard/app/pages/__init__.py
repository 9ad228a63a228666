"""One file for each page; each draws, and calls one job for what a person does."""
