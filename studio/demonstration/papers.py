"""The papers of Ninefold Lane: safety data sheets, certificates and a photo, drawn here and saying that they are invented.

They go in as files that somebody chose, past the same reading that every file goes through.
"""

import io
from datetime import date, datetime, timedelta

from django.utils import timezone
from PIL import Image, ImageDraw
from reportlab.pdfgen.canvas import Canvas

from inventory.documents import services
from inventory.documents.services import Paper
from inventory.models import Document, Item, Kind, Lot
from studio.core.percent import format_percent
from studio.core.quantities import format_quantity
from studio.core.temperatures import format_temperature
from studio.demonstration.stage import Stage
from studio.people.signature import Signature
from studio.web import pdf, uploads

INVENTED = "Invented for the demonstration. It describes no real material; never work by it."
AMENDMENT = "51"
# One sheet is missing and one has run out, so that it shows what the studio says then.
WITHOUT_A_SHEET, RAN_OUT = "green", "uv"
MARGIN, LINE = 56, 18


def file_papers(stage: Stage, now: datetime) -> None:
    """Lay a safety data sheet beside every bought raw material but one, a certificate beside every fragrance, and a
    photo beside the newest pail of the best seller."""
    today = timezone.localtime(now).date()
    for place, (key, item) in enumerate(stage.items.items()):
        moment = now - timedelta(days=70, minutes=7 * place)
        signature = Signature(stage.people.owner, moment, moment)
        written = today - timedelta(days=400 + 31 * place % 200)
        if item.needs_safety_sheet and key != WITHOUT_A_SHEET:
            until = today - timedelta(days=12) if key == RAN_OUT else None
            paper = Paper(Document.Kind.SAFETY, written, until, "Section 9 is on the first page.")
            _file(item, paper, f"SDS {item}.pdf", _safety_sheet(item, written), signature)
        if item.kind == Kind.FRAGRANCE and not item.made_here:
            Item.objects.filter(pk=item.pk).update(certificate_on=written, certificate_amendment=AMENDMENT)
            paper = Paper(Document.Kind.IFRA, written, note="Category 12: candles.")
            _file(item, paper, f"IFRA {item}.pdf", _certificate(item, written), signature)
    _older_sheet(stage, now)
    _photo(stage, now)


def _file(
    item: Item, paper: Paper, name: str, data: bytes, signature: Signature, lot: Lot | None = None
) -> Document:
    file = uploads.receive(name, data)
    return services.add(item.pk, paper, file, signature=signature, lot_id=lot.pk if lot else None)


def _older_sheet(stage: Stage, now: datetime) -> None:
    """The sheet before the present one of the best seller, withdrawn when the new one came."""
    item = stage.items["cedar"]
    first, then = now - timedelta(days=400), now - timedelta(days=70)
    written = timezone.localtime(first).date() - timedelta(days=800)
    paper = Paper(Document.Kind.SAFETY, written)
    older = _file(
        item,
        paper,
        f"SDS {item}.pdf",
        _safety_sheet(item, written),
        Signature(stage.people.owner, first, first),
    )
    services.withdraw(older.pk, signature=Signature(stage.people.owner, then, then))


def _photo(stage: Stage, now: datetime) -> None:
    item = stage.items["cedar"]
    lot = Lot.objects.filter(item=item, delivery_line__isnull=False).order_by("-arrived_at", "pk")[0]
    moment = max(lot.arrived_at, now - timedelta(days=3))
    paper = Paper(Document.Kind.PHOTO, note="The pail as it came (drawn, not photographed).")
    _file(item, paper, "pail.png", _picture(), Signature(stage.people.maker, moment, moment), lot)


def _safety_sheet(item: Item, written: date) -> bytes:
    density = item.density_ug_per_ml
    flash = item.flash_point_mc
    return _sheet(
        "Safety data sheet",
        written,
        [
            ("1  Identification", str(item)),
            ("2  Hazards", "Left out of this example."),
            ("9  Flash point", format_temperature(flash) if flash is not None else "not stated"),
            ("9  Density", f"{format_quantity(density, 'g', places=3)} per mL" if density else "not stated"),
            ("16  Other", "All other sections are left out of this example."),
        ],
    )


def _certificate(item: Item, written: date) -> bytes:
    return _sheet(
        "Certificate of conformity to the IFRA standards",
        written,
        [
            ("Fragrance", str(item)),
            ("Amendment", AMENDMENT),
            (
                "Category 12, candles",
                f"at most {format_percent(item.maximum_load_ppm or 0)} of the finished melt",
            ),
        ],
    )


def _sheet(title: str, written: date, lines: list[tuple[str, str]]) -> bytes:
    """One page, the same bytes every time."""
    pdf.register_fonts()
    out = io.BytesIO()
    width, height = pdf.PAGE_SIZES["A4"]
    canvas = Canvas(out, pagesize=(width, height), invariant=1)
    canvas.setTitle(f"{title} (invented)")
    y = height - 2 * MARGIN
    for words, font, size in ((title, pdf.SANS_BOLD, 16), (INVENTED, pdf.SANS, 10)):
        canvas.setFont(font, size)
        canvas.drawString(MARGIN, y, words)
        y -= 1.5 * LINE
    for label, words in [*lines, ("Issued", f"{written.day} {written:%b %Y}")]:
        canvas.setFont(pdf.SANS, 10)
        canvas.drawString(MARGIN, y, label)
        canvas.setFont(pdf.SANS_BOLD, 10)
        canvas.drawString(MARGIN + 150, y, words)
        y -= LINE
    canvas.showPage()
    canvas.save()
    return out.getvalue()


def _picture() -> bytes:
    """A pail on a bench, drawn."""
    picture = Image.new("RGB", (960, 720), "#E9E2D3")
    draw = ImageDraw.Draw(picture)
    draw.rectangle((0, 520, 960, 720), fill="#B98F5E")
    draw.polygon([(300, 230), (660, 230), (620, 590), (340, 590)], fill="#F5F3EE", outline="#59625C")
    draw.ellipse((300, 200, 660, 262), fill="#FFFFFF", outline="#59625C")
    draw.rectangle((372, 340, 588, 490), fill="#1D4D44")
    for line, right in enumerate((560, 520, 540)):
        draw.rectangle((396, 368 + 36 * line, right, 380 + 36 * line), fill="#E9E2D3")
    draw.arc((310, 90, 650, 330), 195, 345, fill="#59625C", width=7)
    out = io.BytesIO()
    picture.save(out, "PNG")
    return out.getvalue()
