"""Stock value, cost of goods and closing the books, through the pages. Figures worked by hand; the shelf is `filled`'s."""

import io
from datetime import date, timedelta

import pytest
from django.urls import reverse
from pypdf import PdfReader

from costing.models import ClosedFigure, GoodsRule
from inventory.models import ClosedStock, Closing, Lot, Movement
from tests.house import NOW, day, money
from tests.web.conftest import enter
from tests.web.forms import key, nothing_moves, refused, send_url, sent

pytestmark = pytest.mark.django_db

STOCK, COST, CLOSE = "/costing/stock/", "/costing/cost-of-goods/", "/costing/closings/"
MARCH = "first=2026-03-01&last=2026-03-20"


def rows(answer):
    text = answer.content.decode("utf-8-sig")
    return [line.split(",") for line in text.splitlines()]


def closing(through="2026-03-15", **fields):
    return {
        "through": through,
        "reason": "The quarter is over",
        "sure": "on",
        "submission_key": key(),
        **fields,
    }


def test_the_value_of_stock_is_what_all_lots_are_worth_and_what_is_in_pots(filled, owner_page):
    table = rows(owner_page.get(f"{STOCK}?format=csv"))

    place = table[0].index("By the books")
    shelf = sum(money(row[place]) for row in table[1:] if row[0] != "In progress")
    assert shelf == sum(Lot.objects.values_list("value", flat=True))
    assert {row[0] for row in table[1:]} >= {"Raw materials", "Components", "In progress", "Finished goods"}
    text = owner_page.get(STOCK).content.decode()
    assert "Counted into goods: material as paid for" in text
    assert "the owner&#x27;s own labour" in text


def test_before_the_first_delivery_there_was_nothing_and_the_page_says_what_comes_next(filled, owner_page):
    text = owner_page.get(f"{STOCK}?on=2026-02-01").content.decode()

    assert "Nothing was on the shelf then" in text
    assert "Record a delivery" in text


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ("on=2026-04-01", "lies in the future"),
        ("on=tomorrow", "Write a date"),
        ("on=0001-01-01", "Check the year"),
        ("known=9999-12-31", "Check the year"),
    ],
)
def test_an_odd_day_is_answered_beside_the_field(owner_page, query, said):
    answer = owner_page.get(f"{STOCK}?{query}")

    assert (answer.status_code, said in answer.content.decode()) == (200, True)


def test_the_lots_behind_an_item_come_to_its_value(filled, owner_page):
    item = filled.shelf["wax"].item

    table = rows(owner_page.get(reverse("costing:stock-value-item", args=[item.pk]) + "?format=csv"))

    assert sum(money(row[4]) for row in table[1:]) == sum(
        Lot.objects.filter(item=item).values_list("value", flat=True)
    )
    assert {row[0] for row in table[1:]} == set(
        Lot.objects.filter(item=item, on_hand__gt=0).values_list("code", flat=True)
    )


def test_the_cost_of_goods_adds_up_line_by_line(filled, owner_page):
    table = rows(owner_page.get(f"{COST}?{MARCH}&format=csv"))

    lines = {row[0]: row[1:] for row in table}
    for place in range(5):
        available = money(lines["Goods available"][place])
        left = money(lines["Cost of goods"][place]) - money(lines["Closing stock"][place])
        assert available == left
    text = owner_page.get(f"{COST}?{MARCH}").content.decode()
    assert "every movement is in one of these lines" in text
    assert "may still change" in text


def test_the_accountants_paper_says_the_same(filled, owner_page):
    answer = owner_page.get(f"/costing/cost-of-goods/paper/?{MARCH}")

    assert answer.headers["Content-Type"] == "application/pdf"
    text = "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(answer.content)).pages)
    for said in (
        "Stock and cost of goods, 1 Mar 2026 to 20 Mar 2026",
        "Cost of goods",
        "specific lots",
        "Ninefold Lane",
    ):
        assert said in text, said
    assert "not closed through the end of this period" in text


def test_the_owner_closes_the_books_and_the_figures_stay(filled, owner_page):
    answer = owner_page.post(CLOSE, closing(), follow=True)

    closed = Closing.objects.get(through=date(2026, 3, 15))
    assert "Every figure still comes out the same" in answer.content.decode()
    assert ClosedStock.objects.filter(closing=closed).exists()
    assert ClosedFigure.objects.get(closing=closed, name="Counted as goods").value > 0
    assert "these figures stay" in owner_page.get(f"{COST}?first=2026-03-01&last=2026-03-15").content.decode()
    again = owner_page.post(CLOSE, closing())
    assert "already" in again.content.decode()


@pytest.mark.parametrize(
    ("fields", "field", "said"),
    [
        ({"through": "2026-03-20"}, "through", "not over yet"),
        ({"through": "2024-12-31"}, "through", "already"),
        ({"through": "soon"}, "through", "Write a date"),
        ({"sure": ""}, "sure", "a closing stays"),
        ({"reason": " "}, "reason", "Fill this in"),
    ],
)
def test_a_closing_that_cannot_be_is_answered_beside_its_field(owner_page, fields, field, said):
    with nothing_moves():
        answer = owner_page.post(CLOSE, closing(**fields))

    refused(answer, answer.context["form"], field, said)


def test_nobody_but_the_owner_closes_the_books(filled):
    for role in ("bookkeeper", "costly", "maker"):
        assert enter(getattr(filled.people, role)).post(CLOSE, closing()).status_code == 403
    assert Closing.objects.count() == 1


