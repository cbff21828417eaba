"""Places: which side, digit, joint, structure and aspect a run of words names.

"the PIP joints of the right ring and little fingers" is two places; "index and middle pulps" is two; "both wrists" is
two sides of one. What goes in: items. What comes out: a group of places with the items it covers.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import Any

from dictation.extraction.items import DETERMINERS, PREPOSITIONS, Item

KEYS = ("side", "digit", "joint", "structure", "aspect")
SIDES_SAID = {"both": ("right", "left"), "both_word": ("right", "left"), "both_left_first": ("left", "right")}
FINGERS = ("index", "middle", "ring", "little")
WHERE = frozenset(
    ["lateral", "medial", "proximal", "distal", "whole", "entire", "mid", "central", "same", "affected", "very", "deep"]
)
FILLERS = frozenset(
    [
        "joint",
        "aspect",
        "side",
        "level",
        "region",
        "area",
        "part",
        "sided",
        "half",
        "surface",
        "border",
        "tip",
        "base",
        "alone",
        "finger",
    ]
)


@dataclass(frozen=True, slots=True)
class Spot:
    """One place; a key is None where it was not said. side may be right, left, other or same.

    plural: said of a row ("the MCP joints"); hand: the hand as a whole was named; finger: "the finger", one named before.
    """

    side: str | None = None
    digit: str | None = None
    joint: str | None = None
    structure: str | None = None
    aspect: str | None = None
    plural: bool = False
    hand: bool = False
    finger: bool = False

    def given(self) -> set[str]:
        """The keys that were said."""
        return {key for key in KEYS if getattr(self, key) is not None}


@dataclass(frozen=True, slots=True)
class PlaceGroup:
    """Places said together, over items[first:last].

    prep: a preposition leads in. odd: a side is listed with a digit ("the right and little fingers"), as when "ring" was
    misheard.
    """

    spots: tuple[Spot, ...]
    first: int
    last: int
    start: int
    end: int
    prep: bool
    sides_said: frozenset[str] = frozenset()
    odd: bool = False

    def given(self) -> set[str]:
        """The keys that were said in any of the places."""
        return set().union(*(spot.given() for spot in self.spots)) | ({"hand"} if any(s.hand for s in self.spots) else set())


def place_elements(item: Item) -> dict[str, tuple[str, ...]]:
    """What one item names: key -> values. Forms may carry further keys ("thumb base" is cmc and thumb)."""
    out: dict[str, tuple[str, ...]] = {}
    for kind in ("structure", "joint", "digit", "aspect", "side"):
        found = item.all(kind)
        if not found or (kind == "structure" and "joint" in out):
            continue
        m = found[0]
        if kind == "side":
            out["side"] = SIDES_SAID.get(m.id, (m.id,))
        else:
            out[kind] = (m.id,)
            for key, value in m.sets.items():
                if key in KEYS:
                    out.setdefault(key, (value,))
        if kind in {"structure", "joint"}:
            break
    for region in item.all("region"):
        if region.id == "all_fingers" or (region.id == "all_digits"):
            out["digit"] = (("thumb",) if region.id == "all_digits" else ()) + FINGERS
        elif region.id == "hand":
            out["hand"] = ("hand",)
        elif region.id == "epicondyles":
            out["structure"] = ("lateral_epicondyle", "medial_epicondyle") if region.plural else ()
        elif not region.plural:
            out["finger"] = ("finger",)
        else:
            out.setdefault("filler", ("",))
    return {key: values for key, values in out.items() if values}


def read_group(items: Sequence[Item], i: int, *, subject: bool) -> PlaceGroup | None:
    """Return the group of places that starts at items[i] (a determiner or preposition may lead in), or None."""
    first, prep = i, False
    while i < len(items) and items[i].word and items[i].word in PREPOSITIONS | DETERMINERS | WHERE:
        prep = prep or items[i].word in PREPOSITIONS
        i += 1
        if items[i - 1].comma:
            return None
    if i >= len(items) or not items[i].place:
        return None
    rows: list[dict[str, tuple[str, ...]]] = [{}]
    chain = 0
    phrase = False
    plural = False
    last = i
    joined: str | None = None
    after_prep = False
    previous: set[str] = set()
    led: set[str] = set()
    kept: set[str] = set()
    odd = False
    while i < len(items):
        item = items[i]
        if item.place and not _is_concept_here(item):
            said = place_elements(item)
            if "finger" in said and any(rows[-1].values()) and joined is None and items[i - 1].word in DETERMINERS:
                break
            keys = set(said) - {"filler"}
            row = rows[-1]
            fresh = i > first + 1 and items[i - 1].word == "the" and joined is None and not after_prep
            if fresh and set(row) - {"side"} and "side" not in keys:
                break
            clash = [k for k in keys if k in row and row[k] != said[k]]
            if joined is None and clash and keys <= previous and _list_goes_on(items, i, previous):
                joined = ","
            if joined is None and after_prep and clash and set(clash) <= kept:
                rows[-1] |= said  # "… of the right ring and the PIP joint of the left index": a place of its own
                kept, chain, clash = kept - keys, len(rows) - 1, []
            if joined is None and keys and (clash or (_comes_anew(keys, row) and not after_prep)):
                break
            if joined is not None and not _coordinates(keys, row, previous, items, i, subject):
                break
            if joined is not None and keys == {"side"} and not clash and "side" in row and _other_digit(items, i, row):
                i += 1
                continue
            if joined is not None and keys and not clash and not keys <= set(row) and not (previous & keys):
                rows.append({k: v for k, v in row.items() if k == "side"} | said)
                kept = {"side"} - keys
                chain = len(rows) - 1
            elif joined is not None and clash:
                heads = rows[chain:] if led >= keys and len({_key(_before(r, clash)) for r in rows[chain:]}) > 1 else [row]
                rows += [new for r in heads if (new := _before(r, clash) | said) not in rows]
                chain = len(rows) - 1 if phrase or "side" in clash else chain
            else:
                for k in keys:
                    for one in rows[chain:]:
                        one.setdefault(k, said[k])
            odd = odd or (joined in {"and", "or", ","} and previous == {"side"} and "digit" in keys)
            plural = plural or (item.mentions[0].plural and "joint" in keys)
            led = keys if after_prep else led | keys if led else led
            previous = keys or previous
            if "finger" in said and "digit" not in rows[-1]:
                rows[-1]["finger"] = ("finger",)
            last, joined, after_prep, phrase = i + 1, None, False, False
            i += 1
            if item.comma:
                if not _list_goes_on(items, i, previous):
                    break
                joined = ","
            continue
        if item.comma and item.word not in FILLERS:
            break
        if item.word in {"and", "or", "nor"} and _place_follows(items, i + 1):
            joined = item.word
        elif item.word in {"of", "on", "to", "in", "at", "over"} and _place_follows(items, i + 1):
            after_prep = True
            phrase = joined is not None
        elif item.word in DETERMINERS and any(rows[-1].values()) and joined is None and items[i - 1].word not in PREPOSITIONS:
            break
        elif item.word in DETERMINERS or item.word in WHERE:
            pass
        elif item.word in FILLERS:
            last = i + 1
            if item.comma:
                break
        else:
            break
        i += 1
    spots = _spots(rows, plural)
    if not spots:
        return None
    sides = frozenset(s.side for s in spots if s.side)
    return PlaceGroup(spots, first, last, items[first].start, items[last - 1].end, prep, sides, odd)


def _key(row: dict[str, tuple[str, ...]]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    return tuple(sorted(row.items()))


def _before(row: dict[str, tuple[str, ...]], clash: Sequence[str]) -> dict[str, tuple[str, ...]]:
    """The keys said before the one that is now said again: "MCP joint of index and middle" keeps the joint."""
    out: dict[str, tuple[str, ...]] = {}
    for key, value in row.items():
        if key in clash:
            break
        out[key] = value
    return out


def _is_concept_here(item: Item) -> bool:
    return (
        item.get("concept") is not None
        and not any(m.kind in {"side", "digit", "joint"} for m in item.mentions)
        and (item.get("structure") is None)
    )


def _other_digit(items: Sequence[Item], i: int, row: dict[str, tuple[str, ...]]) -> bool:
    """ "the left index and the left thumb": the side said again belongs to the next of the list."""
    after = items[i + 1] if i + 1 < len(items) and not items[i].comma else None
    return after is not None and after.place and bool(set(place_elements(after)) & set(row) & {"digit", "joint", "structure"})


def _comes_anew(keys: set[str], row: dict[str, tuple[str, ...]]) -> bool:
    """A side said bare after a place starts a new group: "over the snuffbox right wrist swollen"."""
    return "side" in keys and bool(set(row) - {"side"})


def _place_follows(items: Sequence[Item], i: int) -> bool:
    while i < len(items) and items[i].word and (items[i].word in DETERMINERS or items[i].word in PREPOSITIONS):
        i += 1
    return i < len(items) and items[i].place and not _is_concept_here(items[i])


def _coordinates(
    keys: set[str], row: dict[str, tuple[str, ...]], previous: set[str], items: Sequence[Item], i: int, subject: bool
) -> bool:
    """Whether the place after "and" belongs to the list, and is not the subject of what comes next."""
    j = i + 1
    while j < len(items) and (items[j].word in FILLERS or items[j].place) and not items[j - 1].comma:
        j += 1
    nxt = items[j] if j < len(items) and not items[j - 1].comma else None
    if nxt is None or subject:
        return True
    if nxt.word in {"is", "are", "was", "were", "has", "have", "shows", "looks"}:
        return False
    return not (nxt.get("concept") or nxt.number or nxt.get("status") or nxt.get("movement")) or bool(previous & keys)


def _list_goes_on(items: Sequence[Item], i: int, previous: set[str]) -> bool:
    """After a comma: further places of the same kind, closed by "and" or "or"."""
    seen = False
    while i < len(items):
        item = items[i]
        if item.place and not _is_concept_here(item):
            if not (set(place_elements(item)) & previous) and seen is False:
                return False
            seen = True
            if item.comma:
                i += 1
                continue
        elif item.word in {"and", "or"}:
            return _place_follows(items, i + 1)
        elif item.word in DETERMINERS or item.word in FILLERS:
            pass
        else:
            return False
        i += 1
    return seen and previous == {"digit"}


def _hand_surface(row: dict[str, tuple[str, ...]]) -> dict[str, tuple[str, ...]]:
    """ "The dorsum of the right hand" is a structure of its own, and so is its palm."""
    surface = {"dorsal": "dorsum_of_hand", "volar": "palm"}.get(" ".join(row.get("aspect", ())))
    if surface is None or "hand" not in row or {"digit", "joint", "structure"} & set(row):
        return row
    return {k: v for k, v in row.items() if k != "aspect"} | {"structure": (surface,)}


def _spots(rows: list[dict[str, tuple[str, ...]]], plural: bool) -> tuple[Spot, ...]:
    out: list[Spot] = []
    for row in rows:
        keys = [k for k in KEYS if k in row]
        if not keys and "hand" not in row and "finger" not in row:
            continue
        row = _hand_surface(row)
        keys = [k for k in KEYS if k in row]
        for values in product(*(row[k] for k in keys)):
            spot = replace(Spot(), **dict[str, Any](zip(keys, values, strict=True)))
            out.append(
                replace(
                    spot,
                    plural=plural and "digit" not in row,
                    hand="hand" in row,
                    finger="finger" in row and "digit" not in row,
                )
            )
    return tuple(dict.fromkeys(out))
