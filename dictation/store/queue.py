"""Which recordings are drafted, and who drafts one now: so that no two workers of a department draft the same.

For a store on a server. A recording is held by a row's lock, which the server lets go of when its holder ends, however that
was: nothing must be noticed, timed or cleared up. The list holds checksums alone, and no decision; a store without it is
whole. Imports the rest of the room.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from sqlalchemy import Column, ColumnElement, MetaData, String, Table, exc, insert, inspect, select, update

from dictation.store.engine import reading, translated, writing
from dictation.store.journal import Moment
from dictation.store.store import Store

if TYPE_CHECKING:
    from sqlalchemy import Connection, Transaction

_metadata = MetaData()

drafting = Table(
    "drafting",
    _metadata,
    Column("recording", String(64), primary_key=True),
    Column("made_with", String(64), primary_key=True),
    Column("done_at", String(20), nullable=True),
)


@dataclass(frozen=True, slots=True)
class Key:
    """A recording by its checksum, and what it is drafted with, by a checksum over lexicon, recogniser and model."""

    recording: str
    made_with: str


class Hold:
    """A recording held for drafting. Ends with ``done`` or ``let_go``, or with the process."""

    def __init__(self, store: Store, key: Key, connection: Connection, transaction: Transaction) -> None:
        self._store, self._key = store, key
        self._connection, self._transaction = connection, transaction

    def done(self, time: Moment) -> None:
        """Say that the recording is drafted and its draft kept, and let go of it."""
        with translated(self._store.name), self._connection, self._transaction:
            self._connection.execute(update(drafting).where(*_is(self._key)).values(done_at=time.at))

    def let_go(self) -> None:
        """Leave the recording to whoever takes it up next."""
        with translated(self._store.name), self._connection:
            self._transaction.rollback()


class Queue:
    """The list of what is drafted, in a store on a server."""

    def __init__(self, store: Store) -> None:
        self._store = store
        with writing(store.engine, store.name) as connection:
            if drafting.name not in inspect(connection).get_table_names():
                drafting.create(connection)

    def is_done(self, key: Key) -> bool:
        """Return whether a recording is drafted already, by whomever."""
        with reading(self._store.engine, self._store.name) as connection:
            return connection.execute(select(drafting.c.done_at).where(*_is(key))).scalar_one_or_none() is not None

    def hold(self, key: Key) -> Hold | None:
        """Return a recording held for drafting, None where it is done, or another worker holds it."""
        with writing(self._store.engine, self._store.name) as connection:
            if connection.execute(select(drafting.c.recording).where(*_is(key))).one_or_none() is None:
                connection.execute(insert(drafting).values(recording=key.recording, made_with=key.made_with))
        with translated(self._store.name):
            connection = self._store.engine.connect()
            try:
                transaction = connection.begin()
                free = select(drafting.c.recording).where(*_is(key), drafting.c.done_at.is_(None))
                if connection.execute(free.with_for_update(skip_locked=True)).one_or_none() is not None:
                    return Hold(self._store, key, connection, transaction)
            except exc.SQLAlchemyError:
                connection.close()
                raise
            connection.close()
            return None


def _is(key: Key) -> tuple[ColumnElement[bool], ColumnElement[bool]]:
    return drafting.c.recording == key.recording, drafting.c.made_with == key.made_with
