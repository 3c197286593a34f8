"""The pages of complaints and recalls: what is typed is kept, one press does it once, and nothing is a dead end."""

import csv
import io
import re
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from batches.complaints import complaining
from batches.models import Complaint, Recall, RecallAnswer
from batches.recalls import recalling
from batches.recalls.letters_text import days_words
from inventory.models import Customer, Lot
from inventory.shipments import dispatching
from inventory.shipments.dispatching import Back
from studio.models import Studio
from tests.house import snapshot
from tests.web.conftest import enter
from tests.web.forms import key
from tests.web.inspection import text_of


@pytest.fixture
def maker(filled):
    return enter(filled.people.maker)


def complaint(**said):
    return {"kind": "glass", "what": "It cracked.", "units": "1", "submission_key": key()} | said


def test_a_mistyped_code_keeps_what_was_typed_and_the_right_one_is_a_press_away(filled, maker):
    right = filled.cured.code
    wrong = right[:3] + right[4] + right[3] + right[5:]

    page = maker.post(reverse("batches:complaint-add"), sent := complaint(code=wrong, customer="Wilf"))

    text = page.content.decode()
    assert page.status_code == 422
    assert "No lot or batch of candles carries" in text
    assert "It cracked." in text
    assert f'name="instead" value="{right}"' in text
    maker.post(reverse("batches:complaint-add"), sent | {"instead": right})
    assert Complaint.objects.latest("pk").lot == filled.cured


@pytest.mark.parametrize(
    ("said", "sentence"),
    [
        ({}, "Type the code on the jar above, or choose the product."),
        ({"what": ""}, "Fill this in."),
        ({"units": "0"}, "greater than or equal to 1"),
        ({"sold_from": "2026-03-19", "sold_until": "2026-03-18"}, "Turn the two round"),
        ({"happened_on": "2026-03-21", "item": "candle"}, "Check both days"),
        ({"told_at": "2026-03-21T10:00", "item": "candle"}, "lies in the future"),
    ],
)
def test_what_does_not_fit_is_said_and_nothing_is_taken_down(filled, maker, said, sentence):
    before = snapshot()
    if said.get("item"):
        said = said | {"item": str(filled.cured.item_id)}

    page = maker.post(reverse("batches:complaint-add"), complaint(**said))

    assert page.status_code == 422
    assert sentence in page.content.decode()
    assert snapshot() == before


def test_a_danger_is_named_even_where_the_candle_is_not_known(filled, maker):
    told = {"kind": "injury", "what": "She was taken to hospital, and nobody knows which candle it was."}

    page = maker.post(reverse("batches:complaint-add"), complaint(**told))

    assert page.status_code == 422
    assert "This may have to be reported. Ask today." in page.content.decode()
    calm = maker.post(
        reverse("batches:complaint-add"), complaint(kind="scent", what="The scent is weak.", fire="")
    )
    assert "may have to be reported. Ask" not in calm.content.decode()


def test_the_same_press_takes_one_complaint_down(filled, maker):
    sent = complaint(code=filled.cured.code)
    before = Complaint.objects.count()

    first = maker.post(reverse("batches:complaint-add"), sent)
    again = maker.post(reverse("batches:complaint-add"), sent)

    assert first.headers["Location"] == again.headers["Location"]
    assert Complaint.objects.count() == before + 1


def test_a_colleagues_change_of_another_field_stays(filled, maker):
    url = reverse("batches:complaint-change", args=[filled.lost.code])
    shown = maker.get(url).content.decode()
    carried = dict(re.findall(r'name="(initial-[a-z_]+)" value="([^"]*)"', shown))
    item = str(filled.cured.item_id)
    sent = carried | complaint(units="3", item=item, sold_from="2026-03-12", what=filled.lost.what)
    sent["initial-what"] = filled.lost.what
    complaining.change(filled.lost.pk, signature=filled.books.sign(), kind="smoke")

    assert maker.post(url, sent).status_code == 302

    filled.lost.refresh_from_db()
    assert (filled.lost.kind, filled.lost.units) == ("smoke", 3)


