"""The pages of intake, as their people use them."""

from dataclasses import replace

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from shopflow.jobs import actions, queries
from shopflow.jobs.models import Job, JobFile, Question
from shopflow.records import files
from shopflow.records.models import StoredFile, Work
from tests.core.planning.parts import a_hole, a_reading
from tests.jobs.objects import DUE, PDF, STEP_HEAD, a_drawing, a_job, a_material, a_read_job, an_upload

pytestmark = pytest.mark.django_db

HOSTILE = "<img src=x onerror=alert(1)>"


def page(client, user, name, *args, **query):
    client.force_login(user)
    return client.get(reverse(f"jobs:{name}", args=args), query)


def send(client, user, page_, *args, **data):
    client.force_login(user)
    return client.post(reverse(f"jobs:{page_}", args=args), data)


def typed(**changes):
    given = {
        "new_customer": "Brookside Pumps", "part_number": "BP-1140", "revision": "C", "quantity": "12",
        "due_on": DUE.isoformat(), "governing": "print",
    }  # fmt: skip
    return {**given, **changes}


def test_taking_a_job_in_leads_to_its_page(client, programmer):
    answer = send(client, programmer, "new", **typed())
    job = Job.objects.get()
    assert answer.url == job.get_absolute_url()
    assert (job.customer.name, job.quantity, job.governing) == ("Brookside Pumps", 12, "print")


def test_what_was_typed_is_still_there_when_a_field_is_wrong(client, programmer):
    answer = send(client, programmer, "new", **typed(quantity="a dozen"))
    assert answer.status_code == 422
    assert 'value="a dozen"' in answer.content.decode()
    assert 'value="BP-1140"' in answer.content.decode()
    assert not Job.objects.exists()


def test_a_new_customer_is_not_typed_beside_a_known_one(client, programmer):
    known = a_job(programmer).customer
    answer = send(client, programmer, "new", **typed(customer=known.pk))
    assert "not both" in answer.content.decode()


def test_the_order_form_shows_what_is_known_of_the_job(client, programmer):
    job = a_job(programmer, order_number="4500017", notes="Ships in trays.")
    shown = page(client, programmer, "edit", job.pk).content.decode()
    assert 'value="4500017"' in shown
    assert "Ships in trays." in shown


def test_the_list_tells_what_to_do_first_when_it_is_empty(client, programmer):
    assert "Take the first job in" in page(client, programmer, "list").content.decode()


def test_an_empty_list_offers_a_viewer_nothing_they_may_not_do(client, viewer):
    assert reverse("jobs:new") not in page(client, viewer, "list").content.decode()


@pytest.mark.parametrize("word", ["BP-1140", "brookside", "4500017", "6061"])
def test_the_list_finds_a_job_by_part_customer_order_or_material(client, programmer, word):
    job = a_job(programmer, order_number="4500017", material=a_material())
    a_job(programmer, customer="Harrow Valve", part_number="HV-9")
    shown = page(client, programmer, "list", words=word)
    assert [found.pk for found in shown.context["page"]] == [job.pk]


def test_the_list_finds_only_what_holds_every_word(client, programmer):
    a_job(programmer)
    assert not page(client, programmer, "list", words="BP-1140 harrow").context["page"].object_list


def test_the_list_for_htmx_is_the_table_alone(client, programmer):
    a_job(programmer)
    client.force_login(programmer)
    answer = client.get(reverse("jobs:list"), headers={"HX-Request": "true"})
    assert "<html" not in answer.content.decode()
    assert answer["Vary"].find("HX-Request") >= 0


def test_the_list_takes_the_same_queries_for_one_job_and_for_twenty(client, programmer, django_assert_num_queries):
    a_job(programmer)
    client.force_login(programmer)
    client.get(reverse("jobs:list"))
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    with CaptureQueriesContext(connection) as few:
        client.get(reverse("jobs:list"))
    for n in range(19):
        a_job(programmer, customer=f"Customer {n}")
    with CaptureQueriesContext(connection) as many:
        client.get(reverse("jobs:list"))
    assert len(many) == len(few)


