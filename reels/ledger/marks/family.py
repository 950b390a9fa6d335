"""
A reel and the pieces off it: one family on one line of marks, nothing of it counted twice. Pure.

A piece claims its stretch of the reel that it came off. What a record of that reel takes of the stretch as well is a
dispute between the two, and gone from the piece. Two pieces of one stretch: it is the outer one's. A piece that came
out of a cut that failed lies inside that cut and claims nothing besides. What the records take beyond all that a reel
held can only have come from the pieces off it. Nothing depends on the order in which records arrived.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from math import ceil, floor

from reels.ledger.marks.line import (
    Claim,
    Kin,
    ReelBooks,
    by_place,
    mistyped,
    overlaps,
    own_claims,
    place_of,
    proven_factor,
    reel_books,
    taped_and_marked,
)
from reels.ledger.marks.printed import (
    EARLIEST,
    LENGTH_PER_MARK,
    CutMarks,
    Interval,
    MarksError,
    Piece,
    ReelMarks,
    Showing,
)


@dataclass(frozen=True, slots=True)
class Member:
    """
    A reel or piece of a family.

    parent : the tag of the reel that it came off, "" where it came whole. out_of : the id of the cut of that reel that
    failed and that it came out of. never : it was said to come out of it, and that was taken back.
    """

    tag: str
    reel: ReelMarks
    cuts: tuple[CutMarks, ...] = ()
    showings: tuple[Showing, ...] = ()
    parent: str = ""
    out_of: str = ""
    never: bool = False


def families(parents: Mapping[str, str]) -> dict[str, str]:
    """
    Return the reel that each came off in the end, its own tag where it came whole.

    parents : of each tag that of the reel that it came off, "" or one that is not among them where it came whole.
    Raises MarksError when reels came off each other in a circle.
    """
    first: dict[str, str] = {}
    for tag in parents:
        way: dict[str, None] = {}
        at = tag
        while at not in first and parents.get(at) in parents:
            if at in way:
                raise MarksError(f"{at} cannot have come off itself")
            way[at] = None
            at = parents[at]
        root = first.get(at, at)
        first |= dict.fromkeys([*way, at], root)
    return first


def in_a_circle(parents: Mapping[str, str]) -> set[str]:
    """Return the reels that would have come off themselves. parents : as `families` takes them."""
    children = dict(parents)
    # What came whole, or off what did, is in no circle: taken away until nothing more can be.
    while whole := [tag for tag, parent in children.items() if parent not in children]:
        for tag in whole:
            del children[tag]
    while leaves := children.keys() - set(children.values()):
        for tag in leaves:
            del children[tag]
    return set(children)


def family_books(members: Iterable[Member], reading: int = 0) -> dict[str, ReelBooks]:
    """
    Work out the books of reels and of all pieces off them, by tag.

    members : whole families, in any order. reading : as `reel_books` takes it. [ticks] Raises MarksError when a cut
    does not lie on its reel, or reels came off each other in a circle.
    """
    by_tag = {member.tag: member for member in sorted(members, key=lambda member: member.tag)}
    first = families({member.tag: member.parent for member in by_tag.values()})
    of_family: dict[str, list[Member]] = defaultdict(list)
    for tag, member in by_tag.items():
        of_family[first[tag]].append(member)
    books: dict[str, ReelBooks] = {}
    for root, family in of_family.items():
        books |= _Family(by_tag[root], family, reading).books
    return books


@dataclass(slots=True)
class _Family:
    """One family while its books are worked out: reels before the pieces off them."""

    root: Member
    members: Sequence[Member]
    reading: int
    books: dict[str, ReelBooks] = field(default_factory=dict)
    off: dict[str, list[Member]] = field(default_factory=lambda: defaultdict(list))
    kin: dict[str, Kin] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.members = _ended(self.root, self.members)
        by_tag = {member.tag: member for member in self.members}
        self.root = by_tag[self.root.tag]
        for member in self.members:
            if member is not self.root:
                self.off[member.parent].append(member)
        for pieces in self.off.values():
            pieces.sort(key=lambda each: _from_outside(by_tag[each.parent], each))
        measured = [pair for member in self.members for pair in taped_and_marked(member.reel, member.cuts)]
        self.kin[self.root.tag] = Kin(proven_factor(self.root.reel.unit, measured, self.reading))
        order = [self.root]
        for member in order:
            self.tell_pieces(member)
            order += self.off[member.tag]
        self.give(self.root, 0)

    def tell_pieces(self, member: Member) -> None:
        """Tell the pieces off a reel what its records, and those of the reels before it, take of each."""
        mine, off = self.kin[member.tag], {each.tag: each for each in self.off[member.tag]}
        real = [each for each in off.values() if not each.never]
        claims = [*own_claims(member.reel, member.cuts, _pieces(member, real)), *mine.claims]
        taken: dict[str, list[Claim]] = defaultdict(list)
        for one, other, over in overlaps(sorted(claims, key=by_place)):
            for claim, of in ((one, other), (other, one)):
                piece = off.get(of.name) if of.piece else None
                if piece is not None and self.takes(claim, piece, off, first=claim is one):
                    at = piece.reel.interval(member.reel.mark_at(over.start), member.reel.mark_at(over.end))
                    taken[piece.tag].append(replace(claim, at=at, own=False))
        for each in off.values():
            all_of_it = (Claim(Interval(0, each.reel.span), each.out_of, EARLIEST, own=False),)
            self.kin[each.tag] = Kin(
                factor=mine.factor,
                scale=_scale(member, each),
                claims=(all_of_it if each.never else tuple(taken[each.tag])) if each.reel.has_marks else (),
                beyond=each.reel.length if each.never and not each.reel.has_marks else 0,
            )

    def takes(self, claim: Claim, piece: Member, off: Mapping[str, Member], *, first: bool) -> bool:
        """Return whether what a claim and a piece share is gone from the piece. first : the claim is the outer one."""
        if not claim.piece or not claim.own:
            return claim.name != piece.out_of
        # A piece that came out of a cut has what was cut; of others the outer one.
        inside, other = bool(piece.out_of), bool(off[claim.name].out_of)
        return first if inside == other else other

    def give(self, member: Member, asked: int) -> int:
        """
        Work out the books of a reel and of the pieces off it; return what of `asked` none of them can have given.

        asked : what records of the reel that it came off take beyond all that was left there. [as `overdrawn`]
        """
        kin = replace(self.kin[member.tag], beyond=self.kin[member.tag].beyond + asked)
        claiming = [each for each in self.off[member.tag] if not self.lies_in_its_cut(member, each)]
        pieces = _pieces(member, claiming)
        books = reel_books(member.reel, member.cuts, self.reading, pieces, member.showings, kin)
        lacking, tags = books.overdrawn, {piece.tag for piece in pieces}
        for each in self.off[member.tag]:
            wanted = lacking if each.tag in tags else 0
            one = self.measure(member, each)
            back = floor(self.give(each, ceil(wanted * one)) / one)
            lacking -= wanted - min(wanted, back)
        found = books.overdrawn - lacking
        returned = min(lacking, asked)
        by_length = not member.reel.has_marks
        self.books[member.tag] = replace(
            books,
            beyond=0 if by_length else books.beyond - found - returned,
            given=books.given - found if by_length else books.given,
            taken=books.taken - returned if by_length else books.taken,
            overdrawn=lacking - returned,
            from_pieces=found,
        )
        return returned

    def measure(self, member: Member, piece: Member) -> Fraction:
        """Return what one of a reel's own measure, mark ticks or ticks, is in the measure of a piece off it."""
        if _place(member, piece) is not None:
            return Fraction(1)
        in_ticks = [
            LENGTH_PER_MARK[each.reel.unit] * (self.kin[each.tag].factor or 1) if each.reel.has_marks else Fraction(1)
            for each in (member, piece)
        ]
        return in_ticks[0] / in_ticks[1]

    def lies_in_its_cut(self, member: Member, piece: Member) -> bool:
        """Return whether a piece holds no more than the cut that it came out of, or never was."""
        if piece.never:
            return True
        cut = _cut_of(member, piece)
        if cut is None:
            return False
        at = _place(member, piece)
        if at is None or cut.outer is None or cut.inner is None:
            return piece.reel.length <= (cut.taped or 0) + self.reading
        least, lay = self.reading / LENGTH_PER_MARK[member.reel.unit], member.reel.interval(cut.outer, cut.inner)
        return at.start >= lay.start - least and at.end <= lay.end + least