def test_a_form_says_up_to_when_the_books_are_closed_and_keeps_what_was_typed(filled, owner_page):
    owner_page.post(CLOSE, closing())
    url = send_url(filled.cured)

    page = owner_page.get(url).content.decode()
    with nothing_moves():
        answer = owner_page.post(url, sent("1", happened_at="2026-03-14T10:00", reference="HS-99"))

    assert "The books are closed up to 15 Mar 2026." in page
    said = "The books are closed up to 15 Mar 2026. Give a later time"
    refused(answer, answer.context["form"], "happened_at", said, typed=("HS-99",))


def test_reversing_what_was_closed_says_where_it_will_stand(filled, owner_page):
    posting = filled.shelf["vessel"].movements.first().posting
    owner_page.post(CLOSE, closing())

    page = owner_page.get(reverse("inventory:posting-reverse", args=[posting.pk])).content.decode()

    assert "this stands at the first moment after, 16 Mar 2026, 00:00" in page


def test_minutes_are_not_noted_for_a_closed_day(filled, owner_page):
    owner_page.post(CLOSE, closing())
    url = reverse("batches:batch-labour", args=[filled.finished.code])
    fields = {"person": filled.people.owner.pk, "step": "pour", "minutes": "20", "submission_key": key()}

    with nothing_moves():
        answer = owner_page.post(url, {**fields, "worked_on": "2026-03-15"})

    refused(answer, answer.context["labour_form"], "worked_on", "closed up to 15 Mar 2026")
    assert owner_page.post(url, {**fields, "worked_on": "2026-03-16"}).status_code == 302


def test_a_rule_of_what_is_counted_is_dated_and_never_reaches_into_what_was_closed(filled, owner_page):
    owner_page.post(CLOSE, closing())
    fields = {"with_labour": "on", "normal_loss": "2.5", "blends": "raw"}
    url = reverse("costing:goods-rule-add")

    answer = owner_page.post(url, {**fields, "from_on": "2026-03-15", "submission_key": key()})
    refused(answer, answer.context["form"], "from_on", "closed up to 15 Mar 2026")
    wrong = owner_page.post(
        url, {**fields, "from_on": "2026-03-18", "normal_loss": "120", "submission_key": key()}
    )
    refused(wrong, wrong.context["form"], "normal_loss", "between 0 and 100")
    owner_page.post(url, {**fields, "from_on": "2026-03-18", "submission_key": key()})

    rule = GoodsRule.objects.latest("pk")
    assert (rule.normal_loss_ppm, rule.blends, rule.with_owner, rule.from_on) == (
        25_000,
        "raw",
        False,
        date(2026, 3, 18),
    )


def test_the_pages_ask_as_often_whatever_there_is(filled, owner_page, django_assert_max_num_queries):
    books = filled.books

    def asked(url):
        with django_assert_max_num_queries(60) as queries:
            assert owner_page.get(url).status_code == 200
        return len(queries)

    urls = (STOCK, f"{COST}?{MARCH}", f"/costing/cost-of-goods/methods/?{MARCH}", CLOSE)
    before = [asked(url) for url in urls]
    for number in range(4):
        item = books.receive(f"Extra wax {number}", "1 kg", cost=5, at=day(2))
        books.take_out(item, "1 g", at=day(3 + number))
        batch = books.plan(filled.candle, 2)
        books.draw_into(batch, (filled.shelf["vessel"], 2), at=NOW - timedelta(hours=1))
        books.finish(batch, 2, without=True)
    assert [asked(url) for url in urls] == before


def test_other_methods_stand_beside_the_lots_and_come_to_the_same(filled, owner_page):
    table = rows(owner_page.get(f"/costing/cost-of-goods/methods/?{MARCH}&format=csv"))

    for row in table[1:]:
        sums = {money(row[place]) + money(row[place + 1]) for place in (1, 3, 5, 7)}
        assert max(sums) - min(sums) <= 2, row  # each figure is rounded to a millionth
    wax = next(row for row in table if row[0] == "wax")
    moved = Movement.objects.filter(lot__item__name="wax", kind="received", posting__reversal=None)
    assert money(wax[1]) + money(wax[2]) == sum(moved.values_list("value", flat=True))


def test_closings_and_rules_leave_as_tables(filled, owner_page):
    closings = rows(owner_page.get(f"{reverse('costing:closing-list')}?format=csv"))

    assert closings[0] == ["Through", "By", "When", "Why"]
    assert closings[1][0] == filled.closing.through.isoformat()
    assert closings[1][3] == filled.closing.reason
    assert rows(owner_page.get(f"{reverse('costing:goods-rules')}?format=csv"))[0][0] == "From"


def test_today_names_what_is_over_and_not_closed_in_the_studios_own_rhythm(filled, owner_page, db):
    # `filled` closed the books through 2024 once: a month is over since. It is 26 March 2026.
    def to_close(page):
        return [(task.what, task.more) for task in page.get("/").context["tasks"] if task.word == "To close"]

    assert to_close(owner_page) == [("The books through 31 Jan 2025", "closed through 31 Dec 2024 so far")]
    assert to_close(enter(filled.people.bookkeeper)) == to_close(enter(filled.people.maker)) == []

    # Fourteen months more in one closing, so the next is due when as many are over; then monthly again.
    filled.books.close(date(2026, 2, 28))
    assert to_close(owner_page) == []
