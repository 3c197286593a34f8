"""What may have to be reported to an authority: by kind, by a fire, and by words; and whose law says what."""

import pytest
from django.template.loader import render_to_string

from batches.complaints.reporting import DUTIES, duties, notice_rule
from batches.danger_signs import dangerous_words, signs_of_danger
from studio.models import Market

# Sentences as customers may write them, in US and British spelling; by hand.
DANGEROUS = """
It cracked while burning.
The glass shattered and hot wax ran over the table.
The jar exploded!
broke
SMOKE FILLED THE ROOM within minutes.
The room was full of smoke.
There was thick black smoke coming off it.
The smoke alarm went off.
My curtain caught fire.
It caught light and scorched the sideboard.
The tablecloth was set alight.
The whole jar was ablaze.
The flames were a foot high.
The wick flared up.
The label smoldered.
The label smouldered.
I burned my hand on the jar.
My daughter burnt her fingers.
She got a nasty burn on her arm.
He was badly burnt.
Got scalded by the wax.
Wax spilt on the carpet.
Molten wax poured out over the counter.
It spilled all the wax.
The wax boiled and spat at us.
I cut my thumb on the rim.
We had to go to A&E.
My husband drove me to the emergency room.
We called the fire brigade.
The fire department came.
There's a burn mark on the shelf.
It burned a hole in my table.
It melted my plastic tray.
My son was injured.
Nobody was hurt, but it was close.
The jar got too hot to touch.
It overheated.
The bottom fell out and it leaked.
It made me feel sick and dizzy.
I couldn’t breathe, my asthma came back.
My eyes were stinging.
The dog died.
She came out in a rash.
It singed my eyebrows.
She went to the ER with breathing trouble.
The flame was as tall as my hand.
It would not go out when I blew on it.
My dog ate it and died.
We took the cat to the vet.
"""
HARMLESS = """
The scent is weak.
The top is frosted and looks rough.
It tunnels, and half of the wax is left.
The flame goes out after ten minutes.
The flame died after an hour.
It burns down one side.
I burned the candle for three hours.
It has burned out too soon.
The wick is off center.
The colour is not as in the picture.
It smells of campfire, which I did not order.
I cut the wick to a quarter inch as asked.
The rim of the jar was black after the second evening, and the flame flickered.
It would not light.
The flame kept getting smaller and then it died.
The flame wanted to go out all evening.
The jar stood by the fireplace and the wax looks soft.
"""


@pytest.mark.parametrize("told", DANGEROUS.strip().splitlines())
def test_words_that_may_mean_danger_are_seen(told):
    for written in (told, told.upper(), told.replace(" ", "\n")):
        assert dangerous_words(written), written


@pytest.mark.parametrize("told", HARMLESS.strip().splitlines())
def test_the_usual_complaint_is_not_made_more_of(told):
    assert dangerous_words(told) == ()


def test_the_words_are_given_as_they_were_written_once_each_and_in_their_order():
    told = "Hot wax on the desk. The jar Shattered, it shattered! And HOT WAX again."

    assert dangerous_words(told) == ("Hot wax", "Shattered")


@pytest.mark.parametrize(
    ("kind", "fire", "told", "signs"),
    [
        ("glass", False, "", ("a cracked or broken vessel",)),
        ("injury", False, "", ("somebody was hurt",)),
        ("scent", True, "", ("something else caught fire, or nearly did",)),
        ("smoke", False, "Smoke filled the room.", ("the words “Smoke filled the room”",)),
        (
            "glass",
            True,
            "It exploded.",
            (
                "a cracked or broken vessel",
                "something else caught fire, or nearly did",
                "the words “exploded”",
            ),
        ),
        ("scent", False, "It smells of nothing.", ()),
        ("look", False, "", ()),
        ("burn", False, "It tunnels.", ()),
    ],
)
def test_a_complaint_says_why_it_may_have_to_be_reported(kind, fire, told, signs):
    assert signs_of_danger(kind, fire=fire, told=told) == signs


def test_a_long_text_is_read_quickly():
    """No pattern backtracks without end: 2,000 characters, the most a complaint holds, of what they begin with."""
    for part in ("burn the ", "wax a b ", "room a b ", "he was ", "smoke the "):
        assert len((part * 400)[:2000]) == 2000
        dangerous_words((part * 400)[:2000])


@pytest.mark.parametrize(
    ("market", "law"),
    [("eu", "Regulation (EU) 2023/988"), ("gb", "Regulations 2005"), ("us", "16 CFR 1115.27")],
)
def test_a_recall_notice_is_held_against_the_market_it_goes_out_in(market, law):
    """Article 36 (R: checks-2 21.2); 16 CFR 1115.27 and what Great Britain asks from memory, and said to be."""
    assert law in notice_rule(market)
    assert "from memory" in notice_rule(market)


def caution(market):
    context = {"signs": ("somebody was hurt",), "duties": duties(market)}
    return render_to_string("batches/_complaint_caution.html", context)


@pytest.mark.parametrize(
    ("market", "place"),
    [
        ("eu", "European Union and Northern Ireland"),
        ("gb", "Great Britain"),
        ("us", "United States"),
    ],
)
def test_the_studios_own_market_comes_first_and_no_other_is_left_out(market, place):
    found = duties(market)

    assert found[0].place == place
    assert {duty.market for duty in found} == set(Market) == {duty.market for duty in DUTIES}


@pytest.mark.parametrize("market", Market.values)
def test_the_caution_cites_the_right_texts(market):
    # GPSR Art. 20 (R), Art. 9(8) (M-hi); SI 2005/1803 reg. 9(1) (R); 16 CFR 1115.14 (R, the 24 hours M-hi): checks-2 21.2.
    text = " ".join(caution(market).split())

    for said in (
        "Regulation (EU) 2023/988",
        "Article 20: an accident caused by a product, in which somebody died or their health was seriously harmed",
        "by the manufacturer without undue delay through the Safety Business Gateway",
        "Article 9: a manufacturer who has reason to believe that a product is dangerous",
        "General Product Safety Regulations 2005 (SI 2005/1803)",
        "Regulation 9: a producer or distributor",
        "16 CFR 1115 ",
        "within 24 hours of obtaining reportable information",
        "Ask the authority, or a lawyer",
        "not legal advice",
        "Ask today",
    ):
        assert said in text, said


@pytest.mark.parametrize("market", Market.values)
def test_the_caution_gives_no_leave_to_wait(market):
    text = caution(market).lower()

    for word in (
        "need not be reported",
        "working day",
        "business day",
        "10 days",
        "at the latest",
        "deadline",
        "weekend",
    ):
        assert word not in text, word
