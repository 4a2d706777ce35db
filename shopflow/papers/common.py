"""What every paper says: shop, job, noted end of the job's chain, the code that opens what the paper is about."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.urls import reverse
from django.utils import timezone

from shopflow.jobs.models import Job
from shopflow.papers.codes import qr_svg
from shopflow.people import queries as people
from shopflow.people.models import ShopSettings
from shopflow.records import ledger
from shopflow.records.models import ChainHead

PAGE_SIZES = {ShopSettings.PaperSize.A4: "A4", ShopSettings.PaperSize.LETTER: "letter"}


def page_size() -> str:
    """The size of the shop's paper as CSS names it."""
    return PAGE_SIZES[ShopSettings.PaperSize(people.shop_settings().paper_size)]


def address(name: str, *args: int) -> str:
    """An address of the shop as a code carries it."""
    return f"{settings.SITE_URL}{reverse(name, args=args)}"


def frame(job: Job, code_of: str) -> dict[str, Any]:
    """What stands around the contents of a paper. code_of: the address that its code opens."""
    return {
        "shop": people.shop_settings(),
        "job": job,
        "code": qr_svg(code_of),
        "head": head_line(ledger.head(job.chain)),
        "printed_at": timezone.now(),
        "site": settings.SITE_URL,
    }


def head_line(head: ChainHead) -> str:
    """The end of the job's chain, in the form that `verify_records --against` reads back."""
    return f"{head.chain} {head.seq} {head.hash}"


def job_facts(job: Job) -> dict[str, Any]:
    """Facts of the order that papers for the customer state, as plain values."""
    shop = people.shop_settings()
    return {
        "shop": shop.name,
        "shop_address": shop.address,
        "job": job.number,
        "customer": job.customer.name,
        "ship_to": job.customer.address,
        "order": job.order_number,
        "order_line": job.order_line,
        "part": job.part.number,
        "part_name": job.part.name,
        "revision": job.revision.revision,
        "governing": job.governing,
        "ordered": job.quantity,
        "material": job.material.name if job.material else job.material_note,
        "material_note": job.material_note if job.material else "",
    }
