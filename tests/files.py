"""Files that people bring, and files that somebody sends to do harm: made here, a few bytes each.

OWASP Cheat Sheet Series, File Upload; OWASP ASVS 5.0, V5 File Handling (from memory).
"""

import io
import struct
import zipfile
import zlib

from PIL import Image

GPS = 0x8825


def pdf(words: str = "invented") -> bytes:
    """As little as begins and ends like a PDF."""
    return (
        b"%PDF-1.4\n1 0 obj<</Type/Catalog>>endobj %" + words.encode() + b"\ntrailer<</Root 1 0 R>>\n%%EOF\n"
    )


def picture(size=(60, 40), format="JPEG", colour="#1D4D44", mode="RGB", **more) -> bytes:
    """A plain picture."""
    out = io.BytesIO()
    Image.new(mode, size, colour).save(out, format, **more)
    return out.getvalue()


def phone_photo(size=(60, 40)) -> bytes:
    """A JPEG as a phone writes it: lying on its side, with the place, the maker's words and something behind its end."""
    image = Image.new("RGB", size, "white")
    image.paste("#9B1C1C", (0, 0, size[0] // 2, size[1] // 2))
    exif = Image.Exif()
    exif[0x0112] = 6  # turn a quarter clockwise to see it upright
    exif[0x010E] = "secret words"
    exif.get_ifd(GPS)[2] = (52.0, 31.0, 12.0)
    out = io.BytesIO()
    image.save(out, "JPEG", exif=exif, comment=b"secret comment", quality=95)
    return out.getvalue() + b"PK secret archive behind the picture"


def claims(width: int, height: int) -> bytes:
    """A PNG of a few bytes that says it is as large as that."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"")) + chunk(b"IEND", b"")
    )


def archive() -> bytes:
    """A small ZIP; a spreadsheet is one too."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        packed.writestr("xl/workbook.xml", "<workbook/>")
    return out.getvalue()


def pdf_and_archive() -> bytes:
    """Begins as a PDF, is an archive, and ends as a PDF: the archive's own remark is the end of the PDF."""
    packed = archive()
    with_remark = packed[:-2] + struct.pack("<H", 6) + b"%%EOF\n"
    return pdf() + with_remark


# What each attack is, its name, its bytes, and words of the sentence that refuses it.
ATTACKS = {
    "nothing": ("sheet.pdf", b"", "empty"),
    "a web page": ("sheet.pdf", b"<!DOCTYPE html><script>alert(1)</script>", "web page"),
    "a web page after a mark": ("photo.jpg", b"\xef\xbb\xbf \n<html onload=alert(1)>", "web page"),
    "a drawing with a script": (
        "photo.png",
        b'<svg xmlns="http://www.w3.org/2000/svg" onload="alert(1)"/>',
        "drawing",
    ),
    "an XML entity": (
        "sheet.pdf",
        b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY e SYSTEM "file:///etc">]>',
        "web page",
    ),
    "a shell script": ("sheet.pdf", b"#!/bin/sh\nrm -rf /\n", "program"),
    "a program": ("photo.jpg", b"MZ\x90\x00" + bytes(200), "program"),
    "a program of another kind": ("photo.jpg", b"\x7fELF" + bytes(200), "program"),
    "a spreadsheet": ("sheet.pdf", archive(), "spreadsheet"),
    "a PDF that is an archive too": ("sheet.pdf", pdf_and_archive(), "something else in one"),
    "a PDF with an archive hung on": ("sheet.pdf", pdf() + archive(), "hangs on its end"),
    "a PDF that is a web page too": (
        "sheet.pdf",
        b"%PDF-1.4\n<html><script>1</script></html>\n%%EOF",
        "something else",
    ),
    "a PDF cut off": ("sheet.pdf", pdf()[:-8], "cut off"),
    "a PDF hidden behind a letter": ("sheet.pdf", b"x" + pdf(), "none of the files"),
    "a GIF": ("photo.gif", b"GIF89a" + bytes(20), "GIF"),
    "a HEIC photo": ("IMG_1.HEIC", b"\0\0\0\x18ftypheic\0\0\0\0" + bytes(40), "HEIC"),
    "a picture cut off": ("photo.jpg", picture(size=(300, 300))[:400], "damaged"),
    "only the beginning of a picture": ("photo.png", b"\x89PNG\r\n\x1a\n", "none of the files|damaged"),
    "a picture that claims 60,000 points each way": ("photo.png", claims(60_000, 60_000), "points"),
    "a picture that claims 51 million points": ("photo.png", claims(8_500, 6_000), "8,500 × 6,000"),
    "plain text": ("notes.txt", b"hello", "none of the files"),
}

# Names that try to be more than names; what is left of each, for a PDF.
NAMES = {
    "../../../etc/passwd": "passwd.pdf",
    "..\\..\\windows\\win.ini": "win.pdf",
    "sheet.pdf\x00.exe": "sheet.pdf",
    "sheet.pdf.exe": "sheet.pdf",
    'a"; filename="b.exe': 'a"; filename="b.pdf',
    "line\r\nSet-Cookie: x=1.pdf": "lineSet-Cookie: x=1.pdf",
    "sheet\N{RIGHT-TO-LEFT OVERRIDE}fdp.exe": "sheetfdp.pdf",
    ".pdf": "paper.pdf",
    "": "paper.pdf",
    "...": "paper.pdf",
    "Säure & Öl 蠟.PDF": "Säure & Öl 蠟.pdf",
    "x" * 300 + ".pdf": "x" * 96 + ".pdf",
    "<script>alert(1)</script>.pdf": "script>.pdf",
}
