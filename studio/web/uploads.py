"""Files that people bring in, judged by what is in them: PDF, JPEG, PNG or WebP, and nothing else.

A picture is opened, turned upright, made smaller and written anew: where it was taken, who took it and anything
hidden behind it stay outside. A PDF is kept as it came; the studio never opens it and hands it out as a download.

OWASP Cheat Sheet Series, File Upload (from memory): allow few kinds, go by the content, rewrite images, keep files
outside what the server serves, limit their size.
"""

import io
import re
import unicodedata
import zipfile
from dataclasses import dataclass
from threading import Lock

from django.conf import settings
from PIL import Image, ImageOps, UnidentifiedImageError

PDF, JPEG, PNG = "application/pdf", "image/jpeg", "image/png"
ENDING = {PDF: ".pdf", JPEG: ".jpg", PNG: ".png"}
READ_FORMATS = ("JPEG", "PNG", "WEBP")
# About what the largest phone cameras deliver; a file that claims more is built to fill the memory.
PIXELS_AT_MOST = 50_000_000
EDGE_AT_MOST = 2400
NAME_AT_MOST = 100
# Writers pad the end of a PDF; further from it the mark would stand inside something else.
AFTER_THE_END = 1024

# A large picture takes some 200 MB while it is read: one at a time, however many arrive together.
_one_at_a_time = Lock()

# What other files begin with, and what to say of them.
BEGINNINGS = (
    (b"PK\x03\x04", "This is a spreadsheet, a text document or an archive. Save it as PDF first."),
    (b"\xd0\xcf\x11\xe0", "This is a document of an office program. Save it as PDF first."),
    (b"GIF8", "This is a GIF. Save it as PNG or JPEG first."),
    (b"II*\x00", "This is a TIFF. Save it as PDF or PNG first."),
    (b"MM\x00*", "This is a TIFF. Save it as PDF or PNG first."),
    (b"MZ", "This is a program. It is not taken in."),
    (b"\x7fELF", "This is a program. It is not taken in."),
    (b"#!", "This is a program. It is not taken in."),
)
TAKEN = "Papers come as PDF, photos as JPEG, PNG or WebP."


class NotTaken(ValueError):
    """The file is none that may come in; the message says why, to the person who chose it."""


@dataclass(frozen=True)
class Received:
    """A file that may come in: a harmless name, what it is by its content, and its bytes."""

    name: str
    media_type: str
    data: bytes


def receive(name: str, data: bytes) -> Received:
    """The file as it may be kept. Raises NotTaken."""
    if not data:
        raise NotTaken("The file is empty. Choose it again; it may not have been copied whole.")
    if len(data) > settings.UPLOAD_LIMIT:
        raise NotTaken(too_large(len(data)))
    if data.startswith(b"%PDF-"):
        _check_pdf(data)
        return Received(harmless_name(name, PDF), PDF, data)
    media_type, data = _picture(data)
    return Received(harmless_name(name, media_type), media_type, data)


def receive_picture(name: str, data: bytes) -> Received:
    """A picture as it may be kept. Raises NotTaken, for a PDF too."""
    received = receive(name, data)
    if received.media_type == PDF:
        raise NotTaken("This is a PDF. Take a photo, or file the paper beside its item.")
    return received


def too_large(size: int) -> str:
    """What to say of a file of so many bytes."""
    return (
        f"The file is {in_megabytes(size)} large; at most {in_megabytes(settings.UPLOAD_LIMIT)} are taken in. "
        "Save a smaller copy, or split it."
    )


