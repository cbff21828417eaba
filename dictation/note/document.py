"""A note laid out by no one yet: a title, a banner, and blocks of sentences, each naming the fields it rests on.

Every format that is read by people (text, Markdown, HTML, DOCX, PDF) lays out this and adds no fact of its own.
Whatever stands in it has been through ``printable``. Imports nothing of ours.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class Sentence:
    """One sentence or cell. fields: ids of the fields it rests on, none for what no field says."""

    text: str
    fields: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Heading:
    """The heading of a section."""

    text: str


@dataclass(frozen=True, slots=True)
class Paragraph:
    """Sentences that follow each other, with the spaces between them."""

    sentences: tuple[Sentence, ...]

    @property
    def text(self) -> str:
        """The whole paragraph as one line."""
        return " ".join("".join(sentence.text for sentence in self.sentences).split())


@dataclass(frozen=True, slots=True)
class Items:
    """A list, each item one or more sentences."""

    items: tuple[Paragraph, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """A table with a head; the first cell of a row names it."""

    head: tuple[str, ...]
    rows: tuple[tuple[Sentence, ...], ...]


@dataclass(frozen=True, slots=True)
class Facts:
    """Names and values about the record itself: who signed, when, checksums."""

    pairs: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class PicturePlace:
    """Where a format that shows pictures puts them."""


Block = Heading | Paragraph | Items | Table | Facts | PicturePlace
Length = Literal["full", "brief", "letter", "patient"]
LENGTHS: tuple[Length, ...] = ("full", "brief", "letter", "patient")


@dataclass(frozen=True, slots=True)
class Document:
    """The whole note. banner: what must be read before anything else, and is said again at the end; None where nothing is."""

    title: str
    banner: str | None
    blocks: tuple[Block, ...]


def sentences_of(block: Block) -> Iterator[Sentence]:
    """Give every sentence and cell of a block, in reading order."""
    match block:
        case Paragraph(sentences):
            yield from sentences
        case Items(items):
            for item in items:
                yield from item.sentences
        case Table(_, rows):
            for row in rows:
                yield from row
        case _:
            pass


def fields_of(document: Document) -> set[str]:
    """Return the ids of all fields that the sentences of a document rest on."""
    return {name for block in document.blocks for sentence in sentences_of(block) for name in sentence.fields}


def naming_fields(document: Document) -> Document:
    """Return the document with the ids of its fields after every sentence and cell: "No scar on the RIGHT. [f4]"."""
    return Document(document.title, document.banner, tuple(_named(block) for block in document.blocks))


def _named(block: Block) -> Block:
    def name(sentence: Sentence) -> Sentence:
        ids = f" [{', '.join(sentence.fields)}]" if sentence.fields else ""
        return Sentence(sentence.text + ids, sentence.fields)

    match block:
        case Paragraph(sentences):
            return Paragraph(tuple(map(name, sentences)))
        case Items(items):
            return Items(tuple(Paragraph(tuple(map(name, item.sentences))) for item in items))
        case Table(head, rows):
            return Table(head, tuple(tuple(map(name, row)) for row in rows))
        case _:
            return block
