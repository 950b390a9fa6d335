import django.db.models.deletion
from django.db import migrations, models


def keep_boxes(apps, schema_editor):
    KitBox = apps.get_model('kits', 'KitBox')
    kits = apps.get_model('kits', 'Kit')._base_manager.exclude(box=None)
    KitBox._base_manager.bulk_create(
        [KitBox(kit_id=kit, place_id=box) for kit, box in kits.values_list('pk', 'box')]
    )


def keep_one_box(apps, schema_editor):
    Kit = apps.get_model('kits', 'Kit')
    boxes = apps.get_model('kits', 'KitBox')._base_manager.filter(place__kind='kit_box')
    for kit, box in boxes.values_list('kit', 'place'):
        Kit._base_manager.filter(pk=kit).update(box=box)


class Migration(migrations.Migration):

    dependencies = [
        ('kits', '0010_trucks_at_the_gate'),
        ('takeoff', '0010_bins_by_folded_name'),
    ]

    operations = [
        migrations.CreateModel(
            name='KitBox',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kit', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='boxes', to='kits.kit')),
                ('place', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='kit_box', to='takeoff.place')),
            ],
        ),
        migrations.RunPython(keep_boxes, keep_one_box),
        migrations.RemoveField(
            model_name='kit',
            name='box',
        ),
    ]
