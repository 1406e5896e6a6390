"""Whether this process answers and reaches its database: for the machine that keeps it running."""

from django.contrib.auth.decorators import login_not_required
from django.db import connection
from django.http import HttpRequest, HttpResponse
from django.views.decorators.cache import never_cache


@login_not_required
@never_cache
def health(request: HttpRequest) -> HttpResponse:
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")
    return HttpResponse("ok", content_type="text/plain")