def _ended(root: Member, members: Iterable[Member]) -> list[Member]:
    """Return the members of a family, where the cable ended told of the piece that holds that end."""
    by_tag = {member.tag: member for member in members}
    off: dict[str, list[str]] = defaultdict(list)
    for member in by_tag.values():
        off[member.parent].append(member.tag)
    order = [root.tag]
    for tag in order:
        order += off[tag]
        member = by_tag[tag]
        if member.reel.end is None:
            continue
        for each in (by_tag[other] for other in off[tag] if not by_tag[other].out_of):
            at = _place(member, each)
            if at and at.start < member.reel.held and (member.reel.held <= at.end or at.end >= member.reel.span):
                end = member.reel.end if each.reel.end is None else each.reel.end
                by_tag[each.tag] = replace(each, reel=replace(each.reel, end=end))
                by_tag[tag] = replace(member, reel=replace(member.reel, end=None))
                break
    return list(by_tag.values())


def _pieces(member: Member, off: Iterable[Member]) -> list[Piece]:
    """Return pieces as the reel that they came off sees them; marks of another unit tell it nothing."""
    return [
        Piece(each.tag, each.reel.length, each.reel.outer, each.reel.inner)
        if each.reel.unit == member.reel.unit
        else Piece(each.tag, each.reel.length)
        for each in off
    ]


def _place(member: Member, piece: Member) -> Interval | None:
    """Return where a piece lay on the reel that it came off; None where its marks do not tell."""
    return place_of(member.reel, _pieces(member, [piece])[0])


def _from_outside(member: Member, piece: Member) -> tuple[bool, int, int, str]:
    """Return what pieces are sorted by: where they begin, those of no known place last."""
    at = _place(member, piece)
    return (True, 0, 0, piece.tag) if at is None else (False, at.start, at.end, piece.tag)


def _cut_of(member: Member, piece: Member) -> CutMarks | None:
    """Return the cut of a reel that a piece came out of."""
    return next((cut for cut in member.cuts if cut.id == piece.out_of), None) if piece.out_of else None


def _scale(member: Member, piece: Member) -> Fraction | None:
    """Return a piece's length by tape over that by its marks, where the cut that it came out of was taped."""
    cut = _cut_of(member, piece)
    if cut is None or not piece.reel.has_marks:
        return None
    for by_marks, taped in taped_and_marked(member.reel, [cut]):
        if not mistyped(by_marks, taped):
            return taped / by_marks
    return None
