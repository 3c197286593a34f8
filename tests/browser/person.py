"""What a person does in front of the studio: everything by labels, roles and the words on the page."""

import re

from playwright.sync_api import Locator, Page, expect


def spaced(code: str) -> str:
    """A code as it is written in sentences, in groups of three."""
    return " ".join(code[start : start + 3] for start in range(0, len(code), 3))


class Person:
    """Somebody at a page. A label is given as it reads, without its unit and without "optional"."""

    def __init__(self, page: Page) -> None:
        self.page = page

    def open(self, path: str) -> None:
        """Type an address."""
        self.page.goto(path)

    def follow(self, name: str, within: Locator | None = None) -> None:
        """Follow a link by its words."""
        (within or self.page).get_by_role("link", name=name, exact=True).first.click()

    def go(self, *links: str) -> None:
        """From the sections on top, link by link."""
        section, *others = links
        self.follow(section, self.page.get_by_role("navigation", name="Sections"))
        for name in others:
            self.follow(name, self.page.get_by_role("main"))

    def press(self, name: str, within: Locator | None = None) -> None:
        """Press a button by its words."""
        (within or self.page).get_by_role("button", name=name, exact=True).click()

    def counted_as_planned(self) -> None:
        """Say that what is counted out went in as planned, where the page asks."""
        box = self.page.get_by_label("The counted parts left empty went in as planned")
        if box.count():
            box.check()

    def field(self, label: str, within: Locator | None = None) -> Locator:
        """The field with this label."""
        words = re.compile(rf"^\s*{re.escape(label)}(\s+in \S+)?(\s+optional)?\s*$")
        return (within or self.page.get_by_role("main")).get_by_label(words)

    def fill(self, fields: dict[str, str], within: Locator | None = None) -> None:
        """Type into text fields, by their labels."""
        for label, text in fields.items():
            self.field(label, within).fill(text)

    def choose(self, label: str, option: str, within: Locator | None = None) -> None:
        """Choose from a list by the words of the option."""
        self.field(label, within).select_option(label=option)

    def tick(self, label: str, within: Locator | None = None) -> None:
        """Tick a box."""
        self.field(label, within).check()

    def line(self, name: str | re.Pattern) -> Locator:
        """A group of fields by its heading: a line of a delivery or of a formula, an item of a run."""
        return self.page.get_by_role("group", name=name)

    def part(self, heading: str) -> Locator:
        """The part of the page under a heading."""
        headed = self.page.get_by_role("heading", name=heading, exact=True)
        return self.page.locator("section").filter(has=headed)

    def row(self, words: str, within: Locator | None = None) -> Locator:
        """A row of a table with these words in it."""
        return (within or self.page).get_by_role("row").filter(has_text=words)

    def figure(self, term: str, within: Locator | None = None) -> Locator:
        """What stands under a short heading such as "On hand"."""
        place = within or self.page.get_by_role("main")
        return (
            place.get_by_role("term")
            .filter(has_text=re.compile(rf"^{term}$"))
            .locator("xpath=following-sibling::dd")
        )

    def sees(self, words: str) -> None:
        """Somewhere in the page's own part, these words are to be seen."""
        expect(self.page.get_by_role("main")).to_contain_text(words)

    def stands_at(self, heading: str | re.Pattern) -> None:
        """The page has this heading."""
        expect(self.page.get_by_role("heading", level=1)).to_have_text(heading)

    def code(self, within: Locator) -> str:
        """The first code in a part of the page, as it would be copied."""
        return within.locator("data").first.inner_text().replace(" ", "")
