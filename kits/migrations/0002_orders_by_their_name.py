"""Orders are called orders; their tables keep the names that they were made with."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("kits", "0001_initial"), ("takeoff", "0001_initial")]

    operations = [
        migrations.AlterModelTable("reorder", "kits_reorder"),
        migrations.AlterModelTable("reorderline", "kits_reorderline"),
        migrations.RemoveConstraint("reorderline", "one_reorder_line_per_item"),
        migrations.RenameModel("Reorder", "Order"),
        migrations.RenameModel("ReorderLine", "OrderLine"),
        migrations.RenameField("orderline", "reorder", "order"),
        migrations.AddConstraint(
            "orderline", models.UniqueConstraint(fields=("order", "item"), name="one_reorder_line_per_item")
        ),
        migrations.AlterField(
            "order",
            "site",
            models.ForeignKey("takeoff.site", django.db.models.deletion.CASCADE, related_name="orders"),
        ),
        migrations.AlterField(
            "order",
            "supplier",
            models.ForeignKey("takeoff.supplier", django.db.models.deletion.PROTECT, related_name="orders"),
        ),
        migrations.AlterField(
            "orderline",
            "item",
            models.ForeignKey("takeoff.item", django.db.models.deletion.PROTECT, related_name="order_lines"),
        ),
    ]
