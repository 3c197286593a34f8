"""Channels, prices and new scents through their pages. Figures by hand; see `filled` for what stands there."""

import csv
import io
from datetime import date

import pytest
from django.urls import reverse
from pypdf import PdfReader

from batches.models import FormulaVersion
from costing.models import AskedPrice, ChannelTerms, PriceRounding, Scenario
from costing.prices.price_list_pdf import ListedProduct, PriceList, PriceSection, price_list_pdf
from inventory.models import Channel, Item
from tests.costing.thoughts import think
from tests.house import money
from tests.web.conftest import enter
from tests.web.forms import key


@pytest.fixture
def keeper(filled):
    return enter(filled.people.bookkeeper)


@pytest.fixture
def owner(filled):
    return enter(filled.people.owner)


def rows_of(client, url):
    text = client.get(url).content.decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text)))


def text_of(response):
    return " ".join(
        response.content.decode().replace("&nbsp;", " ").replace("\N{NO-BREAK SPACE}", " ").split()
    )


TERMS = {
    "from_on": "2026-04-01",
    "percent_ppm": "2.9",
    "fixed_micros": "0.30",
    "shipping_micros": "",
    "units_milli": "1.8",
    "tax": "none",
    "tax_ppm": "",
    "discount_ppm": "",
    "discounted_ppm": "",
    "share_of": "",
    "share_ppm": "",
}


def test_a_channel_begins_with_its_terms(keeper):
    answer = keeper.post("/costing/channels/add/", {"name": "Fair", **TERMS, "submission_key": key()})

    terms = ChannelTerms.objects.get(channel__name="Fair")
    assert answer.headers["Location"] == reverse("costing:channel-detail", args=[terms.channel_id])
    assert (terms.percent_ppm, terms.fixed_micros, terms.units_milli) == (29_000, money("0.30"), 1_800)


def test_new_terms_leave_the_earlier_ones_as_they_were(filled, keeper):
    url = reverse("costing:channel-terms-add", args=[filled.web.pk])
    before = list(filled.web.terms.values())

    keeper.post(url, {**TERMS, "percent_ppm": "5", "submission_key": key()})

    assert list(filled.web.terms.exclude(percent_ppm=50_000).values()) == before
    # They hold from April on, and it is March.
    page = text_of(keeper.get(reverse("costing:channel-list")))
    assert "2.9 % of what is paid; $0.31 fixed and $4.57 shipping shared by 1.8 pieces" in page


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"percent_ppm": "100"}, "A fee of 100 % or more leaves nothing."),
        ({"discount_ppm": "120"}, "A discount of 100 % or more leaves nothing."),
        ({"discounted_ppm": "101"}, "Enter 100 or less."),
        ({"tax": "inside"}, "Enter the rate, for example 20"),
        ({"units_milli": "0"}, "Enter how many pieces"),
        ({"units_milli": "two"}, "two"),
        ({"share_ppm": "50"}, "Choose whose prices it is a share of"),
        ({"fixed_micros": "-1"}, "without a minus sign"),
    ],
)
def test_terms_that_cannot_be_are_refused_beside_the_field(filled, keeper, fields, said):
    url, before = reverse("costing:channel-terms-add", args=[filled.web.pk]), ChannelTerms.objects.count()

    answer = keeper.post(url, {**TERMS, **fields, "submission_key": key()})

    assert answer.status_code == 422
    assert said in text_of(answer)
    assert ChannelTerms.objects.count() == before


def test_price_points_ask_once_before_a_colleagues_are_replaced(filled, keeper, owner):
    url = reverse("costing:price-points")
    data = {"way": "nearest", "step_micros": "10", "endings": "9", "seen": "", "submission_key": key()}

    assert keeper.post(url, data).status_code == 422
    assert PriceRounding.objects.get().way == "up"
    seen = keeper.get(url).context["form"]["seen"].value()
    assert keeper.post(url, {**data, "seen": seen, "submission_key": key()}).status_code == 302
    kept = PriceRounding.objects.get()
    assert (kept.way, kept.step_micros, kept.endings) == ("nearest", money(10), [money(9)])
    again = {**data, "seen": owner.get(url).context["form"]["seen"].value(), "endings": "10"}
    assert "below the step" in text_of(owner.post(url, {**again, "submission_key": key()}))