def test_a_hostile_name_reaches_the_page_as_text(client, programmer):
    job = a_job(programmer, customer=HOSTILE, part_number=HOSTILE, revision="<b>", notes=HOSTILE)
    a_drawing(job, programmer, name=f"{HOSTILE}.pdf")
    actions.ask_question(job, by=programmer, text=HOSTILE)
    for name, args in (("intake", [job.pk]), ("list", []), ("edit", [job.pk])):
        shown = page(client, programmer, name, *args).content.decode()
        assert "<img src=x" not in shown
        assert "&lt;img src=x" in shown


def upload(client, user, job, content, kind, name="part.step"):
    client.force_login(user)
    file = SimpleUploadedFile(name, content, content_type="application/step")
    return client.post(reverse("jobs:upload", args=[job.pk]), {"kind": kind, "file": file}, follow=True)


def test_a_model_sent_shows_that_it_is_being_read(client, programmer):
    job = a_job(programmer)
    shown = upload(client, programmer, job, STEP_HEAD, "model").content.decode()
    assert f'hx-get="{reverse("jobs:model", args=[job.pk])}"' in shown
    assert "Waiting for a free worker" in shown


def test_a_refused_file_leads_back_to_the_intake_with_the_reason(client, programmer):
    answer = upload(client, programmer, a_job(programmer), PDF, "model", name="print.step")
    assert "“print.step” is a PDF" in answer.content.decode()
    assert not JobFile.objects.exists()


def test_an_empty_file_is_refused_with_the_reason(client, programmer):
    assert "is empty" in upload(client, programmer, a_job(programmer), b"", "model").content.decode()


def test_a_file_over_the_limit_is_counted_and_not_kept(client, programmer, settings):
    settings.MAX_UPLOAD_BYTES = 1024 * 1024
    job = a_job(programmer)
    answer = upload(client, programmer, job, STEP_HEAD + b" " * (3 * 1024 * 1024), "model")
    assert "larger than the 1 MB" in answer.content.decode()
    assert not StoredFile.objects.exists()


def test_a_form_without_a_file_says_so(client, programmer):
    job = a_job(programmer)
    client.force_login(programmer)
    answer = client.post(reverse("jobs:upload", args=[job.pk]), {"kind": "model"}, follow=True)
    assert "required" in answer.content.decode()


def test_a_pdf_is_shown_in_place_and_never_sniffed(client, programmer, viewer):
    kept = a_drawing(a_job(programmer), programmer)
    answer = page(client, viewer, "file", kept.job_id, kept.pk)
    assert b"".join(answer.streaming_content) == PDF
    assert answer["Content-Type"] == "application/pdf"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Content-Disposition"].startswith("inline")


def test_any_other_file_is_handed_over_as_one_to_keep(client, programmer):
    html = b"<html><script>alert(1)</script>"
    kept = actions.add_file(a_job(programmer), an_upload(html, "x.html"), by=programmer, kind=JobFile.Kind.OTHER)
    answer = page(client, programmer, "file", kept.job_id, kept.pk)
    assert answer["Content-Type"] == "application/octet-stream"
    assert answer["Content-Disposition"].startswith("attachment")
    answer.close()


def test_a_file_answers_only_under_its_own_job(client, programmer):
    kept = a_drawing(a_job(programmer), programmer)
    other = a_job(programmer)
    assert page(client, programmer, "file", other.pk, kept.pk).status_code == 404


def test_a_refusal_of_the_reader_stands_on_the_page_with_a_way_out(client, programmer):
    job = a_job(programmer)
    upload(client, programmer, job, STEP_HEAD, "model")
    Work.objects.update(state=Work.State.FAILED, error="The STEP file is cut off: <b>its last line</b> is missing.")
    shown = page(client, programmer, "model", job.pk).content.decode()
    assert "cut off: &lt;b&gt;" in shown
    assert "Try again" in shown


def test_a_question_asked_is_listed_and_answered(client, programmer):
    job = a_job(programmer)
    send(client, programmer, "questions", job.pk, text="Thread depth?", holds_job="on")
    question = Question.objects.get()
    send(client, programmer, "answer", job.pk, question.pk, answer="12 mm")
    assert not queries.open_questions(job).exists()
    assert "12 mm" in page(client, programmer, "questions", job.pk).content.decode()


def test_an_empty_question_is_not_noted(client, programmer):
    job = a_job(programmer)
    assert send(client, programmer, "questions", job.pk, text=" ").status_code == 422
    assert not Question.objects.exists()


