"""`Job.stage` is assigned in workflow.actions and nowhere else (style page, criticism b)."""

import ast
from pathlib import Path

CODE = Path(__file__).resolve().parents[2] / "shopflow"
ALLOWED = {CODE / "workflow" / "actions.py"}


def assigns_stage(node):
    if isinstance(node, ast.Assign):
        return any(isinstance(target, ast.Attribute) and target.attr == "stage" for target in node.targets)
    if isinstance(node, ast.Call):
        name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        writes = name in {"update", "create", "get_or_create", "update_or_create", "bulk_create", "Job"}
        return writes and any(keyword.arg == "stage" for keyword in node.keywords)
    return False


def test_nothing_but_workflow_assigns_the_stage_of_a_job():
    found = [
        f"{path.relative_to(CODE)}:{node.lineno}"
        for path in CODE.rglob("*.py")
        if path not in ALLOWED and "migrations" not in path.parts
        for node in ast.walk(ast.parse(path.read_text()))
        if assigns_stage(node)
    ]
    assert found == []