@pytest.mark.parametrize(
    ("kind", "told", "why"),
    [
        ("glass", "See the photo.", "a cracked or broken vessel"),
        ("injury", "See the photo.", "somebody was hurt"),
        ("look", "Hot wax ran over the table.", "Hot wax ran over"),
        ("smoke", "After ten minutes smoke filled the room.", "smoke filled the room"),
        ("burn", "The label caught FIRE.", "caught FIRE"),
        ("scent", "Weak, and my son got a burn on his arm.", "a burn on his arm"),
        ("scent", "It smells of nothing.", ""),
        ("smoke", "Soot on the rim.", ""),
    ],
)
def test_the_caution_about_reporting_stands_with_its_reason(filled, maker, kind, told, why):
    lot = filled.cured
    taken = filled.books.complain(lot, kind=kind, what=told)

    page = text_of(maker.get(taken.get_absolute_url()))

    for said in (
        "This may have to be reported",
        "Safety Business Gateway",
        "within 24 hours",
        "not legal advice",
    ):
        assert (said in page) is bool(why), said
    assert why in page
    if why:
        rows = text_of(maker.get(reverse("batches:complaint-list"), {"kind": kind}))
        assert "May have to be reported" in rows
    # Never the other way round.
    assert "not have to be reported" not in page


def test_a_recall_reminds_of_reporting_the_studios_market_first(filled, maker):
    Studio.objects.update(market="gb")

    page = text_of(maker.get(reverse("batches:recall-start")))

    places = ("Great Britain", "European Union and Northern Ireland", "United States")
    at = [page.find(f"<strong>{place}</strong>, ") for place in places]
    assert -1 not in at
    assert at[0] == min(at)


def test_a_candle_that_never_left_is_named_on_form_and_page_and_not_refused(filled, maker):
    said = "By the books this candle had not left the studio"
    add = reverse("batches:complaint-add")
    assert said in text_of(maker.get(add, {"code": filled.curing.code}))
    assert said not in text_of(maker.get(add, {"code": filled.cured.code}))

    maker.post(add, complaint(code=filled.curing.code))

    taken = Complaint.objects.latest("pk")
    assert taken.lot == filled.curing
    assert said in text_of(maker.get(taken.get_absolute_url()))
    assert said in text_of(maker.get(reverse("batches:complaint-change", args=[taken.code])))
    assert said not in text_of(maker.get(filled.complaint.get_absolute_url()))


def test_the_vessels_lot_stands_first_for_a_cracked_vessel_and_the_wicks_for_smoke(filled, maker):
    vessel, wick = (filled.shelf[name].code for name in ("vessel", "wick"))
    for kind, first, then, why in (
        ("glass", vessel, wick, "Cracked or broken vessel: the vessel’s lot first"),
        ("smoke", wick, vessel, "Smoke or soot: the wick’s lot first"),
    ):
        taken = filled.books.complain(filled.cured, kind=kind)
        page = maker.get(taken.get_absolute_url()).content.decode()
        section = page[page.index('id="lots"') :]
        assert section.index(first) < section.index(then)
        assert why in section


@pytest.mark.parametrize("drill", [True, False])
def test_pages_and_files_of_a_drill_say_drill_and_those_of_a_recall_never(filled, maker, drill):
    recall = filled.books.recall(filled.cured, drill=drill)
    party = recall.parties.get()
    address = recall.get_absolute_url()

    for url in (
        address,
        reverse("batches:recall-letters", args=[recall.code]),
        reverse("batches:recall-party", args=[recall.code, party.pk]),
        reverse("batches:recall-close", args=[recall.code]),
    ):
        page = maker.get(url).content.decode()
        for tag in ("title", "h1"):
            (words,) = re.findall(rf"<{tag}[^>]*>(.*?)</{tag}>", page, re.DOTALL)
            assert ("DRILL" in words) is drill, (url, tag)
        assert ("DRILL" in page) is drill, url
    for table in ("sent", "lots", "customers", "answers"):
        file = maker.get(address, {"table": table, "format": "csv"})
        begins = f"DRILL-recall-{recall.code}" if drill else f"recall-{recall.code}"
        assert f'filename="{begins}-{table}.csv"' in file.headers["Content-Disposition"]
        head, *rows = csv.reader(io.StringIO(file.content.decode("utf-8-sig")))
        assert ("DRILL" in head[0]) is drill
        assert all(row[0] == (f"DRILL {recall.code}" if drill else recall.code) for row in rows)
        sheet = maker.get(address, {"table": table, "format": "xlsx"})
        assert begins in sheet.headers["Content-Disposition"]
    paper = maker.get(reverse("batches:recall-report", args=[recall.code]))
    assert ("DRILL-recall" in paper.headers["Content-Disposition"]) is drill


