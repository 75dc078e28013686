"""Pictures on the customer's page: the instrument and the shop's logo, held in the page itself.

A picture is shown as one (never as part of the page), so that nothing in it can run; an SVG that holds a
script, or fetches something, is refused all the same.
"""

from __future__ import annotations

import base64
import re
from pathlib import Path

from estimator.core.errors import Origin, refusal, shown

PHOTO_MOST = 3_000_000
LOGO_MOST = 500_000
"""Bytes of a picture: a page is sent by mail (common practice: such mails stay well below ten megabytes)."""
PNG, JPEG, SVG = "image/png", "image/jpeg", "image/svg+xml"
NAMES = {PNG: "PNG", JPEG: "JPEG", SVG: "SVG"}
RUNS = ("script", "foreignobject", "iframe", "object", "embed", "handler", "listener", "audio", "video")
"""Elements that could run something or bring in a page."""
OUTSIDE = re.compile(r"url\(\s*['\"]?(?!#|['\"]?data:image/)|@import|javascript:", re.IGNORECASE)


def photo_uri(file: str, where: Origin) -> str:
    """A photo (JPEG or PNG) as an address that holds it; blank where no file is named. InputError says why not."""
    return _uri(file, where, (JPEG, PNG), PHOTO_MOST) if file else ""


def logo_uri(file: str, where: Origin) -> str:
    """A logo (PNG or SVG) as an address that holds it; blank where no file is named. InputError says why not."""
    return _uri(file, where, (PNG, SVG), LOGO_MOST) if file else ""


def _uri(file: str, where: Origin, kinds: tuple[str, ...], most: int) -> str:
    names = " or ".join(NAMES[kind] for kind in kinds)
    accepted = f"a {names} file of at most {most // 1000:,} kB"
    try:
        path = Path(file)
        if not path.is_file():
            raise refusal(
                where, "there is no such picture", shown(file), accepted, "look at the name and the folder"
            )
        size = path.stat().st_size
        if size > most:
            raise refusal(
                where,
                "the picture is too large",
                f"{shown(file)}, {size // 1000:,} kB",
                accepted,
                "make it smaller: 1,200 points on the longer side are enough on paper",
            )
        data = path.read_bytes()
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", "") or "no name of a file"
        raise refusal(where, "the picture cannot be read", f"{shown(file)}: {why}", accepted) from None
    kind = _kind_of(data)
    if kind not in kinds:
        found = f"{shown(file)}: {NAMES.get(kind, 'no picture that is known, or one that is cut off')}"
        raise refusal(
            where, "the picture is none of those that can be shown", found, accepted, "save it anew as one"
        )
    if kind == SVG and (why := _unsafe(data)):
        raise refusal(
            where,
            "the drawing is more than a picture",
            f"{shown(file)}: {why}",
            "an SVG without scripts that fetches nothing",
            "save it as a plain SVG, or as PNG",
        )
    return f"data:{kind};base64,{base64.b64encode(data).decode()}"


def _kind_of(data: bytes) -> str:
    """What a file is by what is in it, whatever its name; blank where it is none of them, or not whole."""
    if data.startswith(b"\x89PNG\r\n\x1a\n") and b"IEND" in data[-64:] and all(_points(data)):
        return PNG
    if data.startswith(b"\xff\xd8\xff") and b"\xff\xd9" in data[-4096:] and all(_points(data)):
        return JPEG
    return SVG if re.search(rb"<svg[\s/>]", data[:4096]) else ""


def picture_of(uri: str) -> bytes:
    """The bytes of a picture from the address that holds it."""
    return base64.b64decode(uri.partition(",")[2])


def _points(data: bytes) -> tuple[int, int]:
    """Width and height of a PNG or JPEG; noughts where they are not told."""
    if data.startswith(b"\x89PNG"):
        return int.from_bytes(data[16:20], "big"), int.from_bytes(data[20:24], "big")
    at = 2
    while at + 9 <= len(data) and data[at] == 0xFF:
        marker, long = data[at + 1], int.from_bytes(data[at + 2 : at + 4], "big")
        if 0xC0 <= marker <= 0xCF and marker not in (0xC4, 0xC8, 0xCC):  # the frame: all others are tables
            return int.from_bytes(data[at + 7 : at + 9], "big"), int.from_bytes(data[at + 5 : at + 7], "big")
        at += 1 if marker == 0xFF else 2 + long  # a marker may be filled up with 0xFF before it
    return 0, 0


def _unsafe(data: bytes) -> str:
    """What in an SVG is more than a picture; blank where nothing is."""
    from defusedxml.common import DefusedXmlException
    from defusedxml.ElementTree import ParseError, fromstring

    try:
        root = fromstring(data, forbid_dtd=True)
    except (ParseError, DefusedXmlException, ValueError):
        return "it cannot be read as one, or declares entities"
    for element in root.iter():
        name = str(element.tag).rpartition("}")[2].lower()
        if name in RUNS:
            return f"an element “{name}”"
        if OUTSIDE.search(element.text or ""):
            return "a style that fetches something"
        for key, value in element.attrib.items():
            short = key.rpartition("}")[2].lower()
            if short.startswith("on"):
                return f"an attribute “{short}” that runs something"
            if short in ("href", "src") and not value.lstrip().startswith(("#", "data:image/")):
                return f"an attribute “{short}” that leads elsewhere"
            if OUTSIDE.search(value):
                return f"an attribute “{short}” that fetches something"
    return ""
