from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("jobs", "0008_public_holidays")]
    operations = [
        migrations.AlterField(
            model_name="link",
            name="purpose",
            field=models.CharField(
                choices=[
                    ("owner", "owner"),
                    ("certificate", "certificate"),
                    ("verify", "verify"),
                    ("notice", "notice"),
                    ("label", "label"),
                    ("feed", "feed"),
                    ("trade", "trade"),
                ],
                max_length=12,
            ),
        )
    ]