def test_every_channel_says_what_is_kept_and_left(filled, owner):
    url = reverse("costing:product-prices", args=[filled.cured.item_id])
    shop, shops = sorted(
        rows_of(owner, f"{url}?goal=markup&ppm=30&format=csv"), key=lambda row: row["Channel"], reverse=True
    )

    # 23.95 with a fifth of tax in it keeps 19.958333; 2.9 % of the 23.95, and 4.88 for 1.8 pieces.
    assert (shop["Kept before fees"], shop["Fees"]) == ("19.958333", "3.405661")
    # Shops pay half of what is kept of it.
    assert (shops["Price asked"], shops["Fees"]) == ("9.979167", "0.000000")
    assert float(shop["Margin %"]) == pytest.approx(
        100 * (1 - (3.405661 + float(shop["Unit cost"])) / 19.958333), abs=0.001
    )
    # 30 % on the cost, put up to the next price point.
    assert float(shops["Suggested for a markup of 30 %"]) >= 1.3 * float(shops["Unit cost"])


def test_a_price_tried_says_what_may_be_lost_and_when_it_breaks_even(filled, owner):
    url = reverse("costing:product-prices", args=[filled.cured.item_id])

    page = owner.get(f"{url}?goal=margin&ppm=40&channel={filled.web.pk}&price=30&units=100&fixed=90")

    trial = page.context["trial"]
    # 30.00 keeps 25.00 less 0.87 and 2.711111; 23.95 keeps 19.958333 less 3.405661: 4.866217 more a candle.
    gained = float(trial["sold"].contribution - trial["row"].sold.contribution) / 1e6
    assert gained == pytest.approx(4.866217, abs=1e-6)
    before = float(trial["row"].sold.contribution)
    assert float(trial["change"].may_lose) == pytest.approx(1 - before / float(trial["sold"].contribution))
    assert "You may lose" in text_of(page)
    assert "To earn $90.00 first" in text_of(page)


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ("goal=margin&ppm=100", "stays below 100 %. For more, choose markup."),
        ("goal=margin&ppm=98", "leave nothing to pay the candle with"),
        ("price=cheap", "Write a sum such as 12.50"),
        ("units=0", "greater than or equal to 1"),
    ],
)
def test_an_impossible_wish_is_answered_with_a_sentence(filled, owner, query, said):
    answer = owner.get(f"{reverse('costing:product-prices', args=[filled.cured.item_id])}?{query}")

    assert answer.status_code == 200
    assert said in text_of(answer)


def test_a_price_is_asked_from_its_day_on(filled, keeper):
    url = reverse("costing:asked-price-add", args=[filled.cured.item_id])
    data = {
        "channel": filled.web.pk,
        "price_micros": "25.95",
        "from_on": "2026-05-01",
        "note": "Glass is dearer",
    }

    keeper.post(url, {**data, "submission_key": key()})

    assert AskedPrice.objects.latest("pk").price_micros == money("25.95")
    (shop,) = [
        row
        for row in rows_of(keeper, f"{reverse('costing:price-list')}?format=csv&unapproved=yes")
        if (row["Product"], row["Channel"]) == (filled.cured.item.name, "Web shop")
    ]
    assert (shop["Price asked"], shop["Since"]) == ("23.950000", "2026-01-05")
    assert keeper.post(url, {**data, "price_micros": "", "submission_key": key()}).status_code == 422
    keeper.post(
        url, {**data, "price_micros": "", "ends": "on", "from_on": "2026-03-01", "submission_key": key()}
    )
    assert AskedPrice.objects.latest("pk").price_micros is None


