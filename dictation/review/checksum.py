"""The checksum that a signature freezes a record under. Imports store's facts and types: it reads a
complete record, it makes none.
"""

from __future__ import annotations

import hashlib
import json
from typing import TYPE_CHECKING

from dictation.store.facts import stated_details

if TYPE_CHECKING:
    from dictation.review.records import CompleteRecord


def record_checksum(complete: CompleteRecord, program_version: str) -> str:
    """Return the SHA-256 over reference, what the encounter states, record, transcript, lexicon version and program version,
    as lower-case hex.

    Keys at their default are left out, so that a key added to the record later does not change old checksums.
    """
    content: dict[str, object] = {
        "reference": complete.reference,
        "draft_sha256": complete.draft_sha256,
        "source": complete.draft.source.model_dump(mode="json", exclude_defaults=True),
        "transcript": complete.draft.transcript.model_dump(mode="json", exclude_defaults=True),
        "lexicon_version": complete.draft.source.lexicon_version,
        "program_version": program_version,
        "record": [
            {
                "field": d.field.model_dump(mode="json", exclude_defaults=True),
                "first": d.first.model_dump(mode="json", exclude_defaults=True) if d.first else None,
                "decision": d.state,
                "sentence": d.sentence,
                "reason": d.reason,
                "who": d.who,
                "time": [d.time.at, d.time.utc_offset_min] if d.time else None,
            }
            for d in complete.decisions
        ],
    }
    if complete.details is not None:
        content["details"] = stated_details(complete.details)
    return hashlib.sha256(json.dumps(content, sort_keys=True, separators=(",", ":")).encode("utf-8")).hexdigest()
