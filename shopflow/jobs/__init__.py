"""Customers, parts, jobs, intake and plan."""
