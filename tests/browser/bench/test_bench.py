"""The bench in a browser: a whole batch on a tablet whose network comes and goes, a scanner that types, a scale."""

import json
import re
from datetime import timedelta
from fractions import Fraction
from random import Random

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from batches.bench.entries import TAKEN_BACK
from batches.formulas.overshoot import overshoot
from batches.models import BenchEntry
from inventory.lots import holding
from inventory.models import Posting
from studio.core.codes import is_valid, make_code
from tests.browser.at_the_bench import TABLET, AtTheBench, offline
from tests.browser.conftest import _session
from tests.browser.person import spaced
from tests.browser.test_look import SMALL_BUTTONS, violations, watch, wide_pages
from tests.house import base, grams

pytestmark = pytest.mark.django_db(transaction=True)


def test_a_whole_batch_with_the_network_cut_twice_and_the_page_reloaded(bench, shelf, batch):
    heard = watch(bench.page)
    # The browser keeps the page before the network goes.
    bench.page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    bench.page.wait_for_function("caches.match(location.pathname).then(Boolean)")

    bench.at("wax")
    bench.take(shelf["more"])
    bench.type("450")
    bench.left("470 g to go")
    bench.record()
    bench.arrived(1)

    offline(bench, True)
    # What is left fits into the lot that expires first.
    bench.take(shelf["wax"])
    bench.type("500")
    bench.page.locator("#bench-tare-now").tap()
    bench.type("970")
    bench.left("On target")
    bench.record()
    bench.saved("1 entry is kept on this device and not yet saved")
    bench.at("Heat the wax")
    bench.weigh("85")
    bench.saved("2 entries are kept on this device and not yet saved")
    # The screen was locked and the page is gone: it comes back without the network, with what was entered.
    bench.page.reload()
    bench.ready()
    bench.saved("2 entries are kept on this device and not yet saved")
    bench.at("Temperature for the fragrance")
    assert Posting.objects.filter(kind="draw").count() == 1
    offline(bench, False)
    bench.arrived(3)

    bench.weigh("70")
    bench.arrived(4)
    bench.at("fragrance")
    bench.take(shelf["fragrance"])
    # The answer to what arrives is lost: it is sent again, and posted once.
    bench.page.context.route("**/bench/entries/", lambda route: (route.fetch(), route.abort()))
    with bench.page.expect_event("requestfailed"):
        bench.weigh("80")
    bench.saved("1 entry is kept on this device and not yet saved")
    assert Posting.objects.filter(kind="draw").count() == 3
    offline(bench, True)
    bench.page.context.unroute("**/bench/entries/")
    bench.at("Stir")
    bench.page.get_by_role("button", name="Start the time").tap()
    bench.page.get_by_role("button", name=re.compile("^Record")).tap()
    for name in ("wick", "vessel"):
        bench.at(name)
        bench.take(shelf[name])
        bench.left("On target")
        bench.record()
    bench.at("Pour")
    bench.weigh("60")
    bench.saved("5 entries are kept on this device and not yet saved")
    offline(bench, False)
    bench.arrived(9)
    onwards = bench.page.locator("#bench-news").get_by_role("link", name="Say what came out")
    expect(onwards).to_have_attribute("href", f"/batches/{batch.code}/finish/")

    of_batch = batch.draws.standing().values_list("line__item__name", "movement__quantity")
    assert sorted(of_batch) == [
        ("fragrance", -grams(80)),
        ("vessel", -10),
        ("wax", -grams(470)),
        ("wax", -grams(450)),
        ("wick", -10),
    ]
    assert Posting.objects.filter(kind="draw").count() == 5
    assert sorted(batch.readings.values_list("kind", "temperature_mc")) == [
        ("fragrance", 70_000),
        ("melt", 85_000),
        ("pour", 60_000),
    ]
    assert batch.notes.get().kind == "stirred"
    assert BenchEntry.objects.count() == 9
    tared = BenchEntry.objects.get(tare_ug__gt=0)
    assert (tared.gross_ug, tared.tare_ug) == (grams(970), grams(500))
    assert not [line for line in heard if "Content Security" in line or "TypeError" in line]


