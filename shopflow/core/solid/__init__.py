"""Reads STEP models: units, solids, sizes, features, mesh."""
