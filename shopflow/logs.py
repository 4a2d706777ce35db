"""Log lines, each with the id of its request or task: key=value for people, JSON for machines (LOG_FORMAT=json)."""

import uuid
from collections.abc import Callable, MutableMapping
from typing import Any

import structlog
from django.http import HttpRequest, HttpResponse

SHARED: list[Any] = [
    structlog.contextvars.merge_contextvars,
    structlog.stdlib.add_log_level,
    structlog.stdlib.add_logger_name,
    structlog.processors.TimeStamper(fmt="iso", utc=True),
]
TALKATIVE = ["celery.app.trace", "fontTools", "weasyprint.progress"]
"""Packages that tell each of their steps; their warnings stay."""
ORDER = ["timestamp", "level", "logger", "event", "request", "task"]


LOGFMT = structlog.processors.LogfmtRenderer(key_order=ORDER, drop_missing=True, bool_as_flag=False)


def line_for_people(logger: Any, method: str, event: MutableMapping[str, Any]) -> str:
    """One line of key=value, and a traceback below it as Python prints it, not folded into a value."""
    traceback = event.pop("exception", "")
    line = LOGFMT(logger, method, event)
    return f"{line}\n{traceback}" if traceback else line


def configuration(*, form: str, level: str) -> dict[str, Any]:
    """The LOGGING setting; lines of structlog and of the standard library come out alike."""
    if form not in ("plain", "json"):
        raise ValueError(f"LOG_FORMAT is {form!r}; it must be plain or json")
    structlog.configure(
        processors=[*SHARED, structlog.stdlib.ProcessorFormatter.wrap_for_formatter],
        logger_factory=structlog.stdlib.LoggerFactory(),
        wrapper_class=structlog.stdlib.BoundLogger,
    )
    formatter = {
        "()": structlog.stdlib.ProcessorFormatter,
        "processors": [
            structlog.stdlib.ProcessorFormatter.remove_processors_meta,
            structlog.processors.format_exc_info,
            structlog.processors.JSONRenderer() if form == "json" else line_for_people,
        ],
        "foreign_pre_chain": [*SHARED, structlog.stdlib.ExtraAdder(allow=["status_code"])],
    }
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "formatters": {"lines": formatter},
        "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "lines"}},
        "root": {"handlers": ["console"], "level": level},
        "loggers": {name: {"level": "WARNING"} for name in TALKATIVE},
    }


def request_id(get_response: Callable[[HttpRequest], HttpResponse]) -> Callable[[HttpRequest], HttpResponse]:
    """Middleware: everything logged while a request is answered carries its id, which the answer carries as well."""

    def middleware(request: HttpRequest) -> HttpResponse:
        identity = uuid.uuid4().hex[:12]
        with structlog.contextvars.bound_contextvars(request=identity):
            response = get_response(request)
        response["X-Request-ID"] = identity
        return response

    return middleware
