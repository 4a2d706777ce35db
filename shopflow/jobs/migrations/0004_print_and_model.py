from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("jobs", "0003_part_zero_on_the_model")]

    operations = [
        migrations.AddField(
            model_name="jobfile",
            name="revision",
            field=models.CharField(blank=True, max_length=20, verbose_name="revision"),
        ),
        migrations.AddField(
            model_name="job",
            name="revisions_settled",
            field=models.CharField(blank=True, editable=False, max_length=200),
        ),
        migrations.AddField(
            model_name="job",
            name="threads",
            field=models.CharField(
                blank=True,
                choices=[
                    ("minor", "at the minor diameter or the tap drill's"),
                    ("major", "at the major diameter"),
                    ("plain", "not at all: the holes of the model are plain"),
                    ("none", "the part has no threads"),
                ],
                editable=False,
                max_length=5,
                verbose_name="threads in the model",
            ),
        ),
    ]
