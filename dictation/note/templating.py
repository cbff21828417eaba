"""A note arranged by a template: Jinja2, the clinic's own where there is one, in a sandbox.

A template places statements, it cannot change them: in it each is a mark that stands for the whole sentence. What a
template leaves out of the statements, the addenda, the facts of the record and the cautions is set at the end all the
same, so a template can lose nothing. A broken one is a TemplateError with its file and line, and no note; the record
stays as it is. The format of templates is in DEVELOPERS.md, "Templates".
"""

from __future__ import annotations

import re
import traceback
from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any

from jinja2 import ChoiceLoader, FileSystemLoader, StrictUndefined, TemplateNotFound, TemplateSyntaxError
from jinja2.exceptions import TemplateRuntimeError, UndefinedError
from jinja2.sandbox import ImmutableSandboxedEnvironment

from dictation.errors import TemplateError
from dictation.lexicon.entries import Lexicon
from dictation.note.content import Content, Part, note_content
from dictation.note.document import (
    Block,
    Document,
    Facts,
    Heading,
    Items,
    Paragraph,
    PicturePlace,
    Sentence,
    fields_of,
    naming_fields,
)
from dictation.note.options import NoteOptions
from dictation.note.plain import plain_words
from dictation.note.printable import printable
from dictation.note.wording import CLINICAL_WORDS
from dictation.review.records import CompleteRecord, SignedRecord

ENDING = ".jinja"
SHIPPED = Path(__file__).parent / "templates"
TITLE = "Hand, wrist and elbow examination"
LEFT_OUT = "Also in the record"
"""Heads what the template did not place."""

_OPEN, _CLOSE, _VALUE = "\ue000", "\ue001", "\ue002"  # of no spoken or imported text: printable() leaves them out
_MARK = re.compile(f"{_OPEN}([0-9]+){_CLOSE}")


def note_document(record: CompleteRecord | SignedRecord, lexicon: Lexicon, options: NoteOptions | None = None) -> Document:
    """Return the note, arranged.

    Raises RecordError where a signed record is no longer what was signed, TemplateError where the template cannot be used.
    """
    options = options or NoteOptions()
    words = plain_words(lexicon) if options.length == "patient" else CLINICAL_WORDS
    content = note_content(record, lexicon, options, words)
    marks = _Marks()
    rendered = _render(f"{options.length}{ENDING}", _values(content, marks), options.templates)
    document = _complete(_read(rendered, marks, content.banner), marks, content)
    return naming_fields(document) if options.name_fields else document


class _Marks:
    """What the marks of one rendering stand for, and which were used."""

    def __init__(self) -> None:
        self.things: list[Sentence | Block] = []
        self.used: set[int] = set()

    def mark(self, thing: Sentence | Block) -> str:
        """Return the mark that stands for a sentence or block in a template."""
        self.things.append(thing)
        return f"{_OPEN}{len(self.things) - 1}{_CLOSE}"

    def take(self, number: str) -> Sentence | Block:
        self.used.add(int(number))
        return self.things[int(number)]


def _values(content: Content, marks: _Marks) -> dict[str, Any]:
    """The names a template may use."""

    def lines(sentences: Sequence[Sentence]) -> list[str]:
        return [marks.mark(sentence) for sentence in sentences]

    def part(one: Part) -> dict[str, Any]:
        return {
            "id": one.id,
            "heading": one.heading,
            "lines": lines(one.lines),
            "table": marks.mark(one.table) if one.table else "",
            "sentences": lines(one.sentences),
        }

    parts = [part(one) for one in content.parts]
    return {
        **content.texts,
        "parts": parts,
        "part_of": _Parts({one["id"]: one for one in parts}),
        "sides": [
            {
                "name": side.name,
                "findings": lines(side.findings),
                "ordinary": lines(side.ordinary),
                "not_assessed": lines(side.not_assessed),
            }
            for side in content.sides
        ],
        "measures": lines(content.measures),
        "addenda": [{"heading": heading, "line": marks.mark(line)} for heading, line in content.addenda],
        "facts": marks.mark(content.facts),
        "facts_in_brief": marks.mark(content.facts_in_brief),
        "pictures": marks.mark(PicturePlace()),
        "cautions": [marks.mark(Sentence(caution)) for caution in content.cautions],
    }


class _Parts(dict[str, dict[str, Any]]):
    """Parts by id; one of which nothing was said is empty."""

    def __missing__(self, name: str) -> dict[str, Any]:
        return {"id": name, "heading": "", "lines": [], "table": "", "sentences": []}