def in_megabytes(size: int) -> str:
    """Bytes as megabytes (10⁶) to one place, in kilobytes below a tenth of one: "2.4 MB", "38 kB"."""
    if size < 100_000:
        return f"{max(size // 1000, 1)}\N{NO-BREAK SPACE}kB"
    tenths = -(-size // 100_000)
    whole = str(tenths // 10) if tenths % 10 == 0 else f"{tenths // 10}.{tenths % 10}"
    return f"{whole}\N{NO-BREAK SPACE}MB"


def _check_pdf(data: bytes) -> None:
    """Whether it ends as it begins, and is nothing else at the same time."""
    tail = data[-AFTER_THE_END - 5 :]
    at = tail.rfind(b"%%EOF")
    if at < 0 or tail[at + 5 :].strip(b"\0 \t\r\n\f"):
        raise NotTaken(
            "The PDF is cut off or something hangs on its end. Open it and save it anew, then add it again."
        )
    beginning = data[:AFTER_THE_END].lower()
    if zipfile.is_zipfile(io.BytesIO(data)) or re.search(rb"<\s*(html|script|svg|!doctype)", beginning):
        raise NotTaken(
            "This is a PDF and something else in one. Open it and save it anew, then add it again."
        )


def _picture(data: bytes) -> tuple[str, bytes]:
    """The picture upright, no longer than EDGE_AT_MOST and written anew: its media type and bytes."""
    with _one_at_a_time:
        try:
            with Image.open(io.BytesIO(data), formats=READ_FORMATS) as image:
                # Judged before a pixel is read.
                width, height = image.size
                if width * height > PIXELS_AT_MOST:
                    raise NotTaken(
                        f"The picture claims {width:,} × {height:,} points, more than any camera takes. "
                        "Save a smaller copy."
                    )
                return _written_anew(image)
        except UnidentifiedImageError as error:
            raise NotTaken(_what_it_is(data)) from error
        except Image.DecompressionBombError as error:
            raise NotTaken(
                "The picture claims more points than any camera takes. Save a smaller copy."
            ) from error
        except NotTaken:
            raise
        # Readers of pictures fail in many ways on a damaged one; to its owner they are all the same.
        except Exception as error:
            raise NotTaken(
                "The picture is damaged and cannot be read. Save it anew, then add it again."
            ) from error


def _written_anew(image: Image.Image) -> tuple[str, bytes]:
    """A copy that holds points and nothing else."""
    may_be_seen_through = image.mode in {"RGBA", "LA", "PA"} or "transparency" in image.info
    as_png = image.format == "PNG" or may_be_seen_through
    # A large JPEG is read at a half or a quarter where that is enough.
    image.draft("RGB", (EDGE_AT_MOST, EDGE_AT_MOST))
    upright = ImageOps.exif_transpose(image)
    upright.thumbnail((EDGE_AT_MOST, EDGE_AT_MOST))
    mode = "RGBA" if may_be_seen_through else "RGB"
    # Pasting leaves behind what a copy would carry along: comments, profiles, notes of the camera.
    clean = Image.new(mode, upright.size)
    clean.paste(upright.convert(mode))
    out = io.BytesIO()
    if as_png:
        clean.save(out, "PNG")
        if out.tell() <= settings.UPLOAD_LIMIT:
            return PNG, out.getvalue()
        white = Image.new("RGB", clean.size, "white")
        white.paste(clean, mask=clean.getchannel("A") if mode == "RGBA" else None)
        clean, out = white, io.BytesIO()
    clean.save(out, "JPEG", quality=85)
    return JPEG, out.getvalue()


def _what_it_is(data: bytes) -> str:
    """What to say of a file that is none of those taken in."""
    for beginning, words in BEGINNINGS:
        if data.startswith(beginning):
            return words
    if data[4:8] == b"ftyp" and data[8:12] in {b"heic", b"heix", b"mif1", b"msf1", b"hevc"}:
        return "This is a HEIC photo. Set the camera to JPEG, or share the photo as JPEG."
    if data[:1024].lstrip(b"\xef\xbb\xbf\0 \t\r\n").startswith(b"<"):
        return f"This is a web page or a drawing in text. {TAKEN}"
    return f"This is none of the files taken in, whatever its name says. {TAKEN}"


def harmless_name(name: str, media_type: str) -> str:
    """The file's name without path, control and format characters, at most NAME_AT_MOST long, its ending true."""
    name = unicodedata.normalize("NFC", name).replace("\\", "/").rpartition("/")[2]
    shown = "".join(char for char in name if unicodedata.category(char) not in {"Cc", "Cf", "Cs", "Co", "Cn"})
    stem = re.sub(r"\.\w{1,5}\Z", "", " ".join(shown.split())).strip(". ")
    ending = ENDING[media_type]
    stem = re.sub(rf"{re.escape(ending)}\Z", "", stem, flags=re.IGNORECASE)
    return f"{stem[: NAME_AT_MOST - len(ending)].strip() or 'paper'}{ending}"