def test_a_scanner_that_types_and_what_it_is_stopped_at(bench, books, shelf, live_server):
    held = books.receive("wax", "1 kg", cost=5)
    holding.hold(held.pk, signature=books.sign(reason="Specks"))
    bench.page.reload()
    bench.ready()

    bench.scan(f"{live_server.url}/stock/lots/{held.code}/")
    bench.stopped("is on hold. Choose another lot")
    bench.scan(shelf["fragrance"].code)
    bench.stopped(f"is fragrance, not wax. Take {spaced(shelf['more'].code)}")
    wrong = shelf["more"].code[:-1] + ("2" if shelf["more"].code[-1] != "2" else "3")
    bench.scan(wrong)
    bench.stopped("no code of ours")
    bench.scan(shelf["wax"].code)
    bench.stopped("Another lot widens a recall")
    unknown = next(code for number in range(900, 999) if (code := make_code("L", number)))
    bench.scan(unknown)
    bench.stopped(f"There is no lot {spaced(unknown)}")
    offline(bench, True)
    bench.scan(unknown)
    bench.stopped("no network to ask")
    offline(bench, False)
    # Scanned in small letters, with the focus on a button that Enter would press.
    bench.page.locator("#bench-next").focus()
    bench.scan(shelf["more"].code.lower())
    expect(bench.page.locator("#bench-chosen")).to_contain_text(spaced(shelf["more"].code))
    bench.at("wax")
    # Figures typed on the keyboard go to the weight.
    bench.page.keyboard.type("92.5")
    bench.left("827.5 g to go")


def test_more_than_the_books_hold_is_offered_as_found_and_the_last_step_is_taken_back(bench, books, shelf):
    books.draw(shelf["fragrance"], "921 g", at=timezone.now() - timedelta(days=1))
    bench.page.reload()
    bench.ready()
    bench.to("fragrance")
    bench.take(shelf["fragrance"])
    bench.still()
    # Another bench takes 5 g more, which this one does not know of.
    books.draw(shelf["fragrance"], "5 g", at=timezone.now() - timedelta(minutes=1))
    bench.weigh("79")
    problem = bench.page.locator("#bench-waiting")
    expect(problem).to_contain_text(
        "holds 74\N{NO-BREAK SPACE}g by the books; 79\N{NO-BREAK SPACE}g was asked"
    )
    bench.saved("1 entry is not saved: look below")
    # What comes after it is not held up.
    bench.to("wick")
    bench.take(shelf["wick"])
    bench.record()
    expect(bench.page.locator("#bench-entries")).to_contain_text("10 of wick")
    problem.get_by_role("button", name=re.compile("^Book 5.g as found")).tap()
    bench.arrived(2)
    assert Posting.objects.to_review().count() == 1
    bench.page.locator("#bench-undo").tap()
    bench.answer("Take it back")
    expect(bench.page.locator("#bench-news")).to_contain_text("Taken back: ")
    bench.arrived(3)
    assert Posting.objects.filter(kind="reversal", reason=TAKEN_BACK).count() == 1
    # What never left the device is gone without a trace.
    offline(bench, True)
    bench.to("vessel")
    bench.take(shelf["vessel"])
    bench.record()
    bench.saved("1 entry is kept on this device and not yet saved")


def test_what_somebody_else_entered_waits_for_them(bench, sit_down, shelf, maker, live_server):
    offline(bench, True)
    bench.to("wick")
    bench.take(shelf["wick"])
    bench.record()
    bench.saved("1 entry is kept on this device and not yet saved")
    context = bench.page.context
    context.clear_cookies()
    offline(bench, False)
    expect(bench.page.locator("#bench-news")).to_contain_text("Sign in again; nothing is lost.")
    context.add_cookies([_session(maker, live_server.url)])
    bench.page.reload()
    bench.ready()
    expect(bench.page.locator("#bench-waiting")).to_contain_text("Entered by Maren, not yet saved")
    assert not BenchEntry.objects.exists()
    bench.person.open("/")
    expect(bench.page.get_by_role("main")).to_contain_text("1 entry from the bench is kept on this device")


SCALE = """
const device = Object.assign(new EventTarget(), {
  opened: false, productName: 'Bench scale', collections: [{usagePage: 0x8d, usage: 0x20}],
  async open() { this.opened = true; },
});
window.shows = (bytes) => {
  const event = new Event('inputreport');
  // Some drivers hand the report over with its number, most without.
  event.reportId = bytes.length === 6 ? 0 : 3;
  event.data = new DataView(new Uint8Array(bytes).buffer);
  device.dispatchEvent(event);
};
const hid = Object.assign(new EventTarget(), {
  async requestDevice() { return [device]; }, async getDevices() { return []; },
});
window.unplug = () => hid.dispatchEvent(Object.assign(new Event('disconnect'), {device}));
Object.defineProperty(navigator, 'hid', {value: hid});
"""

