"""The page over all programs: what is counted, what is not, and that it stays few queries."""

from datetime import UTC, date, datetime

import pytest
from django.urls import reverse

from shopflow.programs import actions, came_in_page, queries
from shopflow.programs.models import Program, ProgramRevision, ReviewTally
from shopflow.programs.queries import came_in
from tests.programs.objects import GOOD, a_program, accept, again, upload

pytestmark = pytest.mark.django_db
TODAY = date(2026, 11, 28)
ALL = came_in.Asked(months=0)


def air(revision, seconds):
    ReviewTally.objects.update_or_create(
        revision=revision, of=ReviewTally.Of.REMOVAL, defaults={"air_s": seconds, "cycle_s": 0}
    )


def came_at(revision, *day):
    ProgramRevision.objects.filter(pk=revision.pk).update(uploaded_at=datetime(*day, tzinfo=UTC))


def test_a_program_that_was_never_changed_counts_as_it_came(job, owner):
    upload(job, by=owner)
    total = came_in.came_in(ALL).all
    assert (total.programs, total.as_they_came, total.changed) == (1, 1, 0)


def test_a_program_counts_once_however_many_revisions_it_has(job, owner):
    first = upload(job, by=owner)
    again(again(first, a_program(depth=4), by=owner), a_program(depth=5), by=owner)
    total = came_in.came_in(ALL).all
    assert (total.programs, total.changed, total.by_other_means) == (1, 1, 1)


def test_taken_edits_are_told_from_other_changes(job, owner):
    first = upload(job, a_program(depth=29), by=owner)
    made = again(first, a_program(depth=28), by=owner)
    ProgramRevision.objects.filter(pk=made.pk).update(came_by=ProgramRevision.CameBy.EDITS)
    total = came_in.came_in(ALL).all
    assert (total.edited, total.by_other_means) == (1, 0)


def test_rules_are_counted_in_the_program_as_it_came(job, owner):
    first = upload(job, a_program(depth=29), by=owner)
    as_it_came = {finding.code for finding in queries.findings(first)}
    assert "plunge-too-deep" in as_it_came
    again(first, GOOD, by=owner)
    assert {rule.code for rule in came_in.came_in(ALL).rules} == as_it_came


def test_a_rule_says_how_often_people_accepted_it(job, owner):
    first = upload(job, a_program(depth=20), by=owner)
    made = accept(first, by=owner)
    rules = {rule.code: rule for rule in came_in.came_in(ALL).rules}
    assert rules[made[0].code].accepted == sum(row.code == made[0].code for row in made)


def test_minutes_of_air_that_a_later_revision_lacks_were_taken_out(job, owner):
    first = upload(job, by=owner)
    air(first, 90)
    air(again(first, a_program(depth=4), by=owner), 30)
    total = came_in.came_in(ALL).all
    assert (total.air_s, total.taken_out_s, total.air_left_s) == (90, 60, 30)


def test_air_is_not_called_taken_out_while_the_later_removal_is_not_computed(job, owner):
    first = upload(job, by=owner)
    air(first, 90)
    again(first, a_program(depth=4), by=owner)
    assert came_in.came_in(ALL).all.taken_out_s == 0


def test_a_month_that_lies_before_those_asked_for_is_left_out(job, owner):
    came_at(upload(job, by=owner), 2026, 8, 31)
    assert came_in.came_in(came_in.Asked(months=3), today=TODAY).months == []


def test_the_earliest_month_asked_for_counts_from_its_first_day(job, owner):
    came_at(upload(job, by=owner), 2026, 9, 1, 12)
    (share,) = came_in.came_in(came_in.Asked(months=3), today=TODAY).months
    assert share.month == date(2026, 9, 1)


@pytest.mark.parametrize(("months", "since"), [(12, date(2025, 12, 1)), (3, date(2026, 9, 1)), (0, None)])
def test_months_are_whole_ones_and_this_one_counts(months, since):
    assert came_in.Asked(months=months).since(TODAY) == since


def test_programs_of_one_customer_alone_are_counted(job, owner):
    upload(job, by=owner)
    customer = job.revision.part.customer_id
    found = [came_in.came_in(came_in.Asked(months=0, customer=pk)).all.programs for pk in (customer, customer + 1)]
    assert found == [1, 0]


def test_programs_of_one_machine_alone_are_counted(job, owner):
    upload(job, by=owner)
    machine = job.setups.get().machine_id
    found = [came_in.came_in(came_in.Asked(months=0, machine=pk)).all.programs for pk in (machine, machine + 1)]
    assert found == [1, 0]


def test_a_program_repeated_from_an_earlier_job_is_not_counted_as_come_in(job, owner):
    revision = upload(job, by=owner)
    ProgramRevision.objects.filter(pk=revision.pk).update(came_by=ProgramRevision.CameBy.REPEAT)
    assert came_in.came_in(ALL).all.programs == 0


def test_a_first_revision_without_a_finished_review_is_named(job, owner):
    upload(job, by=owner, reviewed=False)
    assert came_in.came_in(ALL).unreviewed == 1


def test_a_new_review_counts_in_place_of_the_one_before(job, owner):
    revision = upload(job, a_program(depth=20), by=owner)
    before = [(rule.code, rule.times) for rule in came_in.came_in(ALL).rules]
    actions.note_review(revision.reviews.get().work, revision.reviews.get().work.result)
    assert [(rule.code, rule.times) for rule in came_in.came_in(ALL).rules] == before


def test_the_page_asks_the_same_few_queries_for_many_programs(job, owner, django_assert_max_num_queries):
    first = upload(job, by=owner)
    for number in range(30):
        program = Program.objects.create(job=job, name=f"P{number}")
        ProgramRevision.objects.create(
            program=program, number=1, stored=first.stored, name="x", uploaded_by=owner, called=[]
        )
    with django_assert_max_num_queries(14):
        came_in_page.context({})


def test_bars_of_one_plot_follow_one_another_and_end_at_the_longest():
    drawn = came_in_page.bars([(3, "a", ""), (0, "b", ""), (1, "c", "")], 4)
    assert [(bar.x, bar.width, bar.style) for bar in drawn] == [("0.00%", "75.00%", "a"), ("75.00%", "25.00%", "c")]


def test_the_page_shows_numbers_and_plots(client, owner, job):
    upload(job, a_program(depth=20), by=owner)
    client.force_login(owner)
    shown = client.get(reverse("programs:came_in")).text
    assert ('class="plot"' in shown, "Which rules fire" in shown) == (True, True)


def test_a_filter_that_is_no_choice_asks_for_everything(client, owner, job):
    upload(job, by=owner)
    client.force_login(owner)
    answer = client.get(reverse("programs:came_in"), {"months": "x", "by": "77"})
    assert "How often something had to be changed" in answer.text


def test_where_nothing_came_in_the_page_says_so(client, owner):
    client.force_login(owner)
    assert "No program came in" in client.get(reverse("programs:came_in")).text
