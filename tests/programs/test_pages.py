import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from shopflow.programs import actions, queries, trials
from shopflow.programs.editing import Edit
from shopflow.programs.models import Decision, ProgramRevision, SignOff
from shopflow.records import work
from shopflow.records.models import Work
from tests.people_fixtures import PASSWORD
from tests.programs.objects import GOOD, a_planned_job, a_program, accept, again, sign, upload

HTMX = {"HTTP_HX_REQUEST": "true"}


@pytest.fixture
def at_desk(client, owner):
    client.force_login(owner)
    return client


@pytest.fixture
def deep(job, owner):
    return upload(job, a_program(depth=20), by=owner)


def address(name, *arguments):
    return reverse(f"programs:{name}", args=arguments)


def text_of(answer):
    return answer.content.decode()


def send(client, job, content=GOOD, name="1001.nc", **more):
    setups = [setup.pk for setup in job.setups.all()]
    data = {"file": SimpleUploadedFile(name, content), "name": "", "note": "", "setups": setups, **more}
    return client.post(address("upload", job.pk), data)


def test_an_upload_leads_to_its_review(at_desk, job):
    answer = send(at_desk, job)
    assert answer.url == ProgramRevision.objects.get().get_absolute_url()


def test_a_program_without_a_typed_name_gets_the_name_of_its_file(at_desk, job):
    send(at_desk, job, name="4711-OP20.nc")
    assert ProgramRevision.objects.get().program.name == "4711-OP20"


@pytest.mark.parametrize(
    ("content", "says"), [(b"", "0 bytes"), (b"\x00\x01\x02" * 50, "binary"), (b"%PDF-1.4", "PDF document")]
)
def test_a_file_that_is_no_program_is_refused_on_the_form(at_desk, job, content, says):
    answer = send(at_desk, job, content, note="from the second post")
    assert answer.status_code == 422
    assert says in text_of(answer)


def test_what_was_typed_stays_when_an_upload_is_refused(at_desk, job):
    assert "from the second post" in text_of(send(at_desk, job, b"", note="from the second post"))


def test_a_file_over_the_limit_is_refused_on_the_form(at_desk, job, settings):
    settings.MAX_UPLOAD_BYTES = 10
    assert "Split it" in text_of(send(at_desk, job))


def test_an_upload_without_a_file_is_refused_on_the_form(at_desk, job):
    assert "Choose the file" in text_of(send(at_desk, job, file=""))


def test_the_form_of_a_new_revision_keeps_the_program(at_desk, deep, job):
    data = {"file": SimpleUploadedFile("x.nc", GOOD), "setups": [job.setups.get().pk], "note": ""}
    at_desk.post(address("upload", job.pk) + f"?program={deep.program_id}", data)
    assert queries.newest(deep.program).number == 2


def marked_setups(page):
    bound = page.context["form"]["setups"]
    return [str(pk) for pk in bound.value()]


def test_the_only_setup_of_a_job_is_marked_for_its_program(at_desk, job):
    assert marked_setups(at_desk.get(address("upload", job.pk))) == [str(job.setups.get().pk)]


def test_a_new_revision_runs_the_setups_of_the_one_before(at_desk, owner):
    job = a_planned_job(owner, setups=3)
    second = job.setups.get(number=2)
    program = upload(job, by=owner, setups=[second], reviewed=False).program
    page = at_desk.get(address("upload", job.pk), {"program": program.pk})
    assert marked_setups(page) == [str(second.pk)]


def test_the_setup_that_lacks_a_program_is_marked_where_the_link_names_it(at_desk, owner):
    job = a_planned_job(owner, setups=2)
    page = at_desk.get(address("upload", job.pk), {"setup": job.setups.get(number=2).pk})
    assert marked_setups(page) == [str(job.setups.get(number=2).pk)]


@pytest.mark.parametrize("line", ["", "7", "999999", "-3", "x", "9" * 40])
def test_the_review_page_opens_at_any_line(at_desk, deep, line):
    assert at_desk.get(deep.get_absolute_url(), {"line": line}).status_code == 200


def test_the_review_page_says_where_each_tool_may_start_again_and_what_to_set_first(at_desk, deep):
    page = at_desk.get(f"/programs/{deep.pk}/").content.decode()
    place = page[page.index('id="restarts-title"') :]
    assert "T2, line" in place
    assert "units <span" in place


def test_the_review_page_shows_each_finding_once(at_desk, deep):
    (finding,) = queries.findings(deep)
    assert text_of(at_desk.get(deep.get_absolute_url())).count(f'id="finding-{finding.pk}"') == 1


