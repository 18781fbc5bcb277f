"""Read XML as a stream, and keep no more of it than the handlers do."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Protocol
from xml.parsers import expat

# A workbook's own parts nest less than 20 deep, and their tags are shorter than 10,000 letters.
_DEEPEST = 100
_LONGEST_TAG_BYTES = 2**18


class Handlers(Protocol):
    """Takes the elements and the text of a document."""

    def start(self, tag: str, attributes: Mapping[str, str]) -> None:
        """Take the start of an element, with its name without prefix."""

    def end(self, tag: str) -> None:
        """Take the end of an element."""

    def text(self, text: str) -> None:
        """Take some of the text of an element."""


class NotAllowed(ValueError):
    """The document holds something that no workbook has."""


def read_xml(chunks: Iterable[bytes], handlers: Handlers) -> Iterator[int]:
    """Feed a document to handlers, and yield the length of each chunk once it is parsed.

    Parameters
    ----------
    chunks : iterable of bytes
        The document, in pieces of at most about 100 KB.
    handlers : Handlers
        Called with what is in it. If they raise, the reading ends.

    Raises
    ------
    NotAllowed
        If it declares entities or a type, nests too deep, or has a tag that does not end.
    xml.parsers.expat.ExpatError
        If it is not XML.
    """
    parser = expat.ParserCreate()
    parser.buffer_text = True
    take_start, take_end, depth = handlers.start, handlers.end, 0

    def start(name: str, attributes: dict[str, str]) -> None:
        nonlocal depth
        depth += 1
        if depth > _DEEPEST:
            raise NotAllowed(f"elements nest more than {_DEEPEST} deep")
        take_start(name.rpartition(":")[2] if ":" in name else name, attributes)

    def end(name: str) -> None:
        nonlocal depth
        depth -= 1
        take_end(name.rpartition(":")[2] if ":" in name else name)

    def declared(*_: object) -> None:
        raise NotAllowed("it declares a document type")

    parser.StartElementHandler = start
    parser.EndElementHandler = end
    parser.CharacterDataHandler = handlers.text
    parser.StartDoctypeDeclHandler = declared
    fed = 0
    for chunk in chunks:
        parser.Parse(chunk)
        fed += len(chunk)
        # What is not parsed yet is a tag or comment that has not ended.
        if fed - parser.CurrentByteIndex > _LONGEST_TAG_BYTES:
            raise NotAllowed(f"a tag is longer than {_LONGEST_TAG_BYTES:,} bytes")
        yield len(chunk)
    parser.Parse(b"", True)
