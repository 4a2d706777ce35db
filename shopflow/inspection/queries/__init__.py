"""Reads across the rows of inspection: what is measured, what is still open, what is nonconforming."""

from shopflow.inspection.queries.bench import at_bench, open_points
from shopflow.inspection.queries.gauges import gauge_in_use, gauges_in_use
from shopflow.inspection.queries.nonconforming import (
    Unplaced,
    nonconformances,
    open_in_job,
    open_nonconformances,
    told_to_the_customer,
    undecided,
    unplaced,
    unplaced_on_the_floor,
    unsettled,
    untold,
)
from shopflow.inspection.queries.sampled import Sampled, lot_size, sampled_next, sampled_of
from shopflow.inspection.queries.table import Cell, Row, cell, newest, pieces_to_measure, results, table

__all__ = [
    "Cell",
    "Row",
    "Sampled",
    "Unplaced",
    "at_bench",
    "cell",
    "gauge_in_use",
    "gauges_in_use",
    "lot_size",
    "newest",
    "nonconformances",
    "open_in_job",
    "open_nonconformances",
    "open_points",
    "pieces_to_measure",
    "results",
    "sampled_next",
    "sampled_of",
    "table",
    "told_to_the_customer",
    "undecided",
    "unplaced",
    "unplaced_on_the_floor",
    "unsettled",
    "untold",
]
