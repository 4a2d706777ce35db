from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("people", "0001_initial")]

    operations = [
        migrations.AddField(
            model_name="user",
            name="password_is_temporary",
            field=models.BooleanField(default=False),
        ),
        migrations.CreateModel(
            name="FailedTries",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("key", models.CharField(max_length=64, unique=True)),
                ("count", models.PositiveIntegerField(default=0)),
                ("last_at", models.DateTimeField()),
            ],
            options={"ordering": ["-last_at"]},
        ),
    ]
