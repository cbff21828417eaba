"""The store: every encounter with its drafts and its journal, in a file for its owner alone, or in a department's database.

Gives encounters to read and to add to. What is added is acknowledged once it is forced to disk, all of it or none; it is
refused where somebody else has added since this encounter was read. Imports the rest of the room, errors, settings and
writing.
"""

from __future__ import annotations

import contextlib
import hashlib
import uuid
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Connection, Engine, func, insert, inspect, select, update

from dictation.errors import InputError, OvertakenError, StoreError
from dictation.store import postgresql, schema
from dictation.store.engine import claim_file, make_engine, reading, writing
from dictation.store.facts import OPENED, TAKEN, Details, Facts, fold_facts, read_details, read_reference, stated_details
from dictation.store.journal import FIRST, Entry, Line, Moment, Step, read_lines, write_lines

FILE = "encounters.sqlite"
WHOLE = "store"
"""The chain of the store itself: which encounters were opened, imported, erased."""

ERASED, IMPORTED = "encounter erased", "encounter imported"
SIGNED = "signed"
"""What a signature's entry is called; the list counts them."""

OVERTAKEN = "Nothing was written, because somebody else has added to this encounter since; look at what they added first."


@dataclass(frozen=True, slots=True)
class Summary:
    """One line of the list of encounters. opened_at, last_at: UTC. drafts, signed: how many."""

    id: str
    reference: str
    opened_at: str
    last_at: str
    drafts: int
    signed: int


class Store:
    """The store in a folder. Made by ``open_store``."""

    def __init__(self, engine: Engine, folder: Path) -> None:
        self.engine = engine
        self.folder = folder
        self.name = postgresql.place(engine.url) if self.shared else f"the store in {folder}"

    @property
    def shared(self) -> bool:
        """Whether it is a department's, on a server, where several rooms write."""
        return self.engine.dialect.name == "postgresql"

    def encounters(self) -> list[Summary]:
        """Return a summary of every encounter, the last opened first."""
        table = schema.encounter
        columns = (table.c.id, table.c.reference, table.c.opened_at, table.c.last_at, table.c.drafts, table.c.signed)
        with reading(self.engine, self.name) as connection:
            rows = connection.execute(select(*columns).order_by(table.c.opened_at.desc(), table.c.reference)).all()
        return [Summary(*row) for row in rows]

    def find(self, reference: str) -> Encounter | None:
        """Return the encounter of a reference, None where there is none. Raises RecordError where its journal is broken."""
        with reading(self.engine, self.name) as connection:
            found = _find(connection, reference)
        return None if found is None else Encounter(self, found)

    def encounter(self, reference: str) -> Encounter:
        """Return the encounter of a reference. Raises InputError where there is none, RecordError as find does."""
        found = self.find(read_reference(reference))
        if found is None:
            raise InputError("There is no encounter of that reference; `dictation encounter list` shows those there are.")
        return found

    def holding(self, draft: str) -> list[Encounter]:
        """Return the encounters that hold a draft, by its checksum."""
        with reading(self.engine, self.name) as connection:
            rows = connection.execute(select(schema.draft.c.encounter).where(schema.draft.c.sha256 == draft)).all()
        return [Encounter(self, row.encounter) for row in rows]

    def open_encounter(self, reference: str, details: Details, who: str, time: Moment) -> Encounter:
        """Open an encounter and return it. Raises InputError for a reference that is taken, or cannot be one."""
        reference, new = read_reference(reference), uuid.uuid4().hex
        read_details(stated_details(details))
        step = Step(OPENED, after={"encounter": new, "reference": reference, "details": stated_details(details)})
        lines = write_lines([step], _named(who), time, FIRST)
        with writing(self.engine, self.name) as connection:
            refuse_taken(connection, reference)
            add_encounter(connection, new, reference, lines, who, time)
        return Encounter(self, new)

    def journal(self) -> tuple[Entry, ...]:
        """Return the entries of the store's own journal, verified."""
        with reading(self.engine, self.name) as connection:
            return read_lines(read_chain(connection, WHOLE), self.name)

    def close(self) -> None:
        """Let go of the database."""
        self.engine.dispose()


