"""Released packets, lots and pieces, reports from the stations."""
