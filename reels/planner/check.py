"""
Proof that a cut plan can be cut and is as good as it says: whole numbers only, nothing shared with the solver.

Every plan passes here before it is stored or shown, and the tests trust nothing else.
"""

from collections import Counter
from collections.abc import Iterable
from fractions import Fraction
from itertools import count, islice

from reels.planner.plan import Levels, Pieces, Plan, ReelLoad
from reels.planner.problem import Problem, StockReel

STOPPED = ("proven", "finished", "time", "asked")
# Levels that are weighed against each other once everything is cut.
TRADED = ("scrap", "whole_reels", "remnants", "setups")


class PlanWrong(Exception):  # noqa: N818 -- it is said of the plan, not of the program
    """The plan breaks a rule; `problems` holds one sentence for each."""

    def __init__(self, problems: list[str]) -> None:
        super().__init__("; ".join(problems))
        self.problems = problems


def check_plan(problem: Problem, plan: Plan) -> None:
    """
    Raise PlanWrong unless the plan is valid, its levels are what it says, and its bounds can be and carry its claims.

    That a bound holds, only the solver can show: here it must not lie above what is reached.
    """
    places = [("uncut", plan.unmet), *((f"reel {load.reel}", load.cuts) for load in (*plan.loads, *plan.after_buying))]
    if wrong := _wrong_pieces(places):
        raise PlanWrong(wrong)
    wrong = _named_twice(places)
    wrong += _wrong_loads(problem, plan.loads, problem.reels)
    wrong += _wrong_counts(problem, plan)
    if not wrong:
        levels = measure(problem, plan.loads)
        if levels != plan.levels:
            wrong.append(f"the levels are {levels}, the plan says {plan.levels}")
        if cost_in_feet(problem, levels) != plan.cost:
            wrong.append(f"the cost is {cost_in_feet(problem, levels)} ft, the plan says {plan.cost}")
        wrong += _wrong_bounds(problem, plan)
        wrong += _wrong_end(problem, plan)
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


def _wrong_pieces(places: Iterable[tuple[str, Iterable[Pieces]]]) -> list[str]:
    """List pieces that are no whole number above zero, so that nothing can be counted with them."""
    return [
        f"{place}: {piece.pieces} pieces of {piece.demand}"
        for place, cuts in places
        for piece in cuts
        if type(piece.pieces) is not int or piece.pieces <= 0
    ]


def _named_twice(places: Iterable[tuple[str, Iterable[Pieces]]]) -> list[str]:
    return [
        f"{place}: {key} is named {times} times"
        for place, cuts in places
        for key, times in Counter(piece.demand for piece in cuts).items()
        if times > 1
    ]


def _wrong_loads(problem: Problem, loads: Iterable[ReelLoad], on_hand: Iterable[StockReel]) -> list[str]:
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
        if not load.cuts:
            wrong.append(f"reel {load.reel} is loaded with nothing")
        cuts = cut_from[load.reel] = Counter()
        for piece in load.cuts:
            if piece.demand not in lengths:
                wrong.append(f"reel {load.reel}: {piece.pieces} pieces of {piece.demand}")
            else:
                cuts[piece.demand] += piece.pieces
        end = reels[load.reel].usable - sum(lengths[key] * pieces for key, pieces in cuts.items())
        end_is = "used up" if end == 0 else "remnant" if end >= problem.keep else "scrap"
        if end < 0:
            wrong.append(f"reel {load.reel} is overdrawn by {-end}")
        elif (end, end_is) != (load.end, load.end_is):
            wrong.append(f"reel {load.reel} ends in {end} {end_is}, the plan says {load.end} {load.end_is}")
    listed = [reel_id for reel_id in reels if reel_id in cut_from]
    if not wrong and listed != list(cut_from):
        wrong.append("the loads are not in the order of the reels")
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
    wrong = [
        f"demand {demand.id}: {placed[demand.id]} cut and {unmet[demand.id]} unmet of {demand.count} pieces"
        for demand in problem.demands
        if placed[demand.id] + unmet[demand.id] != demand.count
    ]
    unknown = set(unmet) - {demand.id for demand in problem.demands}
    return wrong + [f"unmet pieces of unknown demand {key}" for key in sorted(unknown)]


