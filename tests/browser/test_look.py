"""How every page looks and answers: on narrow and wide screens, in light and dark, by keyboard and by thumb."""

import re
from collections import Counter
from collections.abc import Callable, Iterator
from urllib.parse import urlsplit

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import Resolver404, get_resolver, resolve
from playwright.sync_api import expect

from tests.browser.furnished import CANDLE, furnish
from tests.web.pages import NOBODY, PAGES

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.looks]

# WCAG 1.4.10 asks for 320; then a phone, a tablet held upright, a desk.
PHONE, DESK = 390, 1440
WIDTHS = (320, PHONE, 820, DESK)
# Pages of one kind differ by what they show; so many of each are looked at.
OF_A_KIND = 2
# Answers that are no pages, those that come before anybody is signed in, and what is only sent to.
NOT_IN_THE_WALK = {
    "batches:batch-ticket",
    "batches:batch-photo",
    "batches:burn-photo",
    "batches:complaint-photo",
    "batches:recall-report",
    "batches:bench-entries",
    "batches:bench-state",
    "batches:bench-worker",
    "batches:batch-record",
    "batches:trace-sheet",
    "inventory:count-sheet",
    "inventory:dispatch-slip",
    "inventory:document-file",
    "inventory:import-template",
    "inventory:order-paper",
    "costing:cost-of-goods-paper",
    "costing:price-paper",
    "health",
    "sign-in",
    "sign-out",
    "welcome",
    *(name for name, page in PAGES.items() if page.see == NOBODY),
}
# Asked for with these words, so that there is something to see.
QUESTIONS = (
    "/find/?q=quince",
    "/find/?q=nothing+of+the+kind",
    "/find/",
    "/trace/?code=L00",
    "/stock/lots/?state=all",
    "/stock/items/add/",
)


@pytest.fixture
def person(sit_down, studio, owner, books):
    """The owner of a studio with something of everything."""
    person = sit_down(sign_in=owner)
    person.starts_at = ["/", *QUESTIONS, *furnish(books)]
    return person


def kind_of(path: str) -> str:
    """The name of the page behind a path, or nothing."""
    try:
        return resolve(urlsplit(path).path).view_name
    except Resolver404:
        return ""


def links_of(person) -> list[str]:
    """Where the links of the page lead within the studio, exports left out."""
    found = person.page.locator("a[href]").evaluate_all(
        "links => links.filter(a => a.origin === location.origin).map(a => a.pathname + a.search)"
    )
    return [path for path in found if "format=" not in path]


def walk(person, *, each: int = OF_A_KIND) -> Iterator[str]:
    """Open the pages the walk starts at and, of every other kind that links lead to, some of each."""
    waiting, seen, kinds = list(person.starts_at), set(), Counter()
    while waiting:
        path = waiting.pop(0)
        kind = kind_of(path)
        if path in seen or not kind or kind in NOT_IN_THE_WALK:
            continue
        if kinds[kind] >= each and path not in person.starts_at:
            continue
        seen.add(path)
        kinds[kind] += 1
        answer = person.page.goto(path)
        assert answer.ok, f"{path} answers {answer.status}"
        yield path
        waiting += links_of(person)
    named = set(_names(get_resolver()))
    assert named - NOT_IN_THE_WALK == set(kinds), "some pages are not reached by any link"


def _names(resolver, space: str = "") -> Iterator[str]:
    for pattern in resolver.url_patterns:
        if hasattr(pattern, "url_patterns"):
            yield from _names(pattern, f"{pattern.namespace}:" if pattern.namespace else space)
        elif pattern.name:
            yield space + pattern.name


def watch(page) -> list[str]:
    """A list that fills with whatever the browser complains about; breaches of the content policy among it."""
    heard: list[str] = []
    page.on("console", lambda said: heard.append(said.text) if said.type in {"error", "warning"} else None)
    page.on("pageerror", lambda error: heard.append(str(error)))
    page.on("requestfailed", lambda request: heard.append(f"{request.url} failed"))
    page.on(
        "response", lambda got: heard.append(f"{got.url} answers {got.status}") if got.status >= 400 else None
    )
    return heard


STICKS_OUT = """() => {
  const most = document.documentElement.clientWidth;
  if (document.documentElement.scrollWidth <= most) return [];
  const framed = element => element.closest('.table-frame, .subnav, .sections, .visually-hidden');
  return [`${document.documentElement.scrollWidth} px`, ...[...document.querySelectorAll('body *')]
    .filter(element => element.getBoundingClientRect().right > most + 0.5 && !framed(element))
    .slice(0, 3).map(element => element.outerHTML.slice(0, 120))];
}"""


