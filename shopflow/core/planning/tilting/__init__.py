"""Clampings with the part tilted, for what none of its six sides reaches."""
