"""What was posted before records were kept gets a record without a row, known by the hash it has."""

from django.db import migrations

KINDS = {
    "receipt": "receipts",
    "issue": "issues",
    "return": "returns",
    "count": "counts",
    "transfer": "transfers",
    "scrap": "scraps",
    "send_back": "send_backs",
    "reversal": "reversals",
}


def make_records(apps, _schema_editor):
    Posting, Record = apps.get_model("kits", "Posting"), apps.get_model("takeoff", "Record")
    known = set(Record.objects.values_list("site", "event_id"))
    made = []
    for posting in Posting.objects.order_by("pk").iterator():
        kind = KINDS[posting.kind]
        taken = (posting.site_id, posting.event_id) in known
        made.append(
            Record(
                site_id=posting.site_id,
                event_id=f"{kind}/{posting.event_id}"[:80] if taken else posting.event_id,
                kind=kind,
                row_hash=posting.content_hash,
                at=posting.at,
                recorded_at=posting.recorded_at,
                recorded_by_id=posting.recorded_by_id,
                answer="kept",
            )
        )
    Record.objects.bulk_create(made, batch_size=500)


class Migration(migrations.Migration):
    dependencies = [("kits", "0003_counts_of_their_moment"), ("takeoff", "0002_records")]

    operations = [migrations.RunPython(make_records, migrations.RunPython.noop)]
