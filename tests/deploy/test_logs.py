"""Log lines: for people or machines, with the id of the request that caused them."""

import json
import logging

import pytest
import structlog

from shopflow import logs


def line(form, log):
    """What the formatter of this form makes of one record that `log` causes."""
    formatter = dict(logs.configuration(form=form, level="INFO")["formatters"]["lines"])
    formatter = formatter.pop("()")(**formatter)
    records = []
    logger = logging.getLogger("shopflow.tests")
    handler = logging.Handler()
    handler.emit = records.append
    logger.addHandler(handler)
    try:
        log(logger)
    finally:
        logger.removeHandler(handler)
    return formatter.format(records[0])


def test_a_line_for_people_is_key_and_value():
    assert 'level=warning logger=shopflow.tests event="low on paper"' in line(
        "plain", lambda log: log.warning("low on paper")
    )


def test_a_line_for_machines_is_one_json_object():
    said = json.loads(line("json", lambda log: log.warning("low on %s", "paper")))
    assert (said["event"], said["level"]) == ("low on paper", "warning")


def test_a_traceback_stands_below_its_line():
    def fail(log):
        try:
            raise ValueError("no such tool")
        except ValueError:
            log.exception("reading failed")

    first, *rest = line("plain", fail).splitlines()
    assert "reading failed" in first
    assert rest[-1] == "ValueError: no such tool"


def test_lines_carry_the_id_of_their_request():
    with structlog.contextvars.bound_contextvars(request="abc123"):
        assert "request=abc123" in line("plain", lambda log: log.warning("late"))


def test_an_unknown_form_of_lines_is_refused():
    with pytest.raises(ValueError, match="LOG_FORMAT"):
        logs.configuration(form="xml", level="INFO")


def test_each_answer_carries_the_id_under_which_it_was_logged(client, db):
    first, second = client.get("/"), client.get("/")
    assert first["X-Request-ID"] != second["X-Request-ID"]
