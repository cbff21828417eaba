"""The tables of the store. What is decided stands in ``entry`` alone; the other tables find it, or hold what it names.

Written for any database that SQLAlchemy speaks to. Imports nothing of ours.
"""

from __future__ import annotations

from sqlalchemy import Column, ForeignKey, Integer, LargeBinary, MetaData, String, Table, Text

SCHEMA_VERSION = 1

metadata = MetaData()

meta = Table(
    "meta",
    metadata,
    Column("key", String(40), primary_key=True),
    Column("value", String(200), nullable=False),
)

chain = Table(  # one journal; head and length are kept here so that a tail cut off shows
    "chain",
    metadata,
    Column("id", String(32), primary_key=True),
    Column("head", String(64), nullable=False),
    Column("length", Integer, nullable=False),
)

entry = Table(
    "entry",
    metadata,
    Column("chain", ForeignKey("chain.id"), primary_key=True),
    Column("number", Integer, primary_key=True),
    Column("content", Text, nullable=False),
    Column("hash", String(64), nullable=False),
)

encounter = Table(  # a summary of each journal, for the list; ``verify`` compares it with the journal
    "encounter",
    metadata,
    Column("id", ForeignKey("chain.id"), primary_key=True),
    Column("reference", String(40), nullable=False),
    Column("key", String(40), nullable=False, unique=True),  # the reference without its case
    Column("opened_at", String(20), nullable=False, index=True),
    Column("last_at", String(20), nullable=False),
    Column("drafts", Integer, nullable=False),
    Column("signed", Integer, nullable=False),
)

draft = Table(
    "draft",
    metadata,
    Column("encounter", ForeignKey("encounter.id"), primary_key=True),
    Column("sha256", String(64), primary_key=True, index=True),
    Column("content", LargeBinary, nullable=False),
)

sound = Table(  # where the sound is on this machine; that it was kept or deleted stands in the journal
    "sound",
    metadata,
    Column("encounter", ForeignKey("encounter.id"), primary_key=True),
    Column("sha256", String(64), primary_key=True, index=True),
    Column("path", Text, nullable=True),  # null: the copy in the store's own folder
    Column("kept_at", String(20), nullable=False),
)
