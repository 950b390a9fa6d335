"""Places keep what their names are compared by; of bins whose names were told apart by it, the later are numbered."""

from django.db import migrations, models

import takeoff.database.folding
from takeoff.database.folding import folded


def fold(apps, _schema_editor):
    Place = apps.get_model("takeoff", "Place")
    taken = {}
    for place in Place.objects.order_by("pk"):
        names = taken.setdefault(place.site_id, set())
        if place.kind == "bin":
            first, number = place.name, 1
            while folded(place.name) in names:
                number += 1
                place.name = f"{first[:110]} ({number})"
            names.add(folded(place.name))
        place.save(update_fields=["name", "folded"])


class Migration(migrations.Migration):
    dependencies = [("takeoff", "0009_made_for_a_run")]

    operations = [
        migrations.AlterField(
            model_name="setaside", name="lacks", field=models.CharField(blank=True, max_length=400)
        ),
        migrations.AddField(
            model_name="place",
            name="folded",
            field=takeoff.database.folding.FoldedField(default="", editable=False, max_length=360, of="name"),
            preserve_default=False,
        ),
        migrations.RunPython(fold, migrations.RunPython.noop),
        migrations.AddConstraint(
            model_name="place",
            constraint=models.UniqueConstraint(
                condition=models.Q(("kind", "bin")), fields=("site", "folded"), name="one_bin_per_name"
            ),
        ),
    ]
