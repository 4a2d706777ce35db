"""Edits of a program that a reviewer takes or leaves: proposed from findings, or typed by a person."""

from shopflow.programs.editing.edit import KINDS, Edit, apply, carry_out
from shopflow.programs.editing.effects import described
from shopflow.programs.editing.proposals import Given, proposals

__all__ = ["KINDS", "Edit", "Given", "apply", "carry_out", "described", "proposals"]
