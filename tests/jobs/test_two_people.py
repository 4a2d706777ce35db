"""Two people at the same line of a plan or of an order: nothing typed is lost, nothing is overwritten unseen."""

from dataclasses import replace

import pytest
from django.urls import reverse

from shopflow.jobs import actions
from shopflow.jobs.forms.intake import OrderForm
from tests.jobs.objects import a_job
from tests.people_fixtures import make_person
from tests.sending import as_sent


@pytest.fixture
def ada(db):
    return make_person("ada_ahead", "lead")


@pytest.fixture
def job(lead):
    return a_job(lead)


def overtaken(client, address, name, typed, other):
    """What the page says to somebody who typed while somebody else saved."""
    shown = as_sent(client.get(address).context["form"])
    other()
    page = client.post(address, {**shown, name: typed})
    assert page.status_code == 422
    assert "saved this while you had it open" in page.text
    assert typed in page.text
    return page


def test_a_setup_saved_meanwhile_is_shown_beside_what_was_typed(client, lead, ada, job):
    setup = actions.add_setup(job, by=lead)
    client.force_login(lead)
    page = overtaken(
        client, reverse("jobs:setup", args=[setup.pk]), "workholding", "soft jaws",
        lambda: actions.change_setup(setup, by=ada, workholding="clamps on a plate"),
    )  # fmt: skip
    assert "clamps on a plate" in page.text
    setup.refresh_from_db()
    assert setup.workholding == "clamps on a plate"


def test_a_setup_sent_again_is_saved(client, lead, ada, job):
    setup = actions.add_setup(job, by=lead)
    client.force_login(lead)
    address = reverse("jobs:setup", args=[setup.pk])
    page = overtaken(
        client, address, "workholding", "soft jaws",
        lambda: actions.change_setup(setup, by=ada, workholding="clamps", title="side A"),
    )  # fmt: skip
    assert client.post(address, as_sent(page.context["form"])).status_code == 302
    setup.refresh_from_db()
    assert (setup.workholding, setup.title) == ("soft jaws", "side A")


def test_a_step_saved_meanwhile_is_shown_beside_what_was_typed(client, lead, ada, job):
    step = actions.add_step(job, by=lead, kind="deburr", title="deburr")
    client.force_login(lead)
    page = overtaken(
        client, reverse("jobs:step", args=[step.pk]), "instructions", "by hand",
        lambda: actions.change_step(step, by=ada, instructions="in the tumbler"),
    )  # fmt: skip
    assert "in the tumbler" in page.text
    step.refresh_from_db()
    assert step.instructions == "in the tumbler"


def test_an_order_saved_meanwhile_is_shown_beside_what_was_typed(client, lead, ada, job):
    client.force_login(lead)
    address = reverse("jobs:edit", args=[job.pk])
    form = client.get(address).context["form"]
    unchanged = OrderForm(as_sent(form), initial=OrderForm.typed(job))
    assert unchanged.is_valid(), unchanged.errors
    overtaken(
        client, address, "notes", "call first",
        lambda: actions.change_order(job, replace(unchanged.order(), notes="leave at the gate"), by=ada),
    )  # fmt: skip
    job.refresh_from_db()
    assert job.notes == "leave at the gate"


def test_a_customer_saved_meanwhile_is_shown_beside_what_was_typed(client, lead, ada, job):
    client.force_login(lead)
    customer = job.customer
    overtaken(
        client, reverse("jobs:customer", args=[customer.pk]), "address", "12 Side Street",
        lambda: actions.change_customer(customer, by=ada, name=customer.name, address="1 Main Street"),
    )  # fmt: skip
    customer.refresh_from_db()
    assert customer.address == "1 Main Street"
