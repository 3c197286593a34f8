"""A person with a tablet at the melting pot."""

import re

from playwright.sync_api import expect

from tests.browser.person import spaced

TABLET = {"viewport": {"width": 820, "height": 1180}, "has_touch": True}


class AtTheBench:
    """A person with a tablet."""

    def __init__(self, person, batch):
        self.person, self.page, self.batch = person, person.page, batch
        person.open(f"/batches/{batch.code}/bench/")
        self.ready()

    def ready(self):
        expect(self.page.locator("#bench")).to_be_visible()

    def at(self, name):
        expect(self.page.locator("#bench-name")).to_have_text(name)

    def step(self, name):
        """Its line in the list of all steps."""
        return self.page.locator("#bench-steps").get_by_role("button", name=re.compile(f"^{name}"))

    def to(self, name):
        self.step(name).click()
        self.at(name)

    def still(self):
        """Nothing is on its way: which lots are suggested is not about to change."""
        expect(self.page.locator("#bench")).to_have_attribute("data-sending", "false")

    def take(self, lot):
        self.still()
        self.page.locator(".bench-pick").filter(has_text=spaced(lot.code)).tap()

    def type(self, figures):
        for figure in figures:
            self.page.locator(f'.bench-key[data-key="{figure}"]').tap()

    def left(self, words):
        expect(self.page.locator("#bench-left")).to_have_text(words.replace(" g", "\N{NO-BREAK SPACE}g"))

    def record(self):
        self.page.locator("#bench-record").tap()

    def weigh(self, figures):
        self.type(figures)
        self.record()

    def saved(self, words):
        expect(self.page.locator("#bench-saved")).to_have_text(words)

    def arrived(self, count):
        """So many entries are with the studio, and none waits."""
        expect(self.page.locator("#bench-entries li:not(.muted)")).to_have_count(count)
        self.saved("All is saved")
        # The plan has come anew too.
        self.still()

    def scan(self, text):
        """What a hardware scanner types: keys, then Enter."""
        self.page.keyboard.type(text)
        self.page.keyboard.press("Enter")

    def stopped(self, words):
        expect(self.page.locator("#bench-stop")).to_contain_text(words.replace(" g", "\N{NO-BREAK SPACE}g"))

    def answer(self, words):
        self.page.get_by_role("dialog").get_by_role("button", name=words).tap()


def offline(bench, away):
    bench.page.context.set_offline(away)
