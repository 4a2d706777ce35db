"""The pages of program review."""
