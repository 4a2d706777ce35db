"""Recognises features in a model's graph of faces and edges: plain values in and out, no geometry library."""