def wide_pages(person, path: str, at_width: Callable[[int], None] = lambda width: None) -> list[str]:
    """At which widths the page is wider than its window, and what sticks out; `at_width` looks at more at each."""
    wide = []
    for width in WIDTHS:
        person.page.set_viewport_size({"width": width, "height": 844})
        if sticking := person.page.evaluate(STICKS_OUT):
            wide.append(f"{path} at {width}: {sticking}")
        at_width(width)
    return wide


# What a page's colours and the width of its window decide; the rest is the same on every screen.
OF_THE_SCREEN = ("color-contrast", "target-size", "scrollable-region-focusable")


AXE = Axe()


def violations(page, rules=()) -> list[str]:
    """What the accessibility rules find, all or some, WCAG 2.2's size of targets (2.5.8) included."""
    options: dict = {"resultTypes": ["violations"], "rules": {"target-size": {"enabled": True}}}
    if rules:
        options["runOnly"] = {"type": "rule", "values": list(rules)}
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE.axe_script)
    found = page.evaluate("options => axe.run(options).then(found => found.violations)", options)
    return [
        f"{urlsplit(page.url).path} {rule['id']}: {node['html'][:160]} {node['failureSummary'][:300]}"
        for rule in found
        for node in rule["nodes"][:3]
    ]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_pages_outside_the_walk_keep_the_rules_too(sit_down, live_server, db, request, scheme):
    """The first visit, signing in, a refused form, a page that is not there; and pages with nothing on them."""
    person = sit_down(color_scheme=scheme)
    found = []

    def look(path):
        person.open(path)
        found.extend(wide_pages(person, path) + violations(person.page))

    look("/welcome/")
    person.press("Open the studio")
    expect(person.page.get_by_role("region", name="Check this before saving")).to_be_focused()
    found += wide_pages(person, "the welcome page, refused") + violations(person.page)
    request.getfixturevalue("studio")
    owner = request.getfixturevalue("owner")
    look("/sign-in/")
    person.fill({"Username": "maren", "Password": "nothing of the kind"})
    person.press("Sign in")
    found += wide_pages(person, "signing in, refused") + violations(person.page)

    person = sit_down(color_scheme=scheme, sign_in=owner)
    empty = (
        "/",
        "/stock/",
        "/stock/lots/",
        "/stock/deliveries/",
        "/stock/suppliers/",
        "/stock/ledger/",
        "/batches/",
        "/batches/plan/",
        "/formulas/",
        "/formulas/add/",
        "/costing/",
        "/costing/products/",
        "/costing/variances/",
        "/costing/rates/",
        "/trace/",
        "/nowhere/",
    )
    for path in empty:
        look(path)
    person.open("/stock/deliveries/add/")
    person.press("Put it on the shelf")
    person.sees("Enter at least one line.")
    found += wide_pages(person, "a delivery, refused") + violations(person.page)
    assert found == []


SMALL_BUTTONS = """least => [...document.querySelectorAll('main button, main .button')].map(button => {
  // A link that stretches over its row is as large as the row.
  const over = getComputedStyle(button, '::before');
  const stretched = over.position === 'absolute' && over.content !== 'none';
  const box = (stretched ? button.offsetParent : button).getBoundingClientRect();
  return [button.innerText.trim() || button.textContent.trim(), box.width, box.height];
}).filter(([, width, height]) => (width || height) && (width < least || height < least))
  .map(([name, width, height]) => `${name} ${Math.round(width)} × ${Math.round(height)}`)"""


class Closer:
    """What is looked at once for each kind of page: its buttons, and the rules of accessibility."""

    def __init__(self, person) -> None:
        self.page = person.page
        self.small: set[str] = set()
        self.broken: list[str] = []

    def look(self, width: int) -> None:
        """Buttons of less than 44 px either way (WCAG 2.5.5) and broken rules: at a desk, and on a phone in the dark."""
        if width not in (PHONE, DESK):
            return
        buttons = self.page.evaluate(SMALL_BUTTONS, 44)
        self.small |= {f"{kind_of(self.page.url)} at {width}: {line}" for line in buttons}
        if width == DESK:
            self.broken += violations(self.page)
        else:
            self.page.emulate_media(color_scheme="dark")
            self.broken += violations(self.page, OF_THE_SCREEN)
            self.page.emulate_media(color_scheme="light")