def test_the_review_page_of_a_waiting_review_asks_again(at_desk, job, owner):
    waiting = upload(job, by=owner, reviewed=False)
    assert address("work", waiting.pk) in text_of(at_desk.get(waiting.get_absolute_url()))


def test_the_progress_of_a_finished_review_loads_the_page_anew(at_desk, deep):
    assert at_desk.get(address("work", deep.pk), **HTMX)["HX-Refresh"] == "true"


def test_a_clean_review_does_not_say_that_the_program_is_safe(at_desk, job, owner):
    page = text_of(at_desk.get(upload(job, by=owner).get_absolute_url()))
    assert "does not say that a program is safe" in page


def test_a_text_of_a_program_is_escaped(at_desk, job, owner):
    revision = upload(job, GOOD.replace(b"PLATE OP 10", b"<script>alert(1)</script>"), by=owner)
    assert "<script>alert" not in text_of(at_desk.get(revision.get_absolute_url()))


def test_a_window_of_a_long_program_holds_300_lines(at_desk, job, owner):
    long = upload(job, GOOD.replace(b"X40. F600.\n", b"X40. F600.\n" + b"X39.\nX40.\n" * 1000), by=owner)
    answer = at_desk.get(address("lines", long.pk), {"line": 1000}, **HTMX)
    assert text_of(answer).count('class="program-line') == 300


def test_lines_without_htmx_are_the_whole_page(at_desk, deep):
    assert "<html" in text_of(at_desk.get(address("lines", deep.pk)))


def test_findings_are_filtered_by_weight(at_desk, deep):
    assert "No finding fits" in text_of(at_desk.get(address("findings", deep.pk), {"weight": "must-fix"}, **HTMX))


def decide(client, revision, **more):
    short = [finding.pk for finding in queries.findings(revision)]
    data = {"finding": short, "verdict": "accept", "reason": "soft stock", **more}
    return client.post(address("decide", revision.pk), data, **HTMX)


def test_marked_findings_are_decided_with_one_reason(at_desk, deep):
    decide(at_desk, deep)
    assert Decision.objects.get().reason == "soft stock"


def test_a_decision_without_a_reason_is_refused_and_the_mark_stays(at_desk, deep):
    answer = decide(at_desk, deep, reason="")
    assert answer.status_code == 422
    assert "checked" in text_of(answer)


def test_reasons_given_before_are_offered(at_desk, deep, owner):
    accept(deep, by=owner, reason="pecks chatter here")
    newer = again(deep, a_program(depth=21), by=owner)
    assert "pecks chatter here" in text_of(at_desk.get(newer.get_absolute_url()))


def test_a_machinist_sees_no_way_to_decide(client, deep, machinist):
    client.force_login(machinist)
    assert 'name="finding"' not in text_of(client.get(deep.get_absolute_url()))


def test_a_sign_off_by_page(at_desk, job, owner):
    revision = upload(job, by=owner)
    said = {"printed_name": "The Owner", "meaning": "released", "password": PASSWORD}
    at_desk.post(address("sign_off", revision.pk), said)
    assert SignOff.objects.get().printed_name == "The Owner"


def test_a_wrong_password_stays_on_the_form_without_the_password(at_desk, job, owner):
    revision = upload(job, by=owner)
    said = {"printed_name": "The Owner", "meaning": "released", "password": "wrong horse"}
    answer = at_desk.post(address("sign_off", revision.pk), said, **HTMX)
    assert "neither your password" in text_of(answer)
    assert "wrong horse" not in text_of(answer)


def test_the_file_comes_back_byte_for_byte(at_desk, deep):
    assert b"".join(at_desk.get(address("file", deep.pk)).streaming_content) == a_program(depth=20)


def test_the_tool_path_is_drawn_again_where_the_cache_lost_it(at_desk, deep, settings, tmp_path):
    before = at_desk.get(address("path", deep.pk, 1)).content
    settings.CACHE_DIR = tmp_path
    assert at_desk.get(address("path", deep.pk, 1)).content == before


def test_an_offset_that_is_not_used_has_no_picture(at_desk, deep):
    assert at_desk.get(address("path", deep.pk, 5)).status_code == 404


def test_a_job_without_setups_says_what_to_do_first(at_desk, owner):
    empty = a_planned_job(owner, setups=0, part_number="bare")
    assert "Plan the setups first" in text_of(at_desk.get(address("upload", empty.pk)))
    assert "Plan the setups first" in text_of(at_desk.get(address("list", empty.pk)))


def test_a_setup_without_a_program_is_listed(at_desk, job):
    assert "Send its program" in text_of(at_desk.get(address("list", job.pk)))


def test_the_list_of_programs_opens_while_a_review_is_still_to_come(at_desk, job, owner):
    upload(job, by=owner, reviewed=False)
    assert at_desk.get(address("list", job.pk)).status_code == 200
    assert at_desk.get(job.get_absolute_url()).status_code == 200


