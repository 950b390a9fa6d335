"""What was cut and decided before records were kept gets a record without a row, known by the hash it has."""

from django.db import migrations


def make_records(apps, _schema_editor):
    Cut, Record = apps.get_model("reels", "Cut"), apps.get_model("takeoff", "Record")
    CutDecision = apps.get_model("reels", "CutDecision")
    known = set(Record.objects.values_list("site", "event_id"))
    made = []

    def keep(site, kind, row, content_hash):
        event_id = f"{kind}/{row.event_id}"[:80] if (site, row.event_id) in known else row.event_id
        if (site, event_id) in known:
            return
        known.add((site, event_id))
        made.append(
            Record(
                site_id=site,
                event_id=event_id,
                kind=kind,
                row_hash=content_hash,
                at=row.at,
                recorded_at=row.recorded_at,
                recorded_by_id=row.recorded_by_id,
                answer="kept",
            )
        )

    for cut in Cut.objects.order_by("pk").iterator():
        keep(cut.site_id, "cuts", cut, cut.content_hash)
    for decision in CutDecision.objects.select_related("cut").order_by("pk").iterator():
        kind = "reversals" if decision.kind == "reversed" else "cut_decisions"
        keep(decision.cut.site_id, kind, decision, "")
    Record.objects.bulk_create(made, batch_size=500)


class Migration(migrations.Migration):
    dependencies = [
        ("reels", "0001_initial"),
        ("takeoff", "0002_records"),
    ]

    operations = [migrations.RunPython(make_records, migrations.RunPython.noop)]