def test_a_recall_names_who_has_more_again_after_a_return_was_reversed(filled, maker):
    (back,) = dispatching.take_back(
        filled.dispatch.pk, [Back(filled.cured.pk, 1)], signature=filled.books.sign()
    )
    recall = filled.books.recall(filled.cured)
    assert "more again than was frozen" not in text_of(maker.get(recall.get_absolute_url()))
    filled.books.reverse(back.came_back_from.goods_return.posting)

    page = maker.get(recall.get_absolute_url())

    assert "Customers have more again than was frozen, because a return was reversed" in " ".join(
        text_of(page).split()
    )
    assert [(who, lot, quantity) for who, lot, quantity in page.context["more_again"]] == [
        ("Harbour Street Market", filled.cured, 1)
    ]
    url = reverse("batches:recall-take-in", args=[recall.code])
    assert maker.post(url, {"submission_key": key()}).status_code == 302
    assert "more again than was frozen" not in text_of(maker.get(recall.get_absolute_url()))
    # Two were sent by that shipment, and two are counted.
    assert maker.get(recall.get_absolute_url()).context["progress"].units_sent == 2


def test_complaints_and_recalls_are_found_by_their_codes_by_owner_and_makers(filled, maker):
    keeper = enter(filled.people.bookkeeper)
    for one in (filled.complaint, filled.drill):
        assert maker.get("/find/", {"q": one.code.lower()}).headers["Location"] == one.get_absolute_url()
        assert one.get_absolute_url() not in keeper.get("/find/", {"q": one.code}).content.decode()


def test_open_complaints_wait_on_the_first_page_the_grave_one_first(filled, maker):
    page = maker.get("/").content.decode()

    waiting = [filled.complaint.get_absolute_url(), filled.lost.get_absolute_url()]
    assert 0 < page.index(waiting[0]) < page.index(waiting[1])
    assert filled.settled.get_absolute_url() not in page
    assert (
        filled.complaint.get_absolute_url() not in enter(filled.people.bookkeeper).get("/").content.decode()
    )


def test_only_ticked_complaints_are_compared(filled, maker):
    url = reverse("batches:complaint-shared")

    both = maker.get(url).context["found"]
    one = maker.get(url, {"c": filled.settled.code}).context["found"]

    assert [len(found.compared) for found in (both, one)] == [2, 1]
    assert list(both.unknown) == [filled.lost]


def test_looking_what_a_recall_touches_begins_nothing(filled, maker):
    before = snapshot()

    page = maker.post(
        reverse("batches:recall-start"),
        {"codes": filled.shelf["wax"].code, "look": "1", "submission_key": key()},
    )

    assert page.status_code == 200
    assert page.context["seen"]["units_sent"] == 2
    assert snapshot() == before
    unknown = maker.post(
        reverse("batches:recall-start"), {"codes": "LZZZZ8", "look": "1", "submission_key": key()}
    )
    assert "No lot carries" in unknown.content.decode()


def test_one_press_begins_a_recall_once_and_holds(filled, maker):
    sent = {"codes": filled.cured.code, "is_drill": "no", "why": "It flares up.", "submission_key": key()}

    first = maker.post(reverse("batches:recall-start"), sent)
    again = maker.post(reverse("batches:recall-start"), sent)

    assert first.headers["Location"] == again.headers["Location"]
    recall = Recall.objects.latest("pk")
    assert first.headers["Location"] == recall.get_absolute_url()
    assert Lot.objects.get(pk=filled.cured.pk).held
    page = maker.get(recall.get_absolute_url()).content.decode()
    assert "Harbour Street Market" in page


def test_a_recall_says_how_everybody_is_reached_or_where_to_write_it_down(filled, maker):
    customer = filled.party.customer
    customer.contact, customer.reach = "Nell", "nell@harbour.example\n1 Quay"
    customer.save(update_fields=["contact", "reach"])
    begin = {"codes": filled.cured.code, "is_drill": "no", "why": "It flares up.", "submission_key": key()}
    url = maker.post(reverse("batches:recall-start"), begin).headers["Location"]

    assert "Nell, nell@harbour.example, 1 Quay" in maker.get(url).content.decode()

    customer.contact = customer.reach = ""
    customer.save(update_fields=["contact", "reach"])
    assert "add how to reach them" in maker.get(url).content.decode()


def test_a_customers_answer_is_entered_with_its_quantity(filled, maker):
    url = reverse("batches:recall-party", args=[filled.drill.code, filled.party.pk])
    field = f"quantity-{filled.cured.item_id}"
    said = {"kind": "destroyed", "on": "2026-03-20", "note": "", "submission_key": key()}

    short = maker.post(url, said)
    many = maker.post(url, said | {field: "2"})
    odd = maker.post(url, said | {field: "1", "kind": "told"})
    good = maker.post(url, said | {field: "1"})

    assert [answer.status_code for answer in (short, many, odd, good)] == [422, 422, 422, 302]
    assert "Say how many." in short.content.decode()
    assert "at most 1" in many.content.decode()
    assert "A quantity goes with" in odd.content.decode()
    assert RecallAnswer.objects.standing().filter(party=filled.party, kind="destroyed").get().quantity == 1


