"""From a submission's canonical bytes back to its content."""

import json
from typing import Any

from fleet.records.models import Submission


def read_content(submission: Submission) -> dict[str, Any]:
    """The content of a submission, from its bytes."""
    content: dict[str, Any] = json.loads(bytes(submission.content))
    return content
