"""The plain words of a lexicon, for the patient's summary: read from ``plain`` in a lexicon file, checked.

Imports reading and checking.
"""

from __future__ import annotations

from collections.abc import Mapping

from dictation.lexicon.checking import pattern_problem
from dictation.lexicon.reading import Mapped, fault

SECTIONS = ("patterns", "names", "structures", "joints", "aspects")


def add_plain(file: Mapped, plain: dict[str, Mapping[str, str]]) -> None:
    """Add the plain words of a file to those read before; a clinic's own replace or add to them, one by one."""
    listed = file.get("plain")
    if listed is None:
        return
    if not isinstance(listed, Mapped):
        raise fault(file.file, file.key_lines["plain"], None, "plain must be a mapping")
    for section, words in listed.items():
        at = listed.key_lines[section]
        if section not in SECTIONS:
            raise fault(file.file, at, section, f"no such part of plain; known: {', '.join(SECTIONS)}")
        if not isinstance(words, Mapped):
            raise fault(file.file, at, section, f"{section} must be a mapping")
        for name, text in words.items():
            if not isinstance(text, str) or not text.strip():
                raise fault(file.file, words.key_lines[name], name, "this must be text; put it in quotes")
            status = name.rpartition(".")[2]
            if section == "patterns" and (problem := pattern_problem(status, text, placed=False)):
                raise fault(file.file, words.key_lines[name], name, problem)
        plain[section] = {**plain.get(section, {}), **words}