def test_a_viewer_sees_the_intake_without_its_forms(client, programmer, viewer):
    job = a_job(programmer)
    actions.ask_question(job, by=programmer, text="Thread depth?")
    shown = page(client, viewer, "intake", job.pk)
    assert "Thread depth?" in shown.content.decode()
    assert reverse("jobs:upload", args=[job.pk]) not in shown.content.decode()
    assert reverse("jobs:edit", args=[job.pk]) not in shown.content.decode()


def test_a_job_that_is_not_there_is_not_found(client, viewer):
    assert page(client, viewer, "intake", 4711).status_code == 404


@pytest.mark.parametrize("stands_on_the_job_page", [True, False])
def test_a_form_leads_back_to_the_page_it_stood_on(client, programmer, stands_on_the_job_page):
    job = a_job(programmer)
    client.force_login(programmer)
    intake = reverse("jobs:intake", args=[job.pk])
    stood_on = job.get_absolute_url() if stands_on_the_job_page else intake
    address = reverse("jobs:material", args=[job.pk])
    answer = client.post(address, {"heat_number": ""}, headers={"Referer": f"http://testserver{stood_on}"})
    assert answer.url == stood_on


def test_a_form_never_leads_to_another_site(client, programmer):
    job = a_job(programmer)
    client.force_login(programmer)
    address = reverse("jobs:material", args=[job.pk])
    answer = client.post(address, {"heat_number": ""}, headers={"Referer": "http://elsewhere.example/x"})
    assert answer.url == reverse("jobs:intake", args=[job.pk])


def test_a_customer_gets_an_address_to_ship_to(client, programmer):
    customer = a_job(programmer).customer
    send(client, programmer, "customer", customer.pk, name=customer.name, address="1 Mill Lane")
    customer.refresh_from_db()
    assert customer.address == "1 Mill Lane"


def test_two_customers_do_not_share_a_name(client, programmer):
    customer = a_job(programmer).customer
    a_job(programmer, customer="Harrow Valve")
    answer = send(client, programmer, "customer", customer.pk, name="Harrow Valve", address="")
    assert "already" in answer.content.decode()


def reading_page(client, programmer, **changes):
    job = a_read_job(programmer, reading=a_reading(**changes))
    return job, page(client, programmer, "intake", job.pk).content.decode()


def test_a_doubtful_unit_asks_the_person_and_says_why(client, programmer):
    why = "The file says inch and the part would be 20 m long."
    job, shown = reading_page(client, programmer, unit_doubtful=True, unit_reason=why)
    assert why in shown
    assert "Yes, the size is right" in shown
    send(client, programmer, "confirm_unit", job.pk)
    shown = page(client, programmer, "intake", job.pk).content.decode()
    assert "Yes, the size is right" not in shown
    assert "size confirmed" in shown


def test_several_solids_ask_which_one_is_the_part(client, programmer):
    one = a_reading().solids[0]
    both = (one, replace(one, index=1, name=HOSTILE))
    job, shown = reading_page(client, programmer, solids=both, chosen_solid=None)
    assert "Which one is the part?" in shown
    assert "&lt;img src=x" in shown
    send(client, programmer, "choose_solid", job.pk, solid=1)
    assert Job.objects.get(pk=job.pk).solid_index == 1


def test_a_solid_that_is_no_number_is_refused(client, programmer):
    job, _ = reading_page(client, programmer)
    assert send(client, programmer, "choose_solid", job.pk, solid="first").status_code == 302
    assert Job.objects.get(pk=job.pk).solid_index is None


def test_words_from_the_model_reach_the_page_as_text(client, programmer):
    _, shown = reading_page(client, programmer, schema=HOSTILE, unit=HOSTILE, warnings=(HOSTILE,))
    assert "<img src=x" not in shown
    assert shown.count("&lt;img src=x") >= 3


def test_a_guessed_thread_is_put_as_a_question(client, programmer):
    _, shown = reading_page(client, programmer, holes=[a_hole(diameter_mm=5.0, thread_guess="M6")])
    assert "size of M6: a thread?" in shown


def test_a_withdrawn_file_says_so(client, programmer, lead):
    kept = a_drawing(a_job(programmer), programmer)
    files.withdraw(kept.stored, by=lead, reason="the customer asked for it")
    answer = page(client, programmer, "file", kept.job_id, kept.pk)
    assert answer.status_code == 410
    assert "withdrawn" in answer.content.decode()
