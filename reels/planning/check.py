"""
Proof that a cut plan can be cut and is as good as it says: whole numbers only, nothing shared with the solver.

Every plan passes here before it is stored or shown, and the tests trust nothing else.
"""

from collections import Counter
from collections.abc import Iterable
from fractions import Fraction

from reels.planning.plan import Levels, Plan, ReelLoad
from reels.planning.problem import Problem, Reel


class PlanWrong(Exception):  # noqa: N818 -- it is said of the plan, not of the program
    """The plan breaks a rule; `problems` holds one sentence for each."""

    def __init__(self, problems: list[str]) -> None:
        super().__init__("; ".join(problems))
        self.problems = problems


def check_plan(problem: Problem, plan: Plan) -> None:
    """Raise PlanWrong unless the plan is valid, its levels are what it says, and no bound lies above them."""
    wrong = _wrong_loads(problem, plan.loads, problem.reels)
    wrong += _wrong_counts(problem, plan)
    if not wrong:
        levels = measure(problem, plan.loads)
        if levels != plan.levels:
            wrong.append(f"the levels are {levels}, the plan says {plan.levels}")
        if cost_in_feet(problem, levels) != plan.cost:
            wrong.append(f"the cost is {cost_in_feet(problem, levels)} ft, the plan says {plan.cost}")
        wrong += _wrong_bounds(plan)
    wrong += _wrong_purchase(problem, plan)
    if wrong:
        raise PlanWrong(wrong)


def measure(problem: Problem, loads: Iterable[ReelLoad]) -> Levels:
    """Return the levels that these loads reach, counted afresh from the pieces."""
    demands = {demand.id: demand for demand in problem.demands}
    reels = {reel.id: reel for reel in problem.reels}
    cut: Counter[str] = Counter()
    scrap = whole_reels = remnants = 0
    pairs = set()
    for load in loads:
        if not load.cuts:
            continue
        reel = reels[load.reel]
        end = reel.usable
        for piece in load.cuts:
            cut[piece.demand] += piece.pieces
            end -= piece.pieces * demands[piece.demand].length
            pairs.add((demands[piece.demand].run_key, load.reel))
        whole_reels += reel.whole
        if end >= problem.keep:
            remnants += 1
        else:
            scrap += end
    missing = {demand.id: demand.count - cut[demand.id] for demand in problem.demands}
    incomplete = {demand.set_key for demand in problem.demands if missing[demand.id] > 0}
    by_class = Counter(problem.set_classes[key] for key in incomplete)
    return Levels(
        sets_incomplete=tuple(by_class[date_class] for date_class in problem.date_classes),
        unmet_weighted=sum(missing[demand.id] * demand.length * demand.weight for demand in problem.demands),
        unmet=sum(missing[demand.id] * demand.length for demand in problem.demands),
        scrap=scrap,
        whole_reels=whole_reels,
        remnants=remnants,
        setups=len(pairs),
    )


def cost_in_feet(problem: Problem, levels: Levels) -> Fraction:
    """Scrap plus what the rates charge for whole reels, remnants and set-ups. [ft]"""
    rates = problem.rates
    return (
        problem.unit.feet(levels.scrap)
        + rates.whole * levels.whole_reels
        + rates.remnant * levels.remnants
        + rates.setup * levels.setups
    )