def test_the_list_of_programs_says_who_signed(at_desk, job, owner):
    sign(upload(job, by=owner), by=owner, password=PASSWORD)
    assert "signed off" in text_of(at_desk.get(address("list", job.pk)))


def test_the_difference_to_another_revision_is_shown_once_compared(at_desk, deep, owner):
    from shopflow.programs import actions
    from shopflow.records import work

    newer = again(deep, a_program(depth=12), by=owner)
    at_desk.get(address("difference", newer.pk, deep.pk), **HTMX)
    work.run(actions.ask_comparison(deep, newer).pk, actions.compare_programs)
    page = text_of(at_desk.get(address("difference", newer.pk, deep.pk), **HTMX))
    assert "Z-20" in page and "Z-12" in page


def test_withdrawn_bytes_are_said_on_the_page_and_nothing_breaks(at_desk, deep, owner, settings, tmp_path):
    from shopflow.records import files

    files.withdraw(deep.stored, by=owner, reason="sent by mistake")
    settings.CACHE_DIR = tmp_path
    assert "sent by mistake" in text_of(at_desk.get(deep.get_absolute_url()))
    assert at_desk.get(address("path", deep.pk, 1)).status_code == 410
    assert at_desk.get(address("file", deep.pk)).status_code == 410


def marked(client, revision, act, **more):
    ids = [edit["id"] for edit in queries.Reviewed(revision).edits]
    return client.post(address("edits", revision.pk), {"edit": ids, "act": act, **more})


@pytest.fixture
def plunged(job, owner):
    return upload(job, a_program(depth=20).replace(b"G1 Z-20 F120.", b"G81 Z-20. R2. F120.\nG80"), by=owner)


def test_edits_are_looked_at_together_before_they_can_be_taken(at_desk, plunged):
    page = text_of(marked(at_desk, plunged, "take"))
    assert "What the marked edits change together" in page
    assert plunged.program.revisions.count() == 1


def test_edits_that_were_looked_at_are_taken_into_a_new_revision(at_desk, plunged):
    looked = marked(at_desk, plunged, "look").context["looked"]
    answer = marked(at_desk, plunged, "take", looked=looked)
    assert answer.url == queries.newest(plunged.program).get_absolute_url()
    assert queries.newest(plunged.program).number == 2


def test_an_edit_marked_after_the_look_is_looked_at_before_it_is_taken(at_desk, plunged):
    looked = marked(at_desk, plunged, "look").context["looked"]
    own = Edit("feed", tool=1, value="0.5").as_text
    assert marked(at_desk, plunged, "take", looked=looked, own=own).context["trial"]["counts"]["feeds"] == 2
    assert plunged.program.revisions.count() == 1


def test_taken_edits_lead_htmx_to_the_new_revision(at_desk, plunged):
    looked = marked(at_desk, plunged, "look").context["looked"]
    ids = [edit["id"] for edit in queries.Reviewed(plunged).edits]
    data = {"edit": ids, "act": "take", "looked": looked}
    answer = at_desk.post(address("edits", plunged.pk), data, **HTMX)
    assert answer["HX-Redirect"] == queries.newest(plunged.program).get_absolute_url()


@pytest.mark.parametrize(
    ("what", "typed", "put_in"),
    [
        ("peck", {"line": "16", "value": "1/8 in"}, "G83 Z-20. R2. F120. Q3.1"),
        ("speed", {"tool": "1", "value": "3500"}, "G54 G0 X0. Y0. S3500 M3"),
        ("speed-feed", {"tool": "1", "value": "2000"}, "X40. F300."),
        ("feed", {"tool": "1", "value": "0,5"}, "X40. F300."),
        ("feed-limit", {"tool": "1", "value": "250"}, "X40. F250."),
        ("length-offset", {"line": "6", "value": "21"}, "G43 H21 Z50. M8"),
        ("renumber", {"tool": "2", "value": "12"}, "G43 H12 Z50. M8"),
        ("stop", {"line": "11", "value": "clear the chips"}, "(CLEAR THE CHIPS)"),
    ],
)
def test_an_edit_made_by_hand_is_tried_and_shown_with_its_lines(at_desk, plunged, what, typed, put_in):
    page = at_desk.post(address("edits", plunged.pk), {"act": "add", "what": what, **typed})
    (edit,) = page.context["own_edits"]
    assert put_in in [text for sign, _, text in edit["changes"] if sign == "in"]
    assert not page.context["edit_form"].is_bound


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"what": "speed", "value": "3500"}, "Choose the tool."),
        ({"what": "stop", "value": "look"}, "Type the number of the line."),
        ({"what": "stop", "line": "x", "value": "look"}, "Type the number of a line."),
        ({"what": "stop", "line": "8", "value": " "}, "Say what it becomes"),
        ({"what": "stop", "line": "8", "value": "look"}, "not retracted"),
        ({"what": "coolant", "tool": "1", "value": "M50"}, "Type M08 (flood) or M07 (mist)."),
        ({"what": "coolant", "tool": "1", "value": "M8"}, "has coolant already"),
        ({"what": "feed", "tool": "1", "value": "-2"}, "more than zero"),
        ({"what": "feed", "tool": "1", "value": "half"}, "is no number"),
        ({"what": "remove", "line": "3", "value": "4.5"}, "a whole number"),
        ({"line": "3", "value": "4"}, "Choose what is to change."),
    ],
)
def test_an_edit_by_hand_that_does_not_fit_stays_as_it_was_typed(at_desk, plunged, typed, says):
    page = at_desk.post(address("edits", plunged.pk), {"act": "add", **typed})
    assert page.status_code == 422
    assert says in text_of(page)
    assert page.context["edit_form"]["value"].value() == typed["value"]