class Encounter:
    """One encounter as read: its entries, and what they state. Appending is all or nothing, and only to what was read."""

    def __init__(self, store: Store, id_: str) -> None:
        self.store = store
        self.id = id_
        self.entries: tuple[Entry, ...] = ()
        self._facts: Facts | None = None
        self.refresh()

    @property
    def facts(self) -> Facts:
        """What its entries state."""
        assert self._facts is not None, "an encounter is read when it is made"
        return self._facts

    @property
    def name(self) -> str:
        """What an error calls its journal."""
        return "the encounter's journal"

    @property
    def head(self) -> str:
        """The hash of the last entry."""
        return self.entries[-1].hash if self.entries else FIRST

    @property
    def reference(self) -> str:
        """The clinic's reference."""
        return self.facts.reference

    def refresh(self) -> tuple[Entry, ...]:
        """Read what was added since, and return it. Raises RecordError naming the first broken entry."""
        with reading(self.store.engine, self.store.name) as connection:
            table = schema.chain
            chain = connection.execute(select(table.c.head, table.c.length).where(table.c.id == self.id)).one_or_none()
            if chain is None:
                raise InputError("This encounter was erased.")
            lines = read_chain(connection, self.id, after=len(self.entries))
        new = read_lines(lines, self.name, after=len(self.entries), previous=self.head)
        entries = (*self.entries, *new)
        if (len(entries), entries[-1].hash if entries else FIRST) != (chain.length, chain.head):
            raise StoreError("The last entries of the encounter's journal are missing; restore the store from a back-up.")
        self.entries, self._facts = entries, fold_facts(new, self.name, self._facts)
        return new

    def append(self, steps: Sequence[Step], who: str, time: Moment) -> tuple[Entry, ...]:
        """Write the steps, force them to disk, and return them as entries: acknowledged then, all or none.

        Raises OutputError or StoreError where they cannot be written, OvertakenError where somebody else has added to the
        encounter since it was read (``refresh`` shows what); nothing is added then.
        """
        before = len(self.entries)
        with self.adding(steps, who, time):
            pass
        return self.entries[before:]

    @contextlib.contextmanager
    def adding(self, steps: Sequence[Step], who: str, time: Moment) -> Iterator[Connection]:
        """Write the steps, and give the connection for what belongs to them: all of it is on disk at the end, or none.

        Raises as append does; the encounter in memory is as it was then.
        """
        lines = write_lines(steps, _named(who), time, self.head)
        new = read_lines(lines, self.name, after=len(self.entries), previous=self.head)
        facts = fold_facts(new, self.name, self._facts)
        with writing(self.store.engine, self.store.name) as connection:
            table = schema.chain
            head = connection.execute(select(table.c.head).where(table.c.id == self.id).with_for_update()).scalar_one_or_none()
            if head != self.head:
                raise OvertakenError(OVERTAKEN)
            add_lines(connection, self.id, lines, len(self.entries))
            count_up(connection, self.id, steps, time)
            yield connection
        self.entries, self._facts = (*self.entries, *new), facts

    def take_draft(self, content: bytes, recording: str, name: str, *, spoken: bool, who: str, time: Moment) -> str:
        """Keep a draft, byte for byte, and return its checksum. recording, name: what it was drafted from.

        Raises InputError where the same recording belongs to another encounter.
        """
        sha256 = hashlib.sha256(content).hexdigest()
        if sha256 in self.facts.drafts:
            return sha256
        step = Step(TAKEN, after={"draft": sha256, "recording": recording, "name": name, "spoken": spoken})
        with self.adding([step], who, time) as connection:
            if spoken:
                refuse_elsewhere(connection, recording, self.id)
            connection.execute(insert(schema.draft).values(encounter=self.id, sha256=sha256, content=content))
        return sha256

    def draft_content(self, sha256: str) -> bytes:
        """Return a draft, byte for byte. Raises StoreError where it is no longer what its checksum says."""
        table = schema.draft
        with reading(self.store.engine, self.store.name) as connection:
            content = connection.execute(
                select(table.c.content).where(table.c.encounter == self.id, table.c.sha256 == sha256)
            ).scalar_one_or_none()
        if content is None or hashlib.sha256(content).hexdigest() != sha256:
            raise StoreError("A draft in the store is missing or was changed; restore the store from a back-up.")
        return bytes(content)


def open_store(folder: Path, url: str | None = None) -> Store:
    """Return the store in a folder, made where there is none yet.

    url: the database, a file in the folder unless given; sound is kept in the folder in any case. Raises OutputError where it
    cannot be made, StoreError where it is damaged, held by another program, out of reach, or of a newer schema than this
    program's.
    """
    if url is None:
        claim_file(folder / FILE)
        url = f"sqlite:///{folder / FILE}"
    store = Store(make_engine(url), folder)
    try:
        with reading(store.engine, store.name) as connection:
            ready = _version(connection, store.name) == schema.SCHEMA_VERSION
        if not ready:
            _make(store)
    except BaseException:
        store.close()
        raise
    return store


def find_store(folder: Path, url: str | None = None) -> Store | None:
    """Return the store in a folder or a database, None where there is no such file. Raises as open_store does."""
    return open_store(folder, url) if url is not None or (folder / FILE).exists() else None


