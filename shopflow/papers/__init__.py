"""PDF documents, made from what the other apps know; no models."""