def test_the_price_list_holds_prices_and_no_cost(filled, owner):
    filled.books.approve(filled.candle)
    paper = owner.get(reverse("costing:price-paper"))

    words = "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(paper.content)).pages)
    assert "$23.95" in words
    assert "$9.98" in words
    assert "20 % tax included." in words.replace("\N{NO-BREAK SPACE}", " ")
    assert "cost" not in words.lower()


@pytest.mark.parametrize("length", [5, 11, 12, 13, 14, 27, 28, 29, 40])
def test_a_page_turned_to_names_its_channel_and_the_tax_again(length):
    channels = ("Lane shop", "Web shop")
    lines = tuple(ListedProduct(f"Candle {n}", "220 g", f"${n}.00", "5 Jan 2026") for n in range(length))
    sections = tuple(PriceSection(name, "20 % tax included.", lines) for name in channels)

    paper = price_list_pdf(PriceList("Ninefold Lane", "1 Apr 2026", sections, "printed", "A4"))

    for page in PdfReader(io.BytesIO(paper)).pages:
        words = page.extract_text().split("\n")
        rows = [line for line in words if line in channels or line.startswith("Candle ")]
        names = [line for line in rows if line in channels]
        assert rows[0] in channels
        assert rows[-1] not in channels  # no name stands alone at the foot
        assert words.count("20 % tax included.") == len(names)


def test_a_price_that_follows_another_is_asked_since_either_changed(filled, keeper):
    # Shops pay half of the web shop's price since 5 January; from 1 March it is half of 27.95 less a fifth: 11.65.
    filled.books.approve(filled.candle)
    ask = reverse("costing:asked-price-add", args=[filled.cured.item_id])
    shops = [("9.979167", "2026-01-05"), ("11.645833", "2026-03-01")]
    for (price, since), raised in zip(shops, ("27.95", ""), strict=True):
        (row,) = [
            row
            for row in rows_of(keeper, f"{reverse('costing:price-list')}?format=csv")
            if (row["Product"], row["Channel"]) == (filled.cured.item.name, "Shops")
        ]
        assert (row["Price asked"], row["Since"]) == (price, since)
        if raised:
            data = {"channel": filled.web.pk, "price_micros": raised, "from_on": "2026-03-01"}
            assert keeper.post(ask, {**data, "submission_key": key()}).status_code == 302
    paper = PdfReader(io.BytesIO(keeper.get(reverse("costing:price-paper")).content)).pages[0].extract_text()
    assert paper.index("Shops") < paper.index("1 Mar 2026") < paper.index("Web shop")


def test_earnings_are_ranked_by_the_hour(filled, owner):
    rows = rows_of(owner, f"{reverse('costing:earning-list')}?format=csv")

    hours = [float(row["Contribution per hands-on hour"]) for row in rows]
    assert [row["Rank"] for row in rows] == ["1", "2"]
    assert hours == sorted(hours, reverse=True)
    for row in rows:
        # Contribution over minutes, sixty times.
        each, minutes = float(row["Contribution"]), float(row["Hands-on minutes"])
        assert float(row["Contribution per hands-on hour"]) == pytest.approx(each * 60 / minutes, abs=1e-4)
    page = text_of(owner.get(f"{reverse('costing:earning-list')}?hour=500"))
    assert "would bring $500.00 an hour" in page


def test_a_scenario_is_kept_and_made_into_a_formula_once(filled, owner):
    thought = filled.thought
    url = reverse("costing:scenario-make", args=[thought.pk])
    data = {"submission_key": key()}

    first, again = owner.post(url, data), owner.post(url, data)

    made = Scenario.objects.get(pk=thought.pk).made
    assert first.headers["Location"] == again.headers["Location"] == made.get_absolute_url()
    assert (made.state, made.number, made.formula.name) == (FormulaVersion.State.TRIAL, 1, "Quince Orchard")
    assert Item.objects.get(name="Quince Orchard oil").kind == "fragrance"
    like = filled.candle.lines.order_by("pk")
    assert [line.amount for line in made.lines.order_by("pk")] == [line.amount for line in like]
    # A second press on a fresh page changes nothing and says why.
    answer = owner.post(url, {"submission_key": key()}, follow=True)
    assert "made of this scenario already" in text_of(answer)