def _version(connection: Connection, name: str) -> int | None:
    """The schema version of a store, None where nothing is in it. Raises StoreError for a newer one, or none of ours."""
    tables = inspect(connection).get_table_names()
    if not tables:
        return None
    if schema.meta.name not in tables:
        raise StoreError(f"{name} is a database of another program; choose another.")
    found = connection.execute(select(schema.meta.c.value).where(schema.meta.c.key == "schema_version")).scalar_one_or_none()
    if found is None or not found.isdecimal() or int(found) < 1:
        raise StoreError(f"{name} does not say which version it is of; restore it from a back-up.")
    if int(found) > schema.SCHEMA_VERSION:
        raise StoreError(
            f"{name} has store version {found}, newer than this program's {schema.SCHEMA_VERSION}; update the program."
        )
    return int(found)


def _make(store: Store) -> None:
    with writing(store.engine, store.name) as connection:
        if _version(connection, store.name) is not None:
            return  # another process has made it meanwhile
        schema.metadata.create_all(connection)
        connection.execute(insert(schema.meta).values(key="schema_version", value=str(schema.SCHEMA_VERSION)))
        connection.execute(insert(schema.chain).values(id=WHOLE, head=FIRST, length=0))


def read_chain(connection: Connection, chain: str, *, after: int = 0) -> list[Line]:
    """Return the lines of a journal, those after a number. Raises StoreError where one is missing."""
    table = schema.entry
    rows = connection.execute(
        select(table.c.number, table.c.content, table.c.hash)
        .where(table.c.chain == chain, table.c.number > after)
        .order_by(table.c.number)
    ).all()
    for place, row in enumerate(rows, after + 1):
        if row.number != place:
            raise StoreError(f"Entry {place} of a journal is missing; restore the store from a back-up.")
    return [Line(row.content, row.hash) for row in rows]


def add_lines(connection: Connection, chain: str, lines: Sequence[Line], after: int) -> None:
    """Add lines to a journal that ends with the entry numbered after."""
    connection.execute(
        insert(schema.entry),
        [
            {"chain": chain, "number": number, "content": line.content, "hash": line.hash}
            for number, line in enumerate(lines, after + 1)
        ],
    )
    connection.execute(
        update(schema.chain).where(schema.chain.c.id == chain).values(head=lines[-1].hash, length=after + len(lines))
    )


def add_to_whole(connection: Connection, step: Step, who: str, time: Moment) -> None:
    """Add one step to the store's own journal."""
    table = schema.chain
    chain = connection.execute(select(table.c.head, table.c.length).where(table.c.id == WHOLE).with_for_update()).one()
    add_lines(connection, WHOLE, write_lines([step], _named(who), time, chain.head), chain.length)


def add_encounter(
    connection: Connection, id_: str, reference: str, lines: Sequence[Line], who: str, time: Moment, *, what: str = OPENED
) -> None:
    """Add an encounter with its first lines, and say so in the store's own journal."""
    connection.execute(insert(schema.chain).values(id=id_, head=FIRST, length=0))
    connection.execute(
        insert(schema.encounter).values(
            id=id_, reference=reference, key=reference.casefold(), opened_at=time.at, last_at=time.at, drafts=0, signed=0
        )
    )
    add_lines(connection, id_, lines, 0)
    add_to_whole(connection, Step(what, after={"encounter": id_}), who, time)


def count_up(connection: Connection, id_: str, steps: Sequence[Step] | Sequence[Entry], time: Moment) -> None:
    """Bring the summary of an encounter up to date with steps added to it."""
    table = schema.encounter
    connection.execute(
        update(table)
        .where(table.c.id == id_)
        .values(
            last_at=time.at,
            drafts=table.c.drafts + sum(step.what == TAKEN for step in steps),
            signed=table.c.signed + sum(step.what == SIGNED for step in steps),
        )
    )


def refuse_taken(connection: Connection, reference: str) -> None:
    """Raise InputError where an encounter has the reference already."""
    if _find(connection, reference) is not None:
        raise InputError("There is an encounter of that reference already; choose another, or add to that one.")


def refuse_elsewhere(connection: Connection, recording: str, id_: str) -> None:
    """Raise InputError where another encounter names a recording as its own: one of the two is the wrong patient's."""
    table = schema.sound
    other = connection.execute(
        select(func.count()).select_from(table).where(table.c.sha256 == recording, table.c.encounter != id_)
    ).scalar_one()
    if other:
        raise InputError("This recording belongs to another encounter already; check which patient it is of.")


def _find(connection: Connection, reference: str) -> str | None:
    table = schema.encounter
    found: str | None = connection.execute(
        select(table.c.id).where(table.c.key == " ".join(reference.split()).casefold())
    ).scalar_one_or_none()
    return found


def _named(who: str) -> str:
    if not who.strip():
        raise InputError("What is written to the store needs the name of the person who does it.")
    return who.strip()
