"""Stages, gates, release, home page and job page; the only place that moves a job on; no models."""
