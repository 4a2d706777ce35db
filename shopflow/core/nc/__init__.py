"""Reads and writes word-address NC programs."""
