"""
How often what is covered is enough, and how much of it is left over: by class of use, on sites made up by chance.

On each site 3 stages are finished and 20 open, each of 0.5 to 1.5 times the mean plan. A stage uses rate x plan plus an
error with the standard deviation of `stages` x the square root of its plan; the rate is the site's own. What is covered
is what the product says after the 3 stages, at a service level of 95 %. Left over is the share of it that is not used.

Run: python -m tests.benchmarks.learned_use [SITES]
"""

import sys
from fractions import Fraction

import numpy as np

from kits.shortages.reckon.usage import PRIORS, covered_use, expected_use, learn

LEVEL = Fraction(95, 100)
FINISHED, OPEN = 3, 20
PLAN = 100_000  # ticks: ten units
# class, mean rate, its standard deviation from site to site, that of a stage; least covered, most left over
CASES = (
    ("screws", "counted", 1.00, 0.05, 0.05, 0.95, 0.06),
    ("screws, every site alike", "counted", 1.00, 0.00, 0.05, 0.95, 0.06),
    ("tape", "wiped", 1.10, 0.10, 0.15, 0.94, None),
    ("sealant", "bead", 1.20, 0.20, 0.20, 0.95, None),
)


def covered(prior, plans, used):
    """Return what is covered for the open stages of a site after its finished ones. [ticks]"""
    mean_stage = Fraction(int(plans.sum()), len(plans))
    done = list(zip(plans[:FINISHED].tolist(), used[:FINISHED].tolist(), strict=True))
    belief = learn(done, mean_stage=mean_stage, prior=prior)
    expected = sum(expected_use(belief, planned=plan, issued=0) for plan in plans[FINISHED:].tolist())
    return covered_use(belief, expected=expected, level=LEVEL)


def simulate(usage, mean, site, stages, sites):
    """Return the share of sites on which what was covered was enough, and the share of it that was left over."""
    chance = np.random.default_rng(20261127)
    enough, kept, left = 0, 0, 0
    for _ in range(sites):
        sizes = chance.uniform(0.5, 1.5, FINISHED + OPEN)
        errors = chance.normal(0.0, stages, len(sizes)) * np.sqrt(sizes)
        used = np.maximum(0, np.rint((chance.normal(mean, site) * sizes + errors) * PLAN)).astype(int)
        plans = np.rint(sizes * PLAN).astype(int)
        cover, use = covered(PRIORS[usage], plans, used), int(used[FINISHED:].sum())
        enough += cover >= use
        kept += cover
        left += cover - use
    return enough / sites, left / kept


def main():
    sites = int(sys.argv[1]) if len(sys.argv) > 1 else 20_000
    for name, usage, mean, site, stages, least, most in CASES:
        share, left = simulate(usage, mean, site, stages, sites)
        told = f", at most {most:.0%}" if most else ""
        print(f"{name} ({usage}): covered {share:.1%}, at least {least:.0%}; left over {left:.1%}{told}")


if __name__ == "__main__":
    main()