def _wrong_loads(problem: Problem, loads: Iterable[ReelLoad], on_hand: Iterable[Reel]) -> list[str]:
    wrong = []
    lengths = {demand.id: demand.length for demand in problem.demands}
    reels = {reel.id: reel for reel in on_hand}
    cut_from: dict[str, Counter[str]] = {}
    for load in loads:
        if load.reel not in reels:
            wrong.append(f"there is no reel {load.reel}")
            continue
        if load.reel in cut_from:
            wrong.append(f"reel {load.reel} is loaded twice")
            continue
        cuts = cut_from[load.reel] = Counter()
        for piece in load.cuts:
            if piece.demand not in lengths or piece.pieces <= 0:
                wrong.append(f"reel {load.reel}: {piece.pieces} pieces of {piece.demand}")
            else:
                cuts[piece.demand] += piece.pieces
        end = reels[load.reel].usable - sum(lengths[key] * pieces for key, pieces in cuts.items())
        end_is = "used up" if end == 0 else "remnant" if end >= problem.keep else "scrap"
        if end < 0:
            wrong.append(f"reel {load.reel} is overdrawn by {-end}")
        elif (end, end_is) != (load.end, load.end_is):
            wrong.append(f"reel {load.reel} ends in {end} {end_is}, the plan says {load.end} {load.end_is}")
    wrong += [
        f"reel {reel.id} lacks frozen pieces of {key}"
        for reel in reels.values()
        for key, pieces in _summed(reel.frozen)
        if cut_from.get(reel.id, Counter())[key] < pieces
    ]
    return wrong


def _wrong_counts(problem: Problem, plan: Plan) -> list[str]:
    placed: Counter[str] = Counter()
    for load in plan.loads:
        for piece in load.cuts:
            placed[piece.demand] += piece.pieces
    unmet = Counter(dict(_summed((piece.demand, piece.pieces) for piece in plan.unmet)))
    wrong = [f"unmet pieces of {piece.demand} must be above 0" for piece in plan.unmet if piece.pieces <= 0]
    wrong += [
        f"demand {demand.id}: {placed[demand.id]} cut and {unmet[demand.id]} unmet of {demand.count} pieces"
        for demand in problem.demands
        if placed[demand.id] + unmet[demand.id] != demand.count
    ]
    unknown = set(unmet) - {demand.id for demand in problem.demands}
    return wrong + [f"unmet pieces of unknown demand {key}" for key in sorted(unknown)]


def _wrong_bounds(plan: Plan) -> list[str]:
    wrong = []
    for name in ("sets_incomplete", "unmet_weighted", "unmet", "scrap", "whole_reels", "remnants", "setups"):
        bound, reached = getattr(plan.bounds, name), getattr(plan.levels, name)
        # Incomplete sets compare class by class, earliest first, as tuples do.
        if bound is not None and bound > reached:
            wrong.append(f"bound on {name} is {bound}, above {reached}")
    if plan.bounds.cost is not None and plan.bounds.cost > plan.cost:
        wrong.append(f"bound on cost is {plan.bounds.cost}, above {plan.cost}")
    return wrong


def _wrong_purchase(problem: Problem, plan: Plan) -> list[str]:
    """List what keeps the loads after buying from cutting everything with the reels on hand and the bought ones."""
    if not plan.buy:
        return []
    wrong = [
        f"reels of {item.length} cannot be bought"
        for item in plan.buy
        if item.length not in problem.buy_lengths or item.count <= 0
    ]
    bought = sum(item.length * item.count for item in plan.buy)
    if plan.buy_bound is not None and plan.buy_bound > bought:
        wrong.append(f"bound on the purchase is {plan.buy_bound}, above {bought}")
    reels = [*problem.reels, *bought_reels(plan)]
    wrong += _wrong_loads(problem, plan.after_buying, reels)
    placed: Counter[str] = Counter()
    for load in plan.after_buying:
        for piece in load.cuts:
            placed[piece.demand] += piece.pieces
    wrong += [
        f"after buying, {placed[demand.id]} of {demand.count} pieces of {demand.id} are cut"
        for demand in problem.demands
        if placed[demand.id] != demand.count
    ]
    return wrong


def bought_reels(plan: Plan) -> list[Reel]:
    """Return the reels of the purchase, as `after_buying` names them."""
    return [
        Reel(id=f"buy {item.length} #{number}", length=item.length, whole=True)
        for item in plan.buy
        for number in range(1, item.count + 1)
    ]


def _summed(pairs: Iterable[tuple[str, int]]) -> Iterable[tuple[str, int]]:
    totals: Counter[str] = Counter()
    for key, pieces in pairs:
        totals[key] += pieces
    return totals.items()
