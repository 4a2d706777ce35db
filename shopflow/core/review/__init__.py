"""Turns what the other parts know into findings."""
