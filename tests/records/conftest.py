"""A fixed today for the pages of the records app, so that no test hangs on the day it runs."""

from datetime import date

import pytest
from django.utils import timezone

TODAY = date(2026, 11, 25)


@pytest.fixture
def today(monkeypatch: pytest.MonkeyPatch) -> date:
    monkeypatch.setattr(timezone, "localdate", lambda *_arguments: TODAY)
    return TODAY
