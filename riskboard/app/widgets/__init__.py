"""Pieces of a page."""
