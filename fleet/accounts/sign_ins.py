"""Where a person is signed in: listed, seen lately or not, and ended from any other device."""

import time
import uuid
from collections.abc import Callable, Collection
from dataclasses import dataclass
from datetime import datetime

from allauth.usersessions.models import UserSession
from django.contrib.auth import HASH_SESSION_KEY
from django.contrib.sessions.models import Session
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.crypto import constant_time_compare

from fleet.accounts.models import Membership, User
from fleet.core.addresses import address_of
from fleet.core.audit import audit_write, audited

SEEN = "seen"
SEEN_SECONDS = 300


@dataclass(frozen=True)
class SignIn:
    """One browser in which the person is signed in."""

    pk: int
    device: str
    address: str
    since: datetime
    seen: datetime
    is_this: bool


def sign_ins_of(user: User, this_session: str | None) -> list[SignIn]:
    """The person's running sign-ins, the newest first; one that a new password ended is none."""
    rows = list(UserSession.objects.filter(user_id=user.pk).order_by("-last_seen_at"))
    keys = [row.session_key for row in rows]
    running = {
        found.session_key
        for found in Session.objects.filter(session_key__in=keys, expire_date__gt=timezone.now())
        if constant_time_compare(found.get_decoded().get(HASH_SESSION_KEY, ""), user.get_session_auth_hash())
    }
    return [
        SignIn(
            pk=row.pk,
            device=row.user_agent,
            address=row.ip,
            since=row.created_at,
            seen=row.last_seen_at,
            is_this=row.session_key == this_session,
        )
        for row in rows
        if row.session_key in running
    ]


@audited()
def sign_ins_end(
    *, actor: User, user: User, keep: str | None = None, only: Collection[int] | None = None, reason: str = ""
) -> int:
    """End the person's sign-ins, or only these, but never the one to keep; how many were ended."""
    rows = UserSession.objects.filter(user_id=user.pk)
    if keep:
        rows = rows.exclude(session_key=keep)
    if only is not None:
        rows = rows.filter(pk__in=only)
    keys = list(rows.values_list("session_key", flat=True))
    ended, _each = Session.objects.filter(session_key__in=keys).delete()
    UserSession.objects.filter(session_key__in=keys).delete()
    if ended:
        for company in companies_of(user):
            audit_write(
                actor=actor,
                action="sign-ins ended",
                subject=user,
                company_id=company,
                after={"number": ended},
                reason=reason,
            )
    return ended


def companies_of(user: User) -> list[uuid.UUID]:
    """The companies in which the person holds a role that has not ended, whether or not they may sign in."""
    rows = Membership.objects.not_ended().filter(user=user).order_by("company")
    return list(rows.values_list("company", flat=True).distinct())


class SeenMiddleware:
    """Notes now and then that a sign-in is still used, and from where."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        seen = request.session.get(SEEN)
        if seen is not None and time.time() - seen > SEEN_SECONDS and request.user.is_authenticated:
            request.session[SEEN] = int(time.time())
            rows = UserSession.objects.filter(session_key=request.session.session_key)
            rows.update(last_seen_at=timezone.now(), ip=address_of(request))
        return self.get_response(request)
