"""The proof of the books finds what was tampered with. Each test breaks one thing behind the guards' back."""

from datetime import timedelta

import pytest
from django.core.management import CommandError, call_command

from batches import checks as batch_checks
from batches.models import Batch, Draw, Flaw, Outcome
from inventory import checks
from inventory.lots import holding
from inventory.models import Commitment, Delivery, DeliveryLine, Dispatch, HoldRecord, Lot, Movement, Posting
from studio import guards
from tests.house import ARRIVED, NOW, TODAY, grams, money, settle

pytestmark = pytest.mark.django_db


@pytest.fixture
def history(books, sign):
    """A little of everything, and the guards taken away."""
    wax = books.receive("wax", "10 kg", cost=50)
    oil = books.receive("fragrance", "1 kg", cost=40)
    wicks, vessels = books.receive("wick", 100, cost=10), books.receive("vessel", 50, cost=100)
    done = books.plan(books.candle(), 10)
    books.draw_into(done, (wax, "920 g"))
    books.draw_into(done, (oil, "80 g"))
    wrong = books.draw_into(done, (wicks, 11))
    books.draw_into(done, (vessels, 10))
    books.correct(wrong, (wicks, 10))
    (made,) = books.finish(done, 10)
    books.send(made, 4)
    open_one = books.plan(done.version, 5)
    holding.hold(oil.pk, signature=sign(reason="cloudy"))
    settle()
    guards.remove()
    return {"wax": wax, "oil": oil, "wicks": wicks, "made": made, "done": done, "open": open_one}


def told(check):
    return list(check())


ALL = [check for check in (*checks.CHECKS, *batch_checks.CHECKS) if check is not checks.guards_in_place]


def others_are_silent(*meant):
    return [check.__name__ for check in ALL if check not in meant and told(check)] == []


def test_books_that_agree_say_so(history, capsys):
    guards.install()

    call_command("check_books")

    out = capsys.readouterr().out
    assert "The books agree." in out
    assert "WRONG" not in out
    assert out.count("ok  ") == len(checks.CHECKS) + len(batch_checks.CHECKS)


def test_books_that_do_not_agree_fail_the_command(history, capsys):
    guards.install()
    Lot.objects.filter(pk=history["wax"].pk).update(on_hand=1)

    with pytest.raises(CommandError, match="do not agree in 1 place") as caught:
        call_command("check_books")

    assert caught.value.returncode == 1
    out = capsys.readouterr().out
    assert "WRONG Every lot's quantity and value are the sums of its movements" in out
    assert f"Lot {history['wax'].code} shows 1 on hand; its movements sum to {grams(9_080)}." in out


def test_missing_guards_are_named(history):
    name = "guard_inventory_movement_update"
    sentence = f"The database's guard {name} is missing. Run manage.py migrate to put it back."
    assert sentence in told(checks.guards_in_place)


def test_a_changed_balance_is_found(history):
    wax = history["wax"]
    Lot.objects.filter(pk=wax.pk).update(value=money(1))

    # 920 of 10,000 g at 50.00 went: 45.40 is left.
    assert told(checks.movements_add_up) == [
        f"Lot {wax.code} shows a value of 1000000; its movements sum to 45400000."
    ]
    assert others_are_silent(checks.movements_add_up)


def test_a_changed_movement_is_found(history):
    wax = history["wax"]
    Movement.objects.filter(lot=wax, kind="received").update(quantity=grams(10_001))

    assert told(checks.movements_add_up) == [
        f"Lot {wax.code} shows {grams(9_080)} on hand; its movements sum to {grams(9_081)}."
    ]
    assert told(checks.deliveries_add_up)


def test_a_deleted_movement_is_found(history):
    wax = history["wax"]
    Draw.objects.filter(movement__lot=wax).delete()
    Movement.objects.filter(lot=wax, kind="drawn").delete()

    assert told(checks.movements_add_up)[0].endswith(f"its movements sum to {grams(10_000)}.")
    assert told(batch_checks.costs_passed_on)


def test_a_changed_code_is_found(history):
    Lot.objects.filter(pk=history["wax"].pk).update(code="L0001Z")

    assert told(checks.movements_add_up) == ["Lot L0001Z has a code whose check character is wrong."]