# USB-IF HID Point of Sale Usage Tables, weighing devices, usage page 0x8D. The first is a report read from a common
# scale (its status byte given as stable); the others are derived from the standard's fields: report, status, unit,
# exponent, weight low and high.
REPORTS = [
    ((0x04, 0x02, 0x00, 0x14, 0x00), "20"),
    ((0x03, 0x04, 0x02, 0x00, 0xE3, 0x00), "227"),
    ((0x04, 0x0B, 0xFF, 0x50, 0x00), "226.796185"),
    ((0x04, 0x0C, 0xFE, 0xFA, 0x00), "1133.980925"),
    ((0x04, 0x03, 0xFD, 0x39, 0x30), "12345"),
    ((0x02, 0x02, 0x00, 0x00, 0x00), "0"),
]
REFUSED = [
    ((0x05, 0x02, 0x00, 0x05, 0x00), "below zero"),
    ((0x03, 0x02, 0x00, 0x10, 0x00), "still moves"),
    ((0x06, 0x02, 0x00, 0xFF, 0xFF), "overloaded"),
    ((0x01, 0x02, 0x00, 0x10, 0x00), "fault"),
    ((0x07, 0x02, 0x00, 0x10, 0x00), "calibrated"),
    ((0x08, 0x02, 0x00, 0x10, 0x00), "set to zero"),
    ((0x04, 0x06, 0x00, 0x10, 0x00), "g, kg, oz or lb"),
]


def test_a_scale_is_read_at_rest_and_refused_in_motion(sit_down, owner, batch, shelf):
    person = sit_down(sign_in=owner, **TABLET)
    person.page.add_init_script(SCALE)
    bench = AtTheBench(person, batch)
    bench.to("wax")
    bench.take(shelf["more"])
    person.page.get_by_role("button", name="Connect a scale").tap()
    expect(person.page.locator("#bench-scale-press")).to_have_text("Scale: Bench scale")
    gross = person.page.locator("#bench-gross .bench-weight-figure")

    def shows(report):
        person.page.evaluate("bytes => window.shows(bytes)", list(report))

    for report, grams_shown in REPORTS:
        shows(report)
        expect(gross).to_have_text(f"{grams_shown}\N{NO-BREAK SPACE}g")
    shows(REPORTS[1][0])
    expect(person.page.locator("#bench-record")).to_be_enabled()
    for report, words in REFUSED:
        shows(report)
        expect(person.page.locator("#bench-scale-says")).to_contain_text(words)
        expect(gross).to_have_text("227\N{NO-BREAK SPACE}g")
        expect(person.page.locator("#bench-record")).to_be_disabled()
    shows(REPORTS[1][0])
    bench.record()
    bench.arrived(1)
    entry = BenchEntry.objects.get()
    assert (entry.source, entry.gross_ug, entry.tare_ug) == ("scale", grams(227), 0)
    # The keypad works beside it, and without it. The 693 g left fit into the lot that expires first.
    bench.take(shelf["wax"])
    shows(REPORTS[0][0])
    bench.type("31")
    expect(gross).to_have_text("31\N{NO-BREAK SPACE}g")
    person.page.evaluate("window.unplug()")
    bench.record()
    expect(person.page.locator("#bench-entries")).to_contain_text("31\N{NO-BREAK SPACE}g of wax")
    assert BenchEntry.objects.latest("pk").source == "keypad"


def test_what_the_scale_shows_while_a_question_stands_is_not_recorded(sit_down, owner, batch, shelf):
    person = sit_down(sign_in=owner, **TABLET)
    person.page.add_init_script(SCALE)
    bench = AtTheBench(person, batch)
    bench.to("fragrance")
    bench.take(shelf["fragrance"])
    person.page.get_by_role("button", name="Connect a scale").tap()
    # 500 g at rest, far more than 80 g; then 227 g, because something was taken off.
    person.page.evaluate("window.shows([0x04, 0x02, 0x00, 0xF4, 0x01])")
    bench.record()
    expect(person.page.get_by_role("dialog")).to_contain_text("Did you mean 500\N{NO-BREAK SPACE}g?")
    person.page.evaluate("window.shows([0x03, 0x04, 0x02, 0x00, 0xE3, 0x00])")
    bench.answer("Yes, 500\N{NO-BREAK SPACE}g")
    bench.arrived(1)
    entry = BenchEntry.objects.get()
    assert (entry.gross_ug, entry.source) == (grams(500), "scale")


