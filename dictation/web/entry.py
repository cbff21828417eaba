"""Who is let in: a one-time code that the terminal shows, exchanged for a session that ends when nobody uses it.

Nothing is kept on disk: a restarted program asks for a new code. Imports nothing of ours.
"""

from __future__ import annotations

import secrets
import time
from collections.abc import Callable
from dataclasses import dataclass

IDLE_S = 30 * 60.0
"""A session that nobody used for so long asks for a new code; half an hour, chosen by us, no source."""

ATTEMPTS = 5
"""Wrong codes after which the code is void, and the terminal shows another."""

_LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"
_LENGTH = 12  # 31 ** 12: 59 bits


@dataclass(slots=True, eq=False)
class Session:
    """One browser that was let in. who: the name that its decisions are written under, None while none was given."""

    id: str
    used_at: float
    who: str | None = None


class Entry:
    """The code now good, and the sessions. tell: is given each new code, to show it where the program was started."""

    def __init__(
        self, tell: Callable[[str], None], *, idle_s: float = IDLE_S, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._tell = tell
        self.idle_s = idle_s
        self._clock = clock
        self._code: str | None = None
        self._wrong = 0
        self._sessions: dict[str, Session] = {}

    def offer(self) -> str:
        """Return the code now good; where there is none, make one and tell it."""
        if self._code is None:
            letters = "".join(secrets.choice(_LETTERS) for _ in range(_LENGTH))
            self._code, self._wrong = f"{letters[:4]}-{letters[4:8]}-{letters[8:]}", 0
            self._tell(self._code)
        return self._code

    def admit(self, typed: str, who: str | None) -> Session | None:
        """Return a new session for the code, which is then used up; None for any other, and after too many a new code."""
        if self._code is None or not secrets.compare_digest(_bare(typed), _bare(self._code)):
            self._wrong += 1
            if self._code is not None and self._wrong >= ATTEMPTS:
                self._code = None
                self.offer()
            return None
        self._code = None
        session = Session(secrets.token_urlsafe(32), self._clock(), who)
        self._sessions[session.id] = session
        return session

    def session(self, id_: str | None) -> Session | None:
        """Return the session of a cookie, None where there is none or it has ended."""
        found = self._sessions.get(id_ or "")
        if found is not None and not self.alive(found):
            return None
        return found

    def alive(self, session: Session) -> bool:
        """Return whether a session still holds; one that has ended is forgotten."""
        if session.id in self._sessions and self._clock() - session.used_at <= self.idle_s:
            return True
        self._sessions.pop(session.id, None)
        return False

    def touch(self, session: Session) -> None:
        """Note that somebody is there."""
        session.used_at = self._clock()

    def leave(self, session: Session) -> None:
        """End a session."""
        self._sessions.pop(session.id, None)


def _bare(code: str) -> bytes:
    return "".join(ch for ch in code.casefold() if ch.isalnum()).encode()
