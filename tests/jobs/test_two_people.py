"""Two people at the same line of a plan or of an order: nothing typed is lost, nothing is overwritten unseen."""

from dataclasses import replace

import pytest
from django.urls import reverse

from shopflow.jobs import actions
from shopflow.jobs.actions import CharacteristicLine
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
    assert "Ada Ahead saved this while you had it open" in page.text
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


@pytest.fixture
def listed(job, lead):
    """Two characteristics of a job."""
    rows = [CharacteristicLine(name="width", number=1), CharacteristicLine(name="bore", number=2)]
    return actions.save_characteristics(job, rows, by=lead)


def sent_list(page):
    """The whole list as a browser sends it."""
    formset = page.context["lines"]
    data = {f"form-{name}": value for name, value in formset.management_form.initial.items()}
    for form in formset:
        data |= as_sent(form)
    return data


def test_a_characteristic_saved_meanwhile_is_shown_beside_what_was_typed(client, lead, ada, job, listed):
    client.force_login(lead)
    address = reverse("jobs:characteristics", args=[job.pk])
    typed = {**sent_list(client.get(address)), "form-0-name": "width of the slot"}
    other = CharacteristicLine(pk=listed[0].pk, name="width over all", number=1)
    actions.save_characteristics(job, [other], by=ada)
    page = client.post(address, typed)
    assert page.status_code == 422
    assert "Ada Ahead saved some of these lines" in page.text
    assert "width over all" in page.text
    assert 'value="width of the slot"' in page.text
    assert job.characteristics.get(number=1).name == "width over all"


def test_a_line_that_somebody_else_added_disturbs_nobody(client, lead, ada, job, listed):
    client.force_login(lead)
    address = reverse("jobs:characteristics", args=[job.pk])
    typed = {**sent_list(client.get(address)), "form-1-name": "bore, upper"}
    actions.save_characteristics(job, [CharacteristicLine(name="height")], by=ada)
    assert client.post(address, typed).status_code == 302
    assert [row.name for row in job.characteristics.all()] == ["width", "bore, upper", "height"]


def test_a_line_that_somebody_else_took_out_is_not_lost_unseen(client, lead, ada, job, listed):
    client.force_login(lead)
    address = reverse("jobs:characteristics", args=[job.pk])
    typed = sent_list(client.get(address))
    gone = CharacteristicLine(pk=listed[0].pk, name="width", number=1, remove=True)
    actions.save_characteristics(job, [gone], by=ada)
    assert client.post(address, {**typed, "form-0-note": "check twice"}).status_code == 422


def test_a_list_of_two_hundred_characteristics_is_saved_as_one_form(client, lead, job):
    rows = [CharacteristicLine(name=f"hole {n}", number=n, note="as drawn") for n in range(1, 201)]
    actions.save_characteristics(job, rows, by=lead)
    client.force_login(lead)
    address = reverse("jobs:characteristics", args=[job.pk])
    typed = {**sent_list(client.get(address)), "form-150-note": "twice"}
    assert client.post(address, typed).status_code == 302
    assert job.characteristics.get(number=151).note == "twice"