def test_fragrance_that_went_over_is_brought_back_with_wax(bench, books, batch, shelf):
    books.draw_into(batch, (shelf["more"], "920 g"), at=timezone.now())
    bench.page.reload()
    bench.ready()
    bench.to("fragrance")
    bench.take(shelf["fragrance"])
    # 95 g on 920 g of wax is 10.33 % of wax, 9.36 % of melt, above the 10 % of wax stated; 8 to 92 asks for
    # 95 × 92 / 8 = 1092.5 g of wax, 172.5 g more, 173 on a 1 g scale; the melt is then 1187.5 g, 11 vessels of 100 g.
    bench.type("95")
    bench.left("15 g over")
    over = bench.page.locator("#bench-over")
    expect(over).to_contain_text("Do not pour")
    expect(over).to_contain_text("173\N{NO-BREAK SPACE}g of wax")
    expect(over).to_contain_text("10.33\N{NO-BREAK SPACE}% of wax = 9.36\N{NO-BREAK SPACE}% of melt")
    expect(over).to_contain_text("enough for 11 vessels (10 planned)")
    bench.record()
    bench.arrived(1)
    # The stop goes along to what follows, down to the pour itself, which is asked about.
    stop, scent = bench.page.locator("#bench-cautions"), bench.step("fragrance")
    expect(scent).to_contain_text("Too much")
    bench.to("Stir")
    expect(stop).to_contain_text("Stop: the load is 10.33\N{NO-BREAK SPACE}% of wax")
    bench.to("Pour")
    expect(stop).to_contain_text("above the maximum of 10 % of wax for fragrance")
    bench.weigh("60")
    bench.answer("Go back")
    assert not batch.readings.exists()
    stop.get_by_role("button", name="Add the wax now").tap()
    bench.at("wax")
    bench.scan(shelf["more"].code)
    bench.left("173 g to go")
    bench.weigh("173")
    bench.arrived(2)
    bench.to("fragrance")
    expect(scent).to_contain_text("Done")
    bench.scan(shelf["fragrance"].code)
    expect(over).not_to_contain_text("Do not pour")
    expect(over).to_contain_text("the load is as wanted")
    bench.to("Pour")
    expect(stop).not_to_contain_text("Stop")
    bench.weigh("60")
    bench.arrived(3)
    assert batch.readings.get().temperature_mc == 60_000


def test_a_time_runs_on_elsewhere_and_through_a_reload_and_what_holds_of_the_run_is_in_sight(bench, batch):
    side = bench.page.locator("#bench-mind")
    expect(side).to_contain_text("This version is not approved")
    bench.page.get_by_text("Hot wax, fragrance, fire").tap()
    expect(bench.page.locator("#bench-always")).to_contain_text("Never put water on burning wax")
    bench.to("Stir")
    bench.page.get_by_role("button", name="Start the time").tap()
    bench.to("wick")
    running = bench.page.locator("#bench-timers")
    expect(running).to_contain_text(re.compile(r"^Stir: [12]:\d\d to go$"))
    bench.page.reload()
    bench.ready()
    expect(running).to_contain_text("to go")
    # Two minutes and a half later.
    bench.page.evaluate("""for (const name of Object.keys(localStorage).filter((each) => each.startsWith('bench-place'))) {
      const place = JSON.parse(localStorage.getItem(name));
      for (const id of Object.keys(place.timers)) place.timers[id] -= 150000;
      localStorage.setItem(name, JSON.stringify(place));
    }""")
    bench.page.reload()
    bench.ready()
    news = bench.page.locator("#bench-news")
    expect(news).to_contain_text("Stir: time is up.")
    news.get_by_role("button", name="Go there").tap()
    bench.at("Stir")
    bench.page.get_by_role("button", name=re.compile("^Done: record ")).tap()
    bench.arrived(1)
    assert 150 <= batch.notes.get().seconds < 1_000
    # Nothing waits for the room, and its temperature is one press away.
    bench.to("Room temperature")
    bench.weigh("21.5")
    bench.arrived(2)
    assert batch.readings.get().kind == "room"