@lru_cache(maxsize=4)
def _environment(folder: Path | None) -> ImmutableSandboxedEnvironment:
    folders = [folder, SHIPPED] if folder else [SHIPPED]
    return ImmutableSandboxedEnvironment(
        loader=ChoiceLoader([FileSystemLoader(one) for one in folders]),
        undefined=StrictUndefined,
        finalize=lambda value: f"{_VALUE}{value}" if isinstance(value, str) else value,
        trim_blocks=True,
        lstrip_blocks=True,
        autoescape=False,  # what comes out is no markup yet; each format escapes what it is given
    )


def _render(name: str, values: dict[str, Any], folder: Path | None) -> str:
    if folder is not None and not folder.is_dir():
        raise TemplateError(f"The folder of templates {folder} is not there; correct the setting templates_folder.")
    try:
        return _environment(folder).get_template(name).render(values)
    except TemplateSyntaxError as err:
        raise _broken(err.filename or name, err.lineno, err.message or "not a template") from err
    except TemplateNotFound as err:
        raise _broken(_file(err, name), _line(err), f"there is no template {err.name}") from err
    except UnicodeDecodeError as err:
        raise _broken(str((folder or SHIPPED) / name), None, "it is not UTF-8 text") from err
    except (UndefinedError, TemplateRuntimeError) as err:
        raise _broken(_file(err, name), _line(err), err.message or type(err).__name__) from err
    except Exception as err:  # what a template does can fail in any way, and its message might quote the record
        raise _broken(_file(err, name), _line(err), type(err).__name__) from err


def _broken(file: str, line: int | None, problem: str) -> TemplateError:
    where = f"{file}, line {line}" if line else file
    return TemplateError(
        f"{where}: {printable(problem)}. The record is as it was; mend the template, or take it away to use the shipped one."
    )


def _frames(err: BaseException) -> list[traceback.FrameSummary]:
    return [frame for frame in traceback.extract_tb(err.__traceback__) if frame.filename.endswith(ENDING)]


def _file(err: BaseException, name: str) -> str:
    frames = _frames(err)
    return frames[-1].filename if frames else name


def _line(err: BaseException) -> int | None:
    frames = _frames(err)
    return frames[-1].lineno if frames else None


def _read(rendered: str, marks: _Marks, banner: str | None) -> Document:
    """Read what a template gave: "= " the title, "# " a heading, "- " an item, else text; blank lines end a paragraph."""
    title, blocks, items, text = "", list[Block](), list[Paragraph](), list[Sentence]()

    def end() -> None:
        if text:
            blocks.append(Paragraph(tuple(text)))
            text.clear()
        if items:
            blocks.append(Items(tuple(items)))
            items.clear()

    for raw in rendered.splitlines():
        line = raw.strip(" \t")
        if not line.strip(_VALUE):
            if text:
                end()
        elif line.startswith("= "):
            title = printable(line[2:])
        elif line.startswith("# "):
            end()
            blocks.append(Heading(printable(line[2:])))
        elif line.startswith("- "):
            if text:
                end()
            items.append(Paragraph(tuple(_sentences(line[2:], marks))))
        elif (found := _MARK.fullmatch(line.replace(_VALUE, ""))) and not isinstance(
            thing := marks.things[int(found[1])], Sentence
        ):
            end()
            marks.used.add(int(found[1]))
            blocks.append(thing)
        else:
            if items:
                end()
            text += [Sentence(" "), *_sentences(line, marks)] if text else _sentences(line, marks)
    end()
    return Document(title or TITLE, banner, tuple(blocks))


def _sentences(line: str, marks: _Marks) -> list[Sentence]:
    """The pieces of a line: the template's own words, and the sentences that its marks stand for."""
    out = []
    for at, piece in enumerate(_MARK.split(line.replace(_VALUE, ""))):
        if at % 2:
            thing = marks.take(piece)
            if isinstance(thing, Sentence):
                out.append(thing)
        elif piece:
            before, after = " " * piece[0].isspace(), " " * (piece[-1].isspace() and len(piece) > 1)
            out.append(Sentence(f"{before}{printable(piece)}{after}"))
    return out


def _complete(document: Document, marks: _Marks, content: Content) -> Document:
    """Add what the template left out: no template can lose a statement, an addendum, a fact of the record or a caution."""
    there = fields_of(document)
    missing = [sentence for sentence in content.kept if not there.issuperset(sentence.fields)]
    placed = {id(marks.things[number]) for number in marks.used}
    missing += [line for _, line in content.addenda if id(line) not in placed]
    extra: list[Block] = []
    if missing:
        extra += [Heading(LEFT_OUT), Items(tuple(Paragraph((line,)) for line in missing))]
    if not any(isinstance(block, Facts) for block in document.blocks):
        extra.append(content.facts)
    said = {sentence.text for block in document.blocks if isinstance(block, Paragraph) for sentence in block.sentences}
    extra += [Paragraph((Sentence(caution),)) for caution in content.cautions if caution not in said]
    return Document(document.title, document.banner, (*document.blocks, *extra))


