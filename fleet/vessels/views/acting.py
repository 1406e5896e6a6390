"""What was sent, and carrying out a service with it."""

from collections.abc import Callable
from typing import Any

from django.core.exceptions import ValidationError
from django.forms import BaseForm
from django.http import HttpRequest, QueryDict

from fleet.core.kept_forms import form_data
from fleet.vessels.forms import tell


def sent(request: HttpRequest) -> QueryDict | None:
    """What a form is bound to; None where the page is only looked at."""
    return form_data(request)


def carried_out(form: BaseForm, service: Callable[..., Any], **arguments: Any) -> Any:
    """What the service made; None when it refused, with its words then on the form."""
    try:
        return service(**arguments)
    except ValidationError as error:
        tell(form, error)
        return None
