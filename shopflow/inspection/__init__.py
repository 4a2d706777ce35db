"""Characteristics, measurements, nonconformances."""