def test_every_table_of_a_recall_leaves_as_a_file(filled, maker):
    heads = {
        "sent": "Lot code",
        "lots": "Unexplained",
        "customers": "Not accounted for",
        "answers": "Taken back",
    }
    for table, head in heads.items():
        answer = maker.get(filled.drill.get_absolute_url(), {"table": table, "format": "csv"})
        rows = list(csv.reader(io.StringIO(answer.content.decode("utf-8-sig"))))
        assert head in rows[0], table
        assert len(rows) > 1, table
        assert f"-{table}.csv" in answer.headers["Content-Disposition"]


def test_a_closed_recall_says_so_and_takes_nothing(filled, maker):
    recalling.close(filled.drill.pk, finding="All found.", signature=filled.books.sign())
    url = reverse("batches:recall-party", args=[filled.drill.code, filled.party.pk])

    page = maker.post(url, {"kind": "told", "on": "2026-03-20", "submission_key": key()})

    assert page.status_code == 422
    assert "This recall is closed" in page.content.decode()
    closed = maker.get(reverse("batches:recall-close", args=[filled.drill.code]), follow=True)
    assert "closed already" in closed.content.decode()


def test_letters_name_the_product_the_code_and_what_to_do(filled, maker):
    page = maker.get(reverse("batches:recall-letters", args=[filled.drill.code])).content.decode()

    for said in (
        "Product safety recall",
        filled.finished.spaced_code,
        "Do not light the candle",
        "The wax may hold",
    ):
        assert said in page


def test_days_of_many_sendings_are_told_in_few_words():
    days = ["1 May 2026", "2 May 2026", "2 May 2026", "9 May 2026", "12 May 2026"]
    assert [days_words(days[:many]) for many in (1, 3, 4, 5)] == [
        "1 May 2026",
        "1 May 2026 and 2 May 2026",
        "1 May 2026, 2 May 2026 and 9 May 2026",
        "1 May 2026, 2 May 2026 and 2 other days",
    ]


def test_what_is_back_by_the_books_is_named_until_it_is_entered(filled, maker):
    recall, party = filled.drill, filled.drill.parties.get()
    sent = party.sent.get()
    url = reverse("batches:recall-party", args=[recall.code, party.pk])
    assert "came back here by the books" not in text_of(maker.get(url))
    signature = filled.books.sign(recall.started_at + timedelta(minutes=1))
    # One of the two is entered as returned already.
    dispatching.take_back(sent.dispatch_id, [Back(sent.lot_id, 2)], signature=signature)
    page = maker.get(url)
    assert page.context["not_entered"] == [(sent.lot.item, 1)]
    assert "came back here by the books" in text_of(page)
    recalling.answer(
        party.pk,
        "returned",
        on=timezone.localdate(recall.started_at),
        quantities={sent.lot.item: 1},
        signature=signature,
    )
    assert "came back here by the books" not in text_of(maker.get(url))


def test_whom_somebody_tells_is_beside_what_to_tell_them(filled, maker):
    party = filled.drill.parties.get()
    page = maker.get(reverse("batches:recall-party", args=[filled.drill.code, party.pk])).content.decode()
    assert "Product safety recall" in page
    assert f"Dear {party.customer.name}," in page


def test_a_market_is_not_greeted_as_if_it_were_a_person(filled, maker):
    party = filled.drill.parties.get()
    url = reverse("batches:recall-party", args=[filled.drill.code, party.pk])
    Customer.objects.filter(pk=party.customer_id).update(name="Lantern Market", is_person=False)
    page = maker.get(url).content.decode()
    assert "Dear" not in page
    assert "To Lantern Market, and to everybody who got one of these candles there," in page
    Customer.objects.filter(pk=party.customer_id).update(contact="Petra Quill")
    assert "Dear Petra Quill," in maker.get(url).content.decode()


def test_names_can_be_erased_by_the_owner_alone(filled, maker):
    url = reverse("batches:complaint-erase", args=[filled.settled.code])
    sent = {"reason": "Asked for it", "submission_key": key()}

    assert maker.post(url, sent).status_code == 403
    assert enter(filled.people.owner).post(url, sent | {"submission_key": key()}).status_code == 302

    page = maker.get(filled.settled.get_absolute_url()).content.decode()
    assert "It cracked while burning." not in page
    assert "was erased on" in page


def test_the_width_names_no_cost_to_who_may_not_see_it(filled):
    url = reverse("batches:recall-width")
    assert "At cost" not in enter(filled.people.maker).get(url).content.decode()
    assert "At cost" in enter(filled.people.costly).get(url).content.decode()
