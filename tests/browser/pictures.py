"""Takes the pictures of the main pages that the README shows. Run by hand, against a studio that is running:

    BASE_URL=http://127.0.0.1:8000 STUDIO_USER=… STUDIO_PASSWORD=… python tests/browser/pictures.py

The demonstration (`manage.py demo`) makes the best pictures; its sign-in page names its people and the module
`studio.demonstration.building` their passwords. The pictures go to `.pictures/` at the top of the project as PNG,
1280 × 800 or, for a phone, 390 × 844; one that comes out at 150 KB or more is refused. Nothing in the studio is
changed.
"""

import os
import re
import sys
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path

import pypdfium2
from PIL import Image
from playwright.sync_api import Browser, Page, sync_playwright

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from tests.browser.chromium import launch  # noqa: E402

FOLDER = ROOT / ".pictures"
DESK, PHONE = {"width": 1280, "height": 800}, {"width": 390, "height": 844}
LARGEST_BYTES = 150_000


@dataclass(frozen=True)
class Picture:
    """A page: where it begins, which links lead on (a pattern takes the first that fits), how it is looked at."""

    name: str
    path: str
    links: tuple[str | re.Pattern[str], ...] = ()
    size: tuple[str, ...] = ("desk",)
    dark: bool = False


CODE = re.compile(r"^[LB][0-9A-Z ]{5,}$")
PICTURES = (
    Picture("today", "/"),
    Picture("batch", "/batches/?state=started", (CODE,)),
    Picture("bench", "/batches/?state=started", (CODE, "Weigh up at the bench"), size=("phone",)),
    Picture("week", "/batches/week/"),
    Picture("buying", "/stock/reorder/"),
    Picture("cost", "/costing/", dark=True),
    Picture("trace", "/trace/", (re.compile("^Trace "),)),
)


def sign_in(page: Page, user: str, password: str) -> None:
    """Sign in as somebody who may see everything that is to be shown."""
    page.goto("/sign-in/")
    page.get_by_label("Username").fill(user)
    page.get_by_label("Password").fill(password)
    page.get_by_role("button", name="Sign in", exact=True).click()
    if "/sign-in/" in page.url:
        sys.exit("The studio did not let us in. Check STUDIO_USER and STUDIO_PASSWORD.")


def go(page: Page, path: str) -> None:
    """Open a page; a picture of one that failed would go unnoticed."""
    answer = page.goto(path)
    if answer is None or not answer.ok:
        sys.exit(f"{path} answers {answer.status if answer else 'nothing'}.")


def take(page: Page, picture: Picture) -> bytes:
    """Go to the page and look."""
    go(page, picture.path)
    for name in picture.links:
        inside = page.locator("main .page-head, main .table-frame, main .task-list")
        go(page, str(inside.get_by_role("link", name=name).first.get_attribute("href")))
    page.wait_for_load_state("networkidle")
    return stored(Image.open(BytesIO(page.screenshot())))


def stored(picture: Image.Image) -> bytes:
    """PNG bytes in a palette, which is plenty for ink on paper."""
    file = BytesIO()
    picture.convert("RGB").quantize(128, dither=Image.Dither.NONE).save(file, "PNG", optimize=True)
    return file.getvalue()


def take_ticket(page: Page) -> bytes:
    """The printed ticket of a planned run, as it comes out of the printer."""
    go(page, "/batches/?state=planned")
    code = page.locator("main .table-frame").get_by_role("link", name=CODE).first.get_attribute("href")
    sheet = pypdfium2.PdfDocument(page.request.get(f"{code}ticket.pdf").body())[0]
    return stored(sheet.render(scale=1.1).to_pil())


def take_all(browser: Browser, base_url: str, user: str, password: str) -> None:
    """Take every picture and store it."""
    FOLDER.mkdir(exist_ok=True)
    for shape, viewport in (("desk", DESK), ("phone", PHONE)):
        page = browser.new_page(base_url=base_url, viewport=viewport, reduced_motion="reduce", locale="en-GB")
        sign_in(page, user, password)
        for picture in PICTURES:
            if shape not in picture.size:
                continue
            page.emulate_media(color_scheme="dark" if picture.dark else "light")
            shown = take(page, picture)
            path = FOLDER / f"{picture.name}{'-phone' if shape == 'phone' else ''}.png"
            if len(shown) >= LARGEST_BYTES:
                sys.exit(f"{path.name} would take {len(shown)} bytes; fewer than {LARGEST_BYTES} are wanted.")
            path.write_bytes(shown)
            print(f"{path.relative_to(ROOT)}: {len(shown)} bytes")
        if shape == "desk":
            (FOLDER / "ticket.png").write_bytes(take_ticket(page))
        page.close()


def main() -> None:
    """Read the three settings and take the pictures."""
    try:
        base_url, user, password = (
            os.environ[name] for name in ("BASE_URL", "STUDIO_USER", "STUDIO_PASSWORD")
        )
    except KeyError as missing:
        sys.exit(f"Set {missing.args[0]}; see the first lines of {Path(__file__).name}.")
    with sync_playwright() as playwright:
        browser = launch(playwright.chromium)
        take_all(browser, base_url, user, password)
        browser.close()


if __name__ == "__main__":
    main()
