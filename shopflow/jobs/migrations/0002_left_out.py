from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("jobs", "0001_initial")]

    operations = [
        migrations.AddField(
            model_name="job",
            name="left_out",
            field=models.JSONField(blank=True, default=list, editable=False),
        ),
    ]
