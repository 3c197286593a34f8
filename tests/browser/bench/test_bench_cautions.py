"""The cautions of the present step stand in sight beside it, on a phone, a tablet and a desk."""

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from tests.browser.at_the_bench import AtTheBench


@pytest.fixture
def batch(books, studio, shelf):
    """As on the other pages of the bench, with twelve hours of rest before hand finishing."""
    process = {"heat_to_mc": 85_000, "fragrance_at_mc": 70_000, "pour_from_mc": 57_000, "pour_to_mc": 62_000}
    version = books.candle(**process, stir_minutes=2, rest_hours=12)
    return books.plan(version, 10, on=timezone.localdate())


@pytest.mark.parametrize(("width", "height"), [(390, 844), (820, 1180), (1440, 900)])
def test_each_steps_cautions_are_in_sight_without_scrolling(sit_down, owner, batch, width, height):
    size = {"viewport": {"width": width, "height": height}, "has_touch": True}
    bench = AtTheBench(sit_down(sign_in=owner, **size), batch)
    care = bench.page.locator("#bench-care")
    for step, words in (
        ("Heat the wax", "Never put water on burning wax"),
        # 80 degrees C is the flash point on record; it is added at 70.
        ("fragrance", "flash point 80"),
        ("Pour", "gloves"),
        ("Rest", "heat gun"),
    ):
        bench.to(step)
        expect(care).to_contain_text(words)
        box = care.bounding_box()
        assert box["y"] >= 0, step
        assert box["y"] + box["height"] <= height, step
    bench.to("wax")
    expect(care).to_be_hidden()