def test_an_edit_that_no_form_wrote_is_refused_in_a_sentence(at_desk, plunged):
    page = at_desk.post(address("edits", plunged.pk), {"act": "look", "own": '["remove", 1, 0, "x"]'})
    assert "cannot be read" in text_of(page)


def test_edits_made_by_hand_are_carried_along_and_taken_with_the_marked_ones(at_desk, plunged):
    own = Edit("feed", tool=1, value="0.5").as_text
    looked = marked(at_desk, plunged, "look", own=own).context["looked"]
    marked(at_desk, plunged, "take", own=own, looked=looked)
    data = queries.content(queries.newest(plunged.program))
    assert b"X40. F300." in data and b"G83" in data


@pytest.fixture
def long_one(plunged, monkeypatch):
    """As if the program were too long to be tried while the person waits."""
    monkeypatch.setattr(trials, "AT_ONCE_BYTES", 0)
    return plunged


def in_a_worker():
    for row in Work.objects.filter(kind=trials.TRIAL, state=Work.State.WAITING):
        work.run(row.pk, actions.try_edits)


def test_a_long_program_is_tried_by_a_worker_while_the_page_asks_again(at_desk, long_one):
    page = marked(at_desk, long_one, "look", what="feed", tool="1", value="0.5")
    assert page.context["trial"] is None and page.context["waiting"].unfinished
    assert page.context["edit_form"]["value"].value() == "0.5"
    assert 'hx-vals=\'{"act": "look", "polls": "1"}\'' in text_of(page)


def test_the_page_shows_what_the_worker_found(at_desk, long_one):
    typed = {"what": "feed", "tool": "1", "value": "0.5"}
    marked(at_desk, long_one, "look", **typed)
    in_a_worker()
    assert marked(at_desk, long_one, "look", **typed).context["waiting"].unfinished  # now what they change together
    in_a_worker()
    page = marked(at_desk, long_one, "look", **typed)
    assert page.context["waiting"] is None and page.context["trial"]["counts"]["feeds"] == 2


def test_edits_by_hand_are_carried_on_while_they_wait(at_desk, long_one):
    own = Edit("feed", tool=1, value="0.5").as_text
    page = marked(at_desk, long_one, "look", own=own)
    assert page.context["own_waiting"] == [own] and 'type="hidden" name="own"' in text_of(page)


def test_an_edit_that_a_worker_refused_is_said_beside_what_was_typed(at_desk, long_one):
    typed = {"act": "add", "what": "stop", "line": "8", "value": "look"}
    at_desk.post(address("edits", long_one.pk), typed)
    in_a_worker()
    page = at_desk.post(address("edits", long_one.pk), typed)
    assert page.status_code == 422 and "not retracted" in text_of(page)
    assert page.context["edit_form"]["value"].value() == "look"


def test_edits_that_were_tried_together_are_taken_as_they_were_tried(at_desk, plunged):
    looked = marked(at_desk, plunged, "look").context["looked"]
    kept = trials.edited(Work.objects.get(key=looked))
    answer = marked(at_desk, plunged, "take", looked=looked)
    assert answer.status_code == 302 and queries.content(queries.newest(plunged.program)) == kept


def test_edits_are_taken_where_the_cache_lost_what_was_tried(at_desk, plunged, settings, tmp_path):
    looked = marked(at_desk, plunged, "look").context["looked"]
    settings.CACHE_DIR = tmp_path
    marked(at_desk, plunged, "take", looked=looked)
    assert b"G83" in queries.content(queries.newest(plunged.program))
