"""The pages of intake and plan."""