def test_every_page_suits_every_screen_and_every_reader(person):
    """One walk for all of it, since opening pages is what takes the time."""
    heard = watch(person.page)
    wide, kinds, closer = [], set(), Closer(person)
    for path in walk(person):
        if (kind := kind_of(path)) in kinds:
            wide += wide_pages(person, path)
        else:
            wide += wide_pages(person, path, closer.look)
            kinds.add(kind)
    assert (wide, sorted(closer.small), closer.broken, heard) == ([], [], [], [])
    # All of it would notice: a page too wide, a small button, a faint word, a breach of the content policy.
    person.page.evaluate("document.querySelector('main').style.minWidth = '3000px'")
    assert len(wide_pages(person, "canary")) == len(WIDTHS)
    assert person.page.evaluate(SMALL_BUTTONS, 4000), "no button was measured"
    person.page.evaluate("document.querySelector('h1').style.color = '#d8d4cc'")
    assert any("color-contrast" in line for line in violations(person.page, OF_THE_SCREEN))
    person.page.evaluate("document.body.setAttribute('style', 'color: red')")
    assert any("Content Security Policy" in line for line in heard)


def test_the_skip_link_leads_past_the_sections(person):
    for path in ("/", "/stock/", "/batches/plan/"):
        person.open(path)
        person.page.keyboard.press("Tab")
        skip = person.page.get_by_role("link", name="Skip to the page")
        expect(skip).to_be_focused()
        expect(skip).to_be_in_viewport(ratio=1)
        person.page.keyboard.press("Enter")
        expect(person.page.get_by_role("main")).to_be_focused()
        person.page.keyboard.press("Tab")
        assert person.page.evaluate("document.querySelector('main').contains(document.activeElement)")


# What has the focus: whether it is seen to have it, lies wholly in the window and has nothing lying over it.
FOCUSED = """() => {
  const element = document.activeElement;
  if (!element || element === document.body) return null;
  const name = element.outerHTML.slice(0, 140);
  const row = element.closest('.task-list > li');
  const box = (element.offsetWidth < 2 && row ? row : element).getBoundingClientRect();
  const rings = [element, row].filter(Boolean).map(each => getComputedStyle(each));
  const ringed = rings.some(style => style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2);
  const x = Math.min(Math.max(box.left, 0) + Math.min(box.width, 60) / 2, innerWidth - 1);
  const shown = [Math.max(box.top, 0), Math.min(box.bottom, innerHeight)];
  // What is taller than the window cannot lie in it wholly; the middle of what is seen of it speaks for it.
  const tall = box.height > innerHeight / 2;
  const points = tall ? [(shown[0] + shown[1]) / 2] : [box.top + 3, box.bottom - 3];
  const free = points.every(y => {
    const top = document.elementFromPoint(x, y);
    return top && (element.contains(top) || top.contains(element) || (row && row.contains(top)));
  });
  return {name, ringed, free};
}"""


@pytest.mark.parametrize(
    "size", [{"width": PHONE, "height": 844}, {"width": 1280, "height": 800}], ids=["phone", "desk"]
)
def test_the_focus_is_seen_wherever_it_goes(person, size):
    """WCAG 2.4.7 and 2.4.11: a visible ring, and no bar lies over what has the focus."""
    person.page.set_viewport_size(size)
    person.open("/batches/")
    person.follow(person.code(person.row(CANDLE).first), person.page.get_by_role("main"))
    person.stands_at(re.compile("^Batch"))
    run = urlsplit(person.page.url).path
    for path in ("/", "/stock/", "/stock/deliveries/add/", "/stock/lots/", run, "/costing/rates/", "/trace/"):
        person.open(path)
        # From the top, also where a field takes the focus by itself.
        person.page.evaluate("document.body.tabIndex = -1; document.body.focus()")
        person.page.evaluate("document.body.removeAttribute('tabindex')")
        lost, reached = [], 0
        for _ in range(200):
            person.page.keyboard.press("Tab")
            focus = person.page.evaluate(FOCUSED)
            if focus is None:
                break
            reached += 1
            if not (focus["ringed"] and focus["free"]):
                lost.append(focus)
        assert reached > 10, f"only {reached} places on {path} take the focus"
        assert lost == [], path
        assert focus is None, f"the focus never leaves {path}"
