"""Writing kits and their lines."""

from __future__ import annotations

from collections.abc import Sequence

from django.db import transaction

from kits.promises.models import Kit, KitLine
from takeoff.sheets.matching import Matched, bulk_save
from takeoff.sites.models import Site


@transaction.atomic
def save_kits(*, site: Site, new: Sequence[Kit], changed: Sequence[Kit]) -> None:
    """Create kits, and write the run and revision of changed ones."""
    bulk_save(Kit.objects.of(site), new=new, changed=changed, fields={"run", "revision"}, keys=True)


@transaction.atomic
def save_kit_lines(*, site: Site, matched: Matched[KitLine]) -> None:
    """Write what kits hold: lines that are new, changed, or no longer in their kit."""
    lines = KitLine.objects.of(site)
    lines.filter(pk__in=[line.pk for line in matched.removed]).delete()
    bulk_save(lines, new=matched.new, changed=matched.changed, fields=matched.fields)