def test_a_lot_below_nothing_in_the_past_is_found(history, books):
    wax = history["wax"]
    early = Posting.objects.filter(movements__lot=wax, kind="draw")
    Lot.objects.filter(pk=wax.pk).update(arrived_at=ARRIVED - timedelta(days=9))
    early.update(happened_at=ARRIVED - timedelta(days=1))

    assert told(checks.movements_add_up) == [f"Lot {wax.code} was at {-grams(920)} on 2026-02-28 09:00."]


def test_something_before_the_arrival_is_found(history):
    wax = history["wax"]
    Lot.objects.filter(pk=wax.pk).update(arrived_at=NOW - timedelta(hours=1))

    assert told(checks.movements_add_up) == [
        f"Something happened to lot {wax.code} on 2026-03-01 09:00, before it arrived."
    ]


def test_a_reversal_that_is_no_mirror_is_found(history):
    reversal = Posting.objects.get(kind="reversal")
    reversal.movements.update(value=1)
    assert told(checks.reversals_mirror) == [
        f"Posting {reversal.reverses_id} and its reversal are not mirrors of each other."
    ]


def test_a_reversal_at_another_time_is_found(history):
    reversal = Posting.objects.get(kind="reversal")
    Posting.objects.filter(pk=reversal.pk).update(happened_at=NOW - timedelta(hours=1))

    assert told(checks.reversals_mirror) == [
        f"Reversal {reversal.pk} does not stand at the time of what it reverses."
    ]


def test_a_delivery_that_does_not_add_up_is_found(history):
    line = DeliveryLine.objects.get(lots=history["wax"])
    DeliveryLine.objects.filter(pk=line.pk).update(freight_value=money(1))

    assert told(checks.deliveries_add_up) == [
        f"Delivery {line.delivery_id}: line {line.pk} and the lots it became do not agree."
    ]
    assert others_are_silent(checks.deliveries_add_up)


def test_a_hold_taken_off_on_the_quiet_is_found(history):
    Lot.objects.filter(pk=history["oil"].pk).update(held=False)

    assert told(checks.holds_agree) == [f"Lot {history['oil'].code} is free; its last record says otherwise."]
    assert others_are_silent(checks.holds_agree)


def test_a_lost_hold_record_is_found(history):
    HoldRecord.objects.all().delete()

    assert told(checks.holds_agree) == [f"Lot {history['oil'].code} is held; its last record says otherwise."]


def test_holds_agree_when_the_clock_was_set_back(history, sign):
    oil = history["oil"]
    holding.release(oil.pk, signature=sign(recorded=NOW - timedelta(days=1), at=NOW - timedelta(days=1)))

    assert told(checks.holds_agree) == []


def test_a_receipt_without_a_delivery_is_found(history):
    receipt = Posting.objects.get(delivery__lines__lots=history["wax"])
    Lot.objects.filter(pk=history["wax"].pk).update(delivery_line=None)
    DeliveryLine.objects.filter(delivery__posting=receipt).delete()
    Delivery.objects.filter(posting=receipt).delete()

    assert told(checks.receipts_have_deliveries) == [f"Receipt {receipt.pk} belongs to no delivery."]


def test_a_dispatch_to_nobody_is_found(history):
    sent = Posting.objects.get(kind="dispatch")
    Dispatch.objects.all().delete()

    assert told(checks.receipts_have_deliveries) == [
        f"Dispatch posting {sent.pk} does not say where it went."
    ]


def test_a_lot_from_nowhere_is_found(history):
    code = "L0001T"
    Lot.objects.filter(code=code).update(code="L9999X")
    Lot.objects.create(code=code, item=history["wax"].item, arrived_at=ARRIVED)

    assert told(checks.receipts_have_deliveries) == [f"Lot {code} never had a movement."]


def test_a_draw_of_another_item_is_found(history):
    draw = Draw.objects.standing().get(movement__lot=history["wax"])
    wick_line = history["done"].version.lines.get(item__name="wick")
    Draw.objects.filter(pk=draw.pk).update(line=wick_line)

    assert f"Draw {draw.pk} took a lot of another item than its line names." in told(batch_checks.draws_fit)


