"""Reviews and removals that were made before they were counted are counted once, from what they found."""

from collections import Counter

from django.db import migrations

AIR_CUT = "air-cut"


def count(apps, schema_editor):
    Review = apps.get_model("programs", "Review")
    Work = apps.get_model("records", "Work")
    Revision = apps.get_model("programs", "ProgramRevision")
    known = set(Revision.objects.values_list("pk", flat=True))
    reviews = Review.objects.filter(work__state="done").select_related("work").order_by("pk")
    newest = {review.revision_id: review.work for review in reviews.iterator()}
    for revision, work in newest.items():
        cycle_s = float(((work.result or {}).get("reading") or {}).get("cycle_s") or 0)
        _tally(apps, revision, "review", (work.result or {}).get("findings", ()), cycle_s=cycle_s)
    done = Work.objects.filter(kind="simulation", state="done", subject_kind="program_revision").order_by("pk")
    removals = {work.subject_id: work for work in done.iterator() if work.subject_id in known}
    for revision, work in removals.items():
        found = (work.result or {}).get("findings", ())
        air_s = sum(float(row["measured"] or 0) for row in found if row["code"] == AIR_CUT)
        _tally(apps, revision, "removal", found, air_s=air_s)


def _tally(apps, revision, of, found, **figures):
    Tally, Rule = apps.get_model("programs", "ReviewTally"), apps.get_model("programs", "RuleTally")
    tally = Tally.objects.create(revision_id=revision, of=of, **figures)
    counted = Counter((row["code"], row["weight"]) for row in found)
    Rule.objects.bulk_create(Rule(tally=tally, code=c, weight=w, count=n) for (c, w), n in counted.items())


def tell_edits(apps, schema_editor):
    """Revisions that taken edits made are known from the history."""
    rows = apps.get_model("records", "LedgerRow").objects.filter(kind="edits_taken", subject_kind="program_revision")
    edited = list(rows.values_list("subject_id", flat=True))
    apps.get_model("programs", "ProgramRevision").objects.filter(pk__in=edited).update(came_by="edits")


class Migration(migrations.Migration):
    dependencies = [("programs", "0005_where_revisions_come_from_and_what_reviews_count")]

    operations = [
        migrations.RunPython(count, migrations.RunPython.noop),
        migrations.RunPython(tell_edits, migrations.RunPython.noop),
    ]
