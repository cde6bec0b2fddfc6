from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("inventory", "0001_first")]

    operations = [
        migrations.AddField(
            model_name="modelfit",
            name="record",
            field=models.JSONField(blank=True, default=dict),
        ),
    ]
