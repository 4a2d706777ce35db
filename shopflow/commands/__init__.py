"""Commands that read files and compute with the core alone; no models."""
