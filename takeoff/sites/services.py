"""Making the bins of a site."""

from __future__ import annotations

from collections.abc import Iterable

from takeoff.database.folding import first_spellings
from takeoff.sites.models import Place, Site


def make_bins(*, site: Site, names: Iterable[str]) -> dict[str, Place]:
    """Return bins by their folded names, each made when there is none; a name in any case and spacing."""
    wanted = first_spellings(names)

    def there() -> dict[str, Place]:
        return {bin_.folded: bin_ for bin_ in Place.objects.of(site).filter(kind=Place.Kind.BIN, folded__in=wanted)}

    known = there()
    if missing := [name for key, name in wanted.items() if key not in known]:
        # Somebody else may make the same bin at the same moment: what is there is read again.
        rows = [Place(site=site, kind=Place.Kind.BIN, name=name) for name in missing]
        Place.objects.bulk_create(rows, ignore_conflicts=True)
        known = there()
    return known
