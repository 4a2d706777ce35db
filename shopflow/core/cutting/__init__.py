"""Speeds, feeds, forces and the time a machine takes."""
