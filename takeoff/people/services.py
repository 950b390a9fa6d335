"""Every change of who belongs to a site: inviting by a signed link, joining, changing roles, leaving."""

from __future__ import annotations

from collections.abc import Iterable

from django.core import signing
from django.db import transaction
from django.utils import timezone

from takeoff.database.folding import first_spellings, folded
from takeoff.database.locks import lock
from takeoff.people.models import Invitation, Member, User
from takeoff.sites.models import Site

INVITATION_DAYS = 7
_SALT = "takeoff.sites.invitation"


class MembershipError(Exception):
    """A change that would leave a site without a planner, or an invitation that no longer works."""


@transaction.atomic
def invite(*, site: Site, email: str, roles: Iterable[str], invited_by: User | None = None) -> Invitation:
    """Make an invitation for `email` with `roles`; its link comes from `invitation_token`."""
    chosen = [role for role in Member.Role.values if role in set(roles)]
    if not chosen:
        raise MembershipError("An invitation names at least one role.")
    invitation = Invitation(
        site=site, email=email.lower(), roles=chosen, invited_by=invited_by, invited_at=timezone.now()
    )
    invitation.full_clean()
    invitation.save()
    return invitation


def invitation_token(invitation: Invitation) -> str:
    """Return the signed text that stands for the invitation in its link."""
    return signing.dumps([invitation.site_id, invitation.pk], salt=_SALT)


def invitation_from(token: str) -> Invitation:
    """Return the invitation of a link. Raises MembershipError when it is forged, old, used or withdrawn."""
    try:
        site_id, key = signing.loads(token, salt=_SALT, max_age=INVITATION_DAYS * 24 * 3600)
    except signing.SignatureExpired as error:
        raise MembershipError(f"This invitation is older than {INVITATION_DAYS} days.") from error
    except signing.BadSignature as error:
        raise MembershipError("This link is not complete.") from error
    site = Site.objects.filter(pk=site_id).first()
    invitation = Invitation.objects.of(site).filter(pk=key).select_related("site").first() if site else None
    if invitation is None:
        raise MembershipError("This invitation was withdrawn.")
    if invitation.accepted_at is not None:
        raise MembershipError("This invitation was used already.")
    return invitation


@transaction.atomic
def join(*, invitation: Invitation, user: User | None = None, password: str = "", name: str = "") -> User:
    """Give the person who was invited the roles of the invitation; without `user`, make one with `password`."""
    (locked,) = lock(Invitation.objects.of(invitation.site).filter(pk=invitation.pk))
    if locked.accepted_at is not None:
        raise MembershipError("This invitation was used already.")
    if user is None:
        user = User.objects.create_user(locked.email, email=locked.email, password=password, last_name=name)
    for role in locked.roles:
        invitation.site.members.get_or_create(user=user, role=role)
    locked.accepted_at = timezone.now()
    locked.save(update_fields=["accepted_at"])
    return user


@transaction.atomic
def withdraw_invitation(*, site: Site, invitation_id: int) -> None:
    """Make an open invitation's link useless."""
    Invitation.objects.of(site).filter(pk=invitation_id, accepted_at=None).delete()


@transaction.atomic
def change_roles(*, site: Site, user_id: int, roles: Iterable[str]) -> None:
    """Give a member exactly `roles`; none takes the person off the site. The last planner stays one."""
    wanted = set(roles)
    # Locked, so that two planners cannot take each other off at the same moment.
    rows = lock(Member.objects.of(site))
    held = {row.role for row in rows if row.user_id == user_id}
    if not held:
        raise MembershipError("This person is no member of the site.")
    planners = {row.user_id for row in rows if row.role == Member.Role.PLANNER}
    if planners == {user_id} and Member.Role.PLANNER not in wanted:
        raise MembershipError("A site keeps at least one planner: make another one first.")
    Member.objects.of(site).filter(user_id=user_id, role__in=held - wanted).delete()
    for role in sorted(wanted - held):
        Member.objects.create(site=site, user_id=user_id, role=role)


@transaction.atomic
def add_name(*, site: Site, name: str) -> None:
    """Let forms of a site offer the name of a crew, or of somebody without an account; a known one stays as it is."""
    (kept,) = lock(Site.objects.filter(pk=site.pk))
    names = first_spellings([*kept.names, name])
    Site.objects.filter(pk=site.pk).update(names=sorted(names.values(), key=folded))


@transaction.atomic
def save_site(*, site: Site) -> Site:
    """Create a site or change its settings. Raises ValidationError, its messages by field."""
    site.full_clean()
    site.save()
    return site
