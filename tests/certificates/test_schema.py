"""docs/certificate.schema.json describes the record that certificates carry."""

import copy
import json
from collections.abc import Callable
from typing import Any

import pytest

from fleet.certificates.snapshot import SCHEMA
from fleet.records.snapshot import SCHEMA as RECORD_SCHEMA
from tests.calculation.schema import CERTIFICATE, complaints
from tests.certificates.signed import SignedPaper

pytestmark = [pytest.mark.django_db, pytest.mark.pdf]


def test_a_real_record_is_as_the_schema_says(signed_paper: SignedPaper) -> None:
    assert complaints(json.loads(signed_paper.snapshot), CERTIFICATE) == []


def test_the_schema_has_the_name_that_the_record_gives_itself(signed_paper: SignedPaper) -> None:
    snapshot = json.loads(signed_paper.snapshot)
    assert CERTIFICATE["$id"] == snapshot["schema"] == SCHEMA
    assert CERTIFICATE["$defs"]["record"]["properties"]["schema"] == {"enum": [RECORD_SCHEMA]}
    assert snapshot["record"]["calculation_version"]


@pytest.mark.parametrize(
    "spoil",
    [
        lambda snapshot: snapshot.pop("record_sha256"),
        lambda snapshot: snapshot.update(schema="brake-rendering-certificate/2"),
        lambda snapshot: snapshot["certificate"].update(code="1234"),
        lambda snapshot: snapshot["record"]["readings"][0].update(load_n="326"),
        lambda snapshot: snapshot["record"]["kit"]["gauge"].pop("full_scale"),
        lambda snapshot: snapshot["record"]["trust"].update(whisker=[0.5]),
    ],
)
def test_another_thing_is_not(signed_paper: SignedPaper, spoil: Callable[[dict[str, Any]], Any]) -> None:
    snapshot = copy.deepcopy(json.loads(signed_paper.snapshot))
    spoil(snapshot)
    assert complaints(snapshot, CERTIFICATE)
