"""Tolerances, sampling, statistics."""
