"""Reads across the rows of a job: what was ordered, what its model says, how it is to be made."""

from shopflow.jobs.queries.intake import (
    JobFilter,
    current_file,
    files_of,
    job_for,
    jobs_for,
    open_questions,
    questions_of,
)
from shopflow.jobs.queries.model import keep_mesh, mesh_of, part_mass_kg, reading_of, reading_work, why_not_read

__all__ = [
    "JobFilter",
    "current_file",
    "files_of",
    "job_for",
    "jobs_for",
    "keep_mesh",
    "mesh_of",
    "open_questions",
    "part_mass_kg",
    "questions_of",
    "reading_of",
    "reading_work",
    "why_not_read",
]
