"""A person's own views of the board: what they narrowed it to, under a name of their own."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("school", "0016_one_word_for_one_thing"),
    ]

    operations = [
        migrations.AddField(
            model_name="person",
            name="board_views",
            field=models.JSONField(blank=True, default=list, editable=False),
        ),
    ]