def _wrong_bounds(problem: Problem, plan: Plan) -> list[str]:
    wrong = []
    bounds = plan.bounds
    for name in ("sets_incomplete", "unmet_weighted", "unmet", *TRADED):
        bound, reached = getattr(bounds, name), getattr(plan.levels, name)
        if bound is None:
            continue
        # Incomplete sets compare class by class, earliest first, as tuples do.
        if bound > reached:
            wrong.append(f"bound on {name} is {bound}, above {reached}")
        if min(bound, default=0) < 0 if isinstance(bound, tuple) else bound < 0:
            wrong.append(f"bound on {name} is {bound}, below zero")
    if bounds.sets_incomplete is not None and len(bounds.sets_incomplete) != len(problem.date_classes):
        wrong.append(
            f"bound on sets_incomplete is {bounds.sets_incomplete} for {len(problem.date_classes)} date classes"
        )
    if bounds.cost is not None and not 0 <= bounds.cost <= plan.cost:
        wrong.append(f"bound on cost is {bounds.cost}, above {plan.cost} or below zero")
    if bounds.cost is not None and problem.strict:
        wrong.append("there is a bound on cost, and nothing is traded in the strict order")
    if plan.unmet:
        wrong += [
            f"there is a bound on {name}, and not everything is cut"
            for name in (*TRADED, "cost")
            if getattr(bounds, name) is not None
        ]
    return wrong


def _wrong_end(problem: Problem, plan: Plan) -> list[str]:
    """List what is wrong with why and when the planner says it stopped."""
    wrong = []
    if plan.stopped not in STOPPED:
        wrong.append(f"stopped is {plan.stopped!r}, not one of {', '.join(STOPPED)}")
    if plan.seconds < 0:
        wrong.append(f"it took {plan.seconds} seconds")
    if plan.stopped == "proven":
        reached = all(plan.proven[name] for name in TRADED) if problem.strict else plan.bounds.cost == plan.cost
        if plan.unmet or not reached:
            wrong.append("it is called proven, and its bounds do not show that")
    return wrong


def _wrong_purchase(problem: Problem, plan: Plan) -> list[str]:
    """List what keeps the loads after buying from cutting everything with the reels on hand and the bought ones."""
    if not plan.buy:
        if plan.after_buying or plan.buy_bound is not None:
            return ["nothing is bought, and there are loads after buying or a bound on the purchase"]
        return []
    wrong = [] if plan.unmet else ["reels are bought, and everything is cut"]
    wrong += [
        f"reels of {item.length} cannot be bought"
        for item in plan.buy
        if item.length not in problem.buy_lengths or item.count <= 0
    ]
    bought = sum(item.length * item.count for item in plan.buy)
    if plan.buy_bound is not None and not 0 < plan.buy_bound <= bought:
        wrong.append(f"bound on the purchase is {plan.buy_bound}, above {bought} or not above zero")
    if len({item.length for item in plan.buy}) < len(plan.buy):
        wrong.append("a length to buy is named twice")
    new = bought_reels(problem, plan)
    idle = {reel.id for reel in new} - {load.reel for load in plan.after_buying}
    wrong += [f"reel {name} is bought and not cut" for name in sorted(idle)]
    reels = [*problem.reels, *new]
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


def bought_reels(problem: Problem, plan: Plan) -> list[StockReel]:
    """Return the reels of the purchase, as `after_buying` names them: numbered, leaving out names of reels on hand."""
    taken = {reel.id for reel in problem.reels}
    reels = []
    for item in plan.buy:
        names = (name for number in count(1) if (name := f"buy {item.length} #{number}") not in taken)
        reels += [StockReel(id=name, length=item.length, whole=True) for name in islice(names, max(0, item.count))]
    return reels


def _summed(pairs: Iterable[tuple[str, int]]) -> Iterable[tuple[str, int]]:
    totals: Counter[str] = Counter()
    for key, pieces in pairs:
        totals[key] += pieces
    return totals.items()
