"""The person behind a request that has passed the sign-in."""

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest

from fleet.accounts.models import User


def signed_in_person(request: HttpRequest) -> User:
    """The signed-in person as our own User; 403 where nobody is signed in."""
    if not isinstance(request.user, User):
        raise PermissionDenied
    return request.user