def test_a_scenario_shows_whole_packs_and_what_development_takes(filled, owner):
    compared = f"{reverse('costing:scenario-compare')}?s={filled.thought.pk}&format=csv"
    (row,) = rows_of(owner, compared)

    # 4 pours at 15.00 and a certificate at 90.00.
    assert row["Development"] == "150.000000"
    assert row["Fragrance"] == "Quince Orchard oil"
    page = owner.get(filled.thought.get_absolute_url())
    worked = page.context["row"]
    assert [step.name for step in worked.steps] == ["First run", "Steady", "0.5 kg", "2.5 kg"]
    scent = next(need for need in worked.needs if need.part.name == "Quince Orchard oil")
    assert (scent.there, scent.bought.cash) == (0, money(40))
    table = rows_of(owner, f"{filled.thought.get_absolute_url()}?format=csv")
    assert [row["What"] for row in table if row["Part"] == "A candle"] == [step.name for step in worked.steps]
    (bought,) = [row for row in table if row["What"] == "Quince Orchard oil"]
    assert (bought["In all"], bought["More"]) == ("40.000000", "1 × 0.5 kg")


def test_a_load_above_the_maximum_is_named_both_ways(filled, owner):
    Item.objects.filter(pk=filled.shelf["wax"].item_id).update(
        maximum_load_ppm=80_000, maximum_load_basis="of_wax"
    )

    page = text_of(owner.get(filled.other_thought.get_absolute_url()))

    assert "9 % of wax = 8.26 % of melt" in page
    assert "is above the 8 % of wax stated for wax" in page


def thought(filled, **fields):
    """What the page of a new scent sends."""
    sets = {
        f"{name}-{what}": "0"
        for name in ("parts", "quotes", "expenses")
        for what in ("TOTAL_FORMS", "INITIAL_FORMS")
    }
    return {
        "version": filled.candle.pk,
        "name": "Fog",
        "fragrance": "",
        "fragrance_name": "Fog oil",
        "load_ppm": "9",
        "load_basis": "of_wax",
        "fill_ug": "120",
        "first_units": "12",
        "run_units": "24",
        "year_units": "100",
        "channel": "",
        "price_micros": "",
        "note": "",
        "submission_key": key(),
        **sets,
        **fields,
    }


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"name": "QUINCE ORCHARD"}, "A scenario of this name exists already."),
        ({"name": "Fog oil"}, "The candle has this name."),
        ({"load_ppm": "100"}, "Enter a load above 0 and below 100 %"),
        ({"fill_ug": "0"}, "Enter an amount above zero"),
        ({"price_micros": "20"}, "Choose where it would be sold"),
        ({"first_units": "0"}, "greater than or equal to 1"),
        ({"quotes-TOTAL_FORMS": "1", "quotes-0-pack": "2 gal", "quotes-0-price_micros": "9"}, "is a volume"),
        ({"quotes-TOTAL_FORMS": "1", "quotes-0-pack": "2 kg", "quotes-0-price_micros": ""}, "Enter a price"),
        (
            {"expenses-TOTAL_FORMS": "1", "expenses-0-kind": "burn", "expenses-0-number": "2"},
            "Enter what each costs",
        ),
        ({"parts-TOTAL_FORMS": "1", "parts-0-amount": "1"}, "Choose what this is."),
    ],
)
def test_a_thought_that_cannot_be_is_refused_and_keeps_what_was_typed(filled, owner, fields, said):
    before = Scenario.objects.count()

    answer = owner.post(reverse("costing:scenario-add"), thought(filled, **fields))

    assert answer.status_code == 422
    assert said in text_of(answer)
    assert 'value="Fog oil"' in answer.content.decode()
    assert Scenario.objects.count() == before