def test_a_melt_above_the_flash_point_is_cautioned(bench):
    bench.to("Temperature for the fragrance")
    bench.type("81")
    expect(bench.page.locator("#bench-over")).to_contain_text("at or above the flash point of fragrance")
    bench.left("11\N{NO-BREAK SPACE}°C above")


def test_sums_and_codes_agree_with_the_studios_own(bench):
    random = Random(9)  # noqa: S311
    cases, codes = [], []
    for _ in range(300):
        maximum, of_melt = (
            Fraction(random.randint(1, 300_000), 10**6) if random.random() < 0.6 else None for _ in "12"
        )
        case = {
            "fragrance_ug": random.randint(0, 10**10),
            "wax_ug": random.randint(1, 10**11),
            "wanted_load": Fraction(random.randint(1, 300_000), 10**6),
            "fill_ug": random.choice([None, random.randint(1, 10**9)]),
            "loss_ppm": random.randint(0, 200_000),
            "maximum": maximum,
        }
        more = {"maximum_of_melt": of_melt, "other_ug": random.randint(0, 10**9)}
        cases.append((case, more))
    for number in range(0, 60_000, 311):
        code = make_code("L", number) or "L00000"
        codes += [
            code,
            code[:-1] + random.choice("0123456789ABCDEFGHJKLMNPQRSTUVWXYZ"),
            code[1] + code[0] + code[2:],
        ]

    def pair(number):
        return None if number is None else [str(number.numerator), str(number.denominator)]

    sent = [
        {
            "fragrance": str(case["fragrance_ug"]),
            "wax": str(case["wax_ug"]),
            "other": str(more["other_ug"]),
            "wanted": pair(case["wanted_load"]),
            "fill": None if case["fill_ug"] is None else str(case["fill_ug"]),
            "loss": str(case["loss_ppm"]),
            "maximum": pair(case["maximum"]),
            "maximumOfMelt": pair(more["maximum_of_melt"]),
        }
        for case, more in cases
    ]
    base_url = bench.page.evaluate(
        "document.querySelector('script[type=module]').src.replace(/bench\\.js.*$/, '')"
    )
    got = bench.page.evaluate(
        """async ([address, cases, codes]) => {
          const { overshoot } = await import(address + 'bench_sums.js');
          const { isValid } = await import(address + 'bench_codes.js');
          const big = (value) => value === null ? null : Array.isArray(value) ? value.map(BigInt) : BigInt(value);
          const sums = cases.map((given) => {
            const asked = Object.fromEntries(Object.entries(given).map(([name, value]) => [name, big(value)]));
            const found = overshoot(asked);
            return JSON.stringify([found.loadOfWax, found.loadOfMelt, found.waxToAdd, found.melt, found.units,
              found.aboveMaximum], (_, value) => typeof value === 'bigint' ? String(value) : value);
          });
          return [sums, codes.map(isValid)];
        }""",
        [base_url, sent, codes],
    )
    for (case, more), answer in zip(cases, got[0], strict=True):
        ours = overshoot(**case, **more)
        of_wax, of_melt, to_add, melt, units, above = json.loads(answer)
        assert Fraction(int(of_wax[0]), int(of_wax[1])) == ours.load_of_wax
        assert Fraction(int(of_melt[0]), int(of_melt[1])) == ours.load_of_melt
        assert (int(to_add), int(melt)) == (ours.wax_to_add_ug, ours.melt_ug)
        assert (None if units is None else int(units)) == ours.units
        assert above is ours.above_maximum
    assert got[1] == [is_valid(code) for code in codes]
    assert any(got[1])
    assert not all(got[1])


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_bench_keeps_the_rules_at_every_step(sit_down, owner, batch, shelf, scheme):
    person = sit_down(sign_in=owner, color_scheme=scheme, **TABLET)
    bench = AtTheBench(person, batch)
    found = violations(person.page)
    bench.take(shelf["more"])
    bench.type("930")
    found += violations(person.page) + wide_pages(person, "weighing")
    found += person.page.evaluate(SMALL_BUTTONS, 44)
    person.page.set_viewport_size({"width": 390, "height": 844})
    found += person.page.evaluate(SMALL_BUTTONS, 44)
    keys = person.page.locator(".bench-key").evaluate_all(
        "keys => keys.map(key => key.getBoundingClientRect().height)"
    )
    assert min(keys) >= 56
    bench.to("Heat the wax")
    found += violations(person.page)
    assert found == []
    assert base("1 g") == grams(1)
