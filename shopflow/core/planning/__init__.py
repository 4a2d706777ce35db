"""Proposes blank, setups, operations and tools."""
