from allauth.account.adapter import DefaultAccountAdapter
from django.http import HttpRequest


class ClosedSignUpAdapter(DefaultAccountAdapter):
    """People are added by an administrator; nobody signs themselves up."""

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return False
