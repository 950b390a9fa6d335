"""`manage.py plan_cuts`: which length comes off which reel, for a site or for a bare problem in a file."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from reels.planner.files.as_json import plan_as_json
from reels.planner.files.as_text import tell
from reels.planner.files.bare import read_bare, stock_as_json
from reels.planner.options import Options, usual_rates
from reels.planner.problem import Problem, ProblemError
from reels.planner.solve import plan_cuts
from reels.planner.stock_lengths.stock_search import plan_stock
from reels.plans.models import CutPlan
from reels.plans.queries import cables_to_plan, enough_to_buy, stored_as_json
from reels.plans.services import ask_for_plan, run_plan
from takeoff.catalogue.models import Cable
from takeoff.sites.models import Site
from takeoff.units.exact import to_ticks
from takeoff.units.lengths import show_length
from takeoff.units.shown import down

MOST_SECONDS = 86_400  # a day


class Command(BaseCommand):
    """Stores a proposal for each cable of a site; a bare problem is only answered."""

    help = "Plan which length comes off which reel, for a site's cables or for a bare problem in a file."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Add what to plan, how long, and how to answer."""
        what = parser.add_mutually_exclusive_group(required=True)
        what.add_argument("--site", metavar="SLUG", help="The site whose cables to plan.")
        what.add_argument("--from", dest="file", type=Path, metavar="FILE.json", help="A bare problem to plan.")
        parser.add_argument("--cable", metavar="CABLE", help="Only this cable of the site.")
        parser.add_argument("--seconds", type=float, default=10.0, metavar="N", help="Time for each cable; default 10.")
        parser.add_argument(
            "--strict", action="store_true", help="Least scrap first, whatever it opens, instead of the rates."
        )
        parser.add_argument("--json", action="store_true", help="Print JSON for machines; see docs/reels.md.")

    def handle(self, *_args: Any, **options: Any) -> None:
        """Plan, and print what came of it."""
        if not 0 <= options["seconds"] <= MOST_SECONDS:  # nor is "nan" between them
            raise CommandError(f"--seconds must be from 0 to {MOST_SECONDS}.")
        if options["file"] is not None:
            if options["cable"]:
                raise CommandError("--cable goes with --site: a bare problem is for one cable.")
            self._bare(options["file"], options)
        else:
            self._site(options)

    def _bare(self, path: Path, options: dict[str, Any]) -> None:
        try:
            bare = read_bare(
                json.loads(path.read_text(encoding="utf-8-sig")), seconds=options["seconds"], strict=options["strict"]
            )
            if isinstance(bare.problem, Problem):
                plan = plan_cuts(bare.problem, self._progress(options))
                answer = plan_as_json(bare.problem, plan, bare.name)
            else:
                answer = stock_as_json(plan_stock(bare.problem), bare.name, bare.kind)
        except OSError as error:
            raise CommandError(f"{path} cannot be read: {error.strerror}.") from error
        except RecursionError as error:
            raise CommandError(f"{path} is no problem to plan: it is nested too deeply.") from error
        except ValueError as error:  # no JSON, no UTF-8, a number of too many digits, a ProblemError
            raise CommandError(f"{path} is no problem to plan: {error}.") from error
        self._clear(options)
        if options["json"]:
            self.stdout.write(json.dumps(answer))
        else:
            self._write(tell(answer))

    def _site(self, options: dict[str, Any]) -> None:
        site = Site.objects.filter(slug=options["site"]).first()
        if site is None:
            known = ", ".join(Site.objects.order_by("slug").values_list("slug", flat=True)) or "none yet"
            raise CommandError(f"There is no site {options['site']!r}; sites: {known}.")
        plans = []
        for cable in _cables(site, options["cable"]):
            plans.append(self._plan(site, cable, options))
            if not options["json"]:
                self._write(_told(plans[-1], site))
        if options["json"]:
            found = [stored_as_json(plan) for plan in plans]
            self.stdout.write(json.dumps(found[0] if options["cable"] else found))
        elif not plans:
            self.stdout.write("Nothing is left to cut.")

    def _plan(self, site: Site, cable: Cable, options: dict[str, Any]) -> CutPlan:
        asked = Options(usual_rates(site.unit), seconds=options["seconds"], strict=options["strict"])
        plan = ask_for_plan(site=site, cable=cable, options=asked)
        try:
            return run_plan(plan=plan, told=self._progress(options))
        except ProblemError as error:
            raise CommandError(f"{cable} cannot be planned: {error}.") from error
        finally:
            self._clear(options)

    def _progress(self, options: dict[str, Any]) -> Any:
        if not self._shows(options):
            return None

        def show(stage: str, elapsed: float, *_levels: Any) -> None:
            self.stderr.write(f"\r{elapsed:5.1f} s  {stage:<40.40}", ending="")

        return show

    def _clear(self, options: dict[str, Any]) -> None:
        if self._shows(options):
            self.stderr.write("\r" + " " * 50 + "\r", ending="")

    def _shows(self, options: dict[str, Any]) -> bool:
        """Return whether progress is shown: on a terminal only, so that a pipe stays quiet."""
        return options["verbosity"] > 0 and self.stderr.isatty()

    def _write(self, lines: Iterator[str]) -> None:
        for line in lines:
            self.stdout.write(line)


def _told(plan: CutPlan, site: Site) -> Iterator[str]:
    enough = enough_to_buy(plan)
    return tell(
        stored_as_json(plan),
        lambda mm: show_length(to_ticks(str(mm)), site.unit),
        enough="" if enough is None else down(enough, site.unit),
        unit=site.unit,
    )


def _cables(site: Site, code: str | None) -> list[Cable]:
    if code is None:
        return cables_to_plan(site)
    cable = Cable.objects.of(site).filter(code=code).first()
    if cable is None:
        known = ", ".join(Cable.objects.of(site).order_by("code").values_list("code", flat=True)) or "none yet"
        raise CommandError(f"Site {site.slug} has no cable {code!r}; cables: {known}.")
    return [cable]