def test_a_draw_for_another_formula_is_found(history, books):
    other = books.candle("Rain on Slate")
    draw = Draw.objects.standing().get(movement__lot=history["wax"])
    Draw.objects.filter(pk=draw.pk).update(line=other.lines.get(item__name="wax"))

    assert told(batch_checks.draws_fit) == [
        f"Draw {draw.pk} is for a line that is not in its batch's formula."
    ]


def test_a_draw_into_no_batch_is_found(history):
    draw = Draw.objects.standing().get(movement__lot=history["wax"])
    move = draw.movement_id
    draw.delete()

    assert told(batch_checks.draws_fit) == [f"Movement {move} was drawn into no batch."]
    code = history["done"].code
    assert told(batch_checks.costs_passed_on) == [
        f"Batch {code} drew -4600000 more than its lots were given."
    ]


def test_a_draw_moved_to_another_batch_is_found(history):
    draw = Draw.objects.standing().get(movement__lot=history["wax"])
    Draw.objects.filter(pk=draw.pk).update(batch=history["open"])

    assert told(batch_checks.costs_passed_on)
    assert told(batch_checks.commitments_agree)


def test_a_changed_yield_is_found(history):
    Outcome.objects.update(quantity=9)

    assert told(batch_checks.yields_fit) == [
        f"Batch {history['done'].code}: a yield and the lot it became do not agree."
    ]


def test_more_defects_than_seconds_are_found(history):
    good = Outcome.objects.get(result="good")
    Flaw.objects.create(outcome=good, defect="Frosting", quantity=1)

    assert told(batch_checks.yields_fit) == [
        f"Batch {history['done'].code}: defects are given for more seconds than came out."
    ]


def test_a_lot_made_by_no_batch_is_found(history):
    Outcome.objects.all().delete()

    assert told(batch_checks.yields_fit) == [f"Lot {history['made'].code} was made by no batch."]
    assert told(batch_checks.costs_passed_on) == [
        f"Batch {history['done'].code} is finished and its yields say otherwise."
    ]


def test_a_batch_in_the_wrong_state_is_found(history):
    Batch.objects.filter(pk=history["done"].pk).update(state="planned", finished_at=None)

    code = history["done"].code
    assert told(batch_checks.costs_passed_on) == [f"Batch {code} is planned and its yields say otherwise."]


def test_a_batch_s_changed_code_is_found(history):
    Batch.objects.filter(pk=history["done"].pk).update(code="B0001Z")

    assert told(batch_checks.costs_passed_on) == ["Batch B0001Z has a code whose check character is wrong."]


def test_a_changed_commitment_is_found(history):
    Commitment.objects.filter(item__name="wax").update(quantity=1)

    assert told(batch_checks.commitments_agree) == [
        f"Batch {history['open'].code} needs other quantities than it committed."
    ]


def test_a_commitment_of_a_finished_batch_is_found(history):
    done = history["done"]
    Commitment.objects.create(source=done.code, item=history["wax"].item, quantity=1, needed_on=TODAY)

    assert told(batch_checks.commitments_agree) == [f"Batch {done.code} is over and still commits stock."]


def test_a_formula_that_no_longer_works_is_found(history):
    history["done"].version.lines.filter(item__name="wax").update(amount=900_000)

    (sentence,) = told(batch_checks.recipes_work)
    assert sentence.startswith("Cedar & Black Tea, version 1: The wax shares come to 90")


def test_something_of_another_kind_than_its_posting_is_found(history):
    sent = Movement.objects.get(kind="dispatched")
    Movement.objects.filter(pk=sent.pk).update(kind="made")

    assert told(checks.movements_fit_their_postings) == [
        f"Posting {sent.posting_id} is a dispatch and has something made.",
        "Among what was made something goes the wrong way.",
    ]


def test_stock_promised_to_nobody_is_found(history):
    Commitment.objects.create(source="X00012", item=history["wax"].item, quantity=1, needed_on=NOW.date())

    assert told(batch_checks.commitments_agree) == [
        "Stock is committed to X00012, which is neither a run nor an order."
    ]
