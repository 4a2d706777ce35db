"""What was measured, against its limits: the first-article report and the inspection report of a lot."""

from __future__ import annotations

from typing import Any

from django.db.models import Max, Min
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from shopflow.floor.models import Lot, Paper
from shopflow.inspection import queries as inspection
from shopflow.inspection.models import Measurement, Nonconformance
from shopflow.inspection.queries import Cell, Row
from shopflow.papers.common import job_facts
from shopflow.papers.samples import groups

PIECES_A_ROW = 10
MOST_DIGITS = 9
"""What a column takes at the usual size of type; rows with longer values are set smaller."""
VALUES_A_PART = 2_000
"""An inspection report is set in parts of about so many values, so that progress shows and memory stays small."""

Facts = dict[str, Any]


def _lot_of(paper: Paper) -> Lot:
    if paper.lot is None:
        raise ValueError(f"{paper} is about no lot")
    return paper.lot


def _lot_facts(paper: Paper) -> Facts:
    lot = _lot_of(paper)
    return {**job_facts(paper.job), "lot": lot.number, "heat": lot.heat_number, "lot_pieces": lot.released + lot.added}


def first_article(paper: Paper) -> Facts:
    """One line a characteristic of the job, over all its inspection steps, for the piece that was chosen."""
    piece = paper.chosen.get("piece", 1)
    lot = _lot_of(paper)
    rows = [_first_article_row(row.cells[0], row) for row in inspection.results(lot, pieces=[piece])]
    found = [_nonconformance(one) for one in inspection.nonconformances(lot) if one.piece == piece]
    return {
        **_lot_facts(paper),
        "piece": piece,
        **({"nonconformances": found} if found else {}),
        "rows": rows,
        "open": sum(row["accept"] is None for row in rows),
        "out": sum(row["accept"] is False for row in rows),
        "by": sorted({row["by"] for row in rows if row["by"]}),
    }


def _first_article_row(cell: Cell, row: Row) -> Facts:
    measurement = cell.measurement
    return {
        **_characteristic(row),
        "measured": measurement.text if measurement else "",
        "gauge": _gauge(measurement) if measurement else "",
        "accept": cell.is_good,
        "by": (measurement.measured_by.get_full_name() or measurement.measured_by.get_username())
        if measurement
        else "",
    }


def _characteristic(row: Row) -> Facts:
    found = row.characteristic
    return {
        "number": found.number,
        "name": found.name,
        "requirement": found.nominal.text if found.nominal else "",
        "note": found.note,
        "limits": str(row.limits),
    }


def _gauge(measurement: Measurement) -> str:
    return measurement.gauge.number if measurement.gauge else ""


def inspection_report(paper: Paper) -> Facts:
    """Every value of a lot: for each characteristic its limits, its gauges and one value a piece."""
    rows = inspection.results(_lot_of(paper))
    pieces = [cell.piece for cell in rows[0].cells] if rows else []
    lines = [_report_row(row) for row in rows]
    found = inspection.nonconformances(_lot_of(paper))
    sampled = groups((row.characteristic, row.sampled) for row in rows)
    return {
        **_lot_facts(paper),
        "pieces": pieces,
        "rows": lines,
        **({"samples": sampled} if sampled else {}),
        "measured": sum(line["measured"] for line in lines),
        "out": sum(line["out"] for line in lines),
        "nonconformances": [_nonconformance(one) for one in found],
    }


def _nonconformance(found: Nonconformance) -> Facts:
    """With the newest disposition; empty words while there is none."""
    decided = next(iter(found.dispositions.all()), None)
    return {
        "piece": found.piece,
        "text": found.text,
        "verdict": decided.verdict if decided else "",
        "reason": decided.reason if decided else "",
    }


def made_by(paper: Paper) -> Facts:
    """By which traveler the piece of a first article was made, and when it was measured: no digest holds it."""
    lot, piece = _lot_of(paper), paper.chosen.get("piece", 1)
    days = lot.measurements.filter(piece=piece).aggregate(first=Min("measured_at"), last=Max("measured_at"))
    return {"packet": paper.job.packets.first(), "measured_from": days["first"], "measured_to": days["last"]}


def _report_row(row: Row) -> Facts:
    values = [cell.measurement.value for cell in row.cells if cell.measurement and cell.measurement.value]
    return {
        **_characteristic(row),
        "gauges": sorted({_gauge(cell.measurement) for cell in row.cells if cell.measurement} - {""}),
        "values": [_value(cell) for cell in row.cells],
        "measured": sum(cell.measurement is not None for cell in row.cells),
        "out": sum(cell.is_good is False for cell in row.cells),
        "least": min(values, key=lambda value: value.in_unit(row.limits.unit)).text if values else "",
        "most": max(values, key=lambda value: value.in_unit(row.limits.unit)).text if values else "",
    }


def _value(cell: Cell) -> list[Any]:
    """Number as typed without its unit where that is the drawing's own, and whether it is within the limits."""
    if cell.measurement is None:
        return ["", None]
    if cell.measurement.value is None:
        return [cell.measurement.text, cell.is_good]
    text = cell.measurement.value.text
    unit = cell.measurement.value.unit
    shown = text.removesuffix(unit).strip() if unit == cell.limits.unit else text
    return [shown, cell.is_good]


def blocks(facts: Facts) -> list[Facts]:
    """The values ten pieces a row: for each ten pieces their numbers, and a line for each characteristic measured."""
    return [_block(facts, start) for start in range(0, len(facts["pieces"]), PIECES_A_ROW)]


def _block(facts: Facts, start: int) -> Facts:
    columns = slice(start, start + PIECES_A_ROW)
    measured = [(row, row["values"][columns]) for row in facts["rows"]]
    rows = [(row, values) for row, values in measured if any(text for text, _good in values)]
    width = max([MOST_DIGITS, *(len(_marked(*value)) for _row, values in rows for value in values)]) + 1
    return {
        "pieces": facts["pieces"][columns],
        "head": "".join(f"{piece:>{width}}" for piece in facts["pieces"][columns]),
        "rows": [{"row": row, "values": _set_out(values, width)} for row, values in rows],
        "is_wide": width > MOST_DIGITS + 1,
    }


def _marked(text: str, good: bool | None) -> str:
    return f"!{text}" if good is False else text


def _set_out(values: list[list[Any]], width: int) -> SafeString:
    """Ten values as one run of fixed-width text: a table cell for each takes the library four times as long."""
    return format_html_join(
        "",
        "{}{}",
        (
            (" " * (width - len(said)), format_html("<b>{}</b>", said) if good is False else said)
            for said, good in ((_marked(text, good), good) for text, good in values)
        ),
    )


def parts(facts: Facts) -> list[list[Facts]]:
    """The blocks, some at a time, so that each part holds about VALUES_A_PART values."""
    found = blocks(facts)
    a_part = max(1, VALUES_A_PART // (PIECES_A_ROW * max(1, len(facts["rows"]))))
    return [found[start : start + a_part] for start in range(0, len(found), a_part)]