def test_every_complaint_about_a_thought_stands_in_the_summary(filled, owner):
    wrong = {"name": "", "quotes-TOTAL_FORMS": "1", "quotes-0-pack": "2 kg", "quotes-0-price_micros": ""}

    page = owner.post(reverse("costing:scenario-add"), thought(filled, **wrong)).content.decode()

    summary = page[page.index("error-summary-title") : page.index("</section>")]
    assert "Quote 1, Price per pack" in summary
    assert ">Name</a>" in summary


def test_a_scent_is_not_named_like_something_else(filled, owner):
    wick = filled.shelf["wick"].item

    answer = owner.post(reverse("costing:scenario-add"), thought(filled, fragrance_name=wick.name.upper()))

    assert answer.status_code == 422
    assert f"{wick.name} is on record and is no fragrance." in text_of(answer)


def test_products_formulas_and_stock_lead_to_their_costs_for_those_who_see_them(filled, owner):
    formula = filled.candle.formula
    places = (formula.item.get_absolute_url(), formula.get_absolute_url())
    sheet = reverse("costing:cost-sheet", args=[formula.pk])
    prices = reverse("costing:product-prices", args=[formula.item_id])
    for place in places:
        page = owner.get(place).content.decode()
        assert sheet in page
        assert prices in page
    assert reverse("costing:stock-value") in owner.get(reverse("inventory:item-list")).content.decode()
    maker = enter(filled.people.maker)
    for place in (*places, reverse("inventory:item-list")):
        assert "/costing/" not in maker.get(place).content.decode()
    assert prices in owner.get(sheet).content.decode()
    assert sheet in owner.get(prices).content.decode()


def test_a_thought_is_kept_with_its_lines(filled, owner):
    wick = filled.shelf["wick"].item_id
    more = {
        "quotes-TOTAL_FORMS": "2",
        "quotes-0-pack": "1 kg",
        "quotes-0-price_micros": "55",
        "quotes-1-pack": "",
        "parts-TOTAL_FORMS": "1",
        "parts-0-item": str(wick),
        "parts-0-amount": "2",
    }

    owner.post(reverse("costing:scenario-add"), thought(filled, **more))

    kept = Scenario.objects.get(name="Fog")
    assert [(part.item_id, part.amount) for part in kept.parts.all()] == [(wick, 2)]
    assert [(quote.typed_pack, quote.price_micros) for quote in kept.quotes.all()] == [("1 kg", money(55))]
    assert (kept.load_ppm, kept.fill_ug) == (90_000, 120_000_000)


def test_one_more_line_keeps_what_was_typed_without_complaints(filled, owner):
    data = thought(filled, **{"quotes-TOTAL_FORMS": "1", "quotes-0-pack": "2 kg", "add_line": "quotes"})

    answer = owner.post(reverse("costing:scenario-add"), data)

    assert answer.status_code == 200
    assert len(answer.context["page"].quotes.forms) == 2
    assert "Enter a price" not in text_of(answer)


def test_a_scenario_is_put_away_and_taken_out_again(filled, owner):
    url = reverse("costing:scenario-put-away", args=[filled.other_thought.pk])

    owner.post(url, {"away": "yes", "submission_key": key()})
    assert "Rain on Slate, stronger" not in text_of(owner.get(reverse("costing:scenario-list")))
    owner.post(url, {"away": "no", "submission_key": key()})
    assert "Rain on Slate, stronger" in text_of(owner.get(reverse("costing:scenario-list")))


def test_a_scenario_named_like_a_product_makes_no_second_one(filled, owner):
    taken = think(filled.books, filled.cured.item.name, filled.candle)

    answer = owner.post(
        reverse("costing:scenario-make", args=[taken.pk]), {"submission_key": key()}, follow=True
    )

    assert "Keep this scenario under another name." in text_of(answer)
    assert not Scenario.objects.get(pk=taken.pk).made


def test_channels_are_the_ones_that_goods_leave_by(filled, owner):
    Channel.objects.create(name="Kiosk")
    page = text_of(owner.get(reverse("costing:channel-list")))

    assert "Kiosk" in page
    assert "No terms hold today" in page
    assert date(2026, 1, 5) == filled.web.terms.get().from_on
