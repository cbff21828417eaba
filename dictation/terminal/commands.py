"""The words a person may type, what each means, and how an answer is taken for one of them.

Decides nothing: an answer that could mean two words, or none, is asked again.
"""

from __future__ import annotations

from collections.abc import Mapping

from dictation.terminal.questions import Ask, Show

COMMANDS = {
    "confirm": "the sentence is right as it stands, word for word",
    "amend": "something in it is wrong: side, digit, joint, status, number …",
    "reject": "it does not belong in the record; you say why",
    "next": "decide later and go on (so does an empty line)",
    "back": "the one before",
    "play": "hear it again in the recording",
    "add": "a statement that is missing, by hand",
    "undo": "take back the last decision",
    "missing": "what such an examination would speak of, and nothing was said about",
    "progress": "how far you are, and what is left",
    "stop": "leave; everything decided is kept, and you go on from here next time",
    "help": "this list",
}
SIDES = {
    "right": "the side is RIGHT",
    "left": "the side is LEFT",
    "without": "no side applies to this",
}
GROUP = {"together": "all of these are right as they stand", "singly": "decide them one by one"}
CAUTION = {
    "acting": "you are acting on it",
    "done": "it has been done already",
    "irrelevant": "it does not apply to this patient",
}
"""Answers to a caution; next leaves it for later, not for good."""

SPEECH = {"clear": "nothing in it belongs in the record", "add": "it holds a statement: add it by hand"}

_IN_HELP = {"back", "undo", "missing", "progress"}
"""Commands that always work but are left to help, so that the line to answer stays short."""


def ask_command(commands: Mapping[str, str], ask: Ask, show: Show) -> str:
    """Return the command a person types, by its word or an unmistakable beginning.

    An empty line is "next", never a decision. commands: word -> what it means, which help prints.
    """
    prompt = f"{' · '.join(word for word in commands if word not in _IN_HELP)} > "
    while True:
        answer = ask(prompt).strip().casefold()
        if not answer:
            return "next"
        found = [word for word in commands if word == answer] or [word for word in commands if word.startswith(answer)]
        if len(found) != 1:
            show(f"  Say one of: {', '.join(found or commands)}.", "doubt")
        elif found[0] == "help":
            for word, meaning in commands.items():
                show(f"  {word:<9} {meaning}", "plain")
        else:
            return found[0]
