"""Codes on shelves and jars: said aloud without doubt, and every slip of the finger caught."""

from itertools import count, islice

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from stdnum.iso7064 import mod_37_36

from studio.core.codes import ALPHABET, check_character, is_valid, make_code, near, normalise, spaced

NUMBERS = st.integers(0, 34**6)
PREFIXES = st.sampled_from("ABCDEFGHJKLMNPQRSTUVWXYZ")


def given_out(prefix: str, number: int) -> str:
    code = make_code(prefix, number)
    assume(code is not None)
    return code or ""


# The reference is the ISO/IEC 7064 MOD 37,36 of python-stdnum.
@given(st.text("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ", min_size=1, max_size=20))
def test_the_check_character_is_that_of_the_standard(body):
    assert check_character(body) == mod_37_36.calc_check_digit(body)


# A sound recording release number, the example its own standard prints (from memory): the last letter checks.
def test_a_published_number_of_the_same_scheme_checks():
    assert check_character("A12425GABC1234002") == "M"


@given(PREFIXES, NUMBERS)
def test_a_code_passes_the_standards_own_validation(prefix, number):
    code = given_out(prefix, number)

    assert mod_37_36.validate(code) == code
    assert is_valid(code)
    assert code[0] == prefix
    assert 6 <= len(code) <= 12
    assert not set(code) & set("IO")


def test_numbers_follow_each_other_in_base_34():
    assert [(make_code("L", number) or "")[:-1] for number in (0, 1, 9, 10, 33, 34, 34**4)] == [
        "L0000",
        "L0001",
        "L0009",
        "L000A",
        "L000Z",
        "L0010",
        "L10000",
    ]


def test_no_two_numbers_share_a_code():
    codes = [code for number in range(5_000) if (code := make_code("L", number))]

    assert len(set(codes)) == len(codes)
    assert len(codes) > 4_500


def test_a_number_whose_check_character_would_be_i_or_o_is_left_out():
    left_out = {number: mod_37_36.calc_check_digit(f"L000{ALPHABET[number]}") for number in (21, 23)}

    assert left_out == {21: "O", 23: "I"}
    assert [make_code("L", number) for number in left_out] == [None, None]


# The standard's scheme alone lets this swap through, as the reference shows.
def test_a_number_whose_neighbours_could_swap_unseen_is_left_out():
    assert mod_37_36.is_valid("L00P01")
    assert mod_37_36.is_valid("L00P10")
    assert not is_valid("L00P01")
    assert not is_valid("L00P10")
    assert make_code("L", 782) is None  # 782 = 23 × 34, and 23 is P


@given(PREFIXES, NUMBERS, st.data())
def test_every_wrong_character_is_caught(prefix, number, data):
    code = given_out(prefix, number)
    at = data.draw(st.integers(0, len(code) - 1))
    char = data.draw(st.sampled_from(ALPHABET).filter(lambda other: other != code[at]))

    assert not is_valid(code[:at] + char + code[at + 1 :])


@given(PREFIXES, NUMBERS)
def test_every_swap_of_neighbours_is_caught(prefix, number):
    code = given_out(prefix, number)

    for at in range(len(code) - 1):
        swapped = code[:at] + code[at + 1] + code[at] + code[at + 2 :]
        assert swapped == code or not is_valid(swapped)


def test_every_slip_in_the_first_hundred_codes_is_caught():
    codes = islice((code for number in count(1) if (code := make_code("B", number))), 100)
    for code in codes:
        wrong = {code[:at] + char + code[at + 1 :] for at in range(6) for char in ALPHABET} - {code}
        wrong |= {code[:at] + code[at + 1] + code[at] + code[at + 2 :] for at in range(5)} - {code}
        assert not any(map(is_valid, wrong))


@pytest.mark.parametrize(
    "typed", ["b00o1g", " B00 01G\n", "B-00-01.G", "BOO01G", "B000IG", "b\N{EN DASH}0001g"]
)
def test_a_code_is_known_however_it_was_typed(typed):
    assert normalise(typed) == "B0001G"


def test_a_small_l_is_the_letter_of_the_shelf():
    assert normalise("l0001t") == "L0001T"


@pytest.mark.parametrize(
    "text", ["", "B", "B0001", "B0001H", "b0001g", "B00 01G", "10001G", "B" * 13, "B000I2", "Bé001G"]
)
def test_what_is_no_code_is_not_valid(text):
    assert not is_valid(text)


@pytest.mark.parametrize(("code", "shown"), [("L04K7C", "L04 K7C"), ("L10000U", "L10 000 U"), ("", "")])
def test_a_code_is_grouped_for_the_eye(code, shown):
    assert spaced(code) == shown
    assert normalise(shown) == code


@given(PREFIXES, NUMBERS, st.data())
def test_the_code_that_was_meant_is_offered(prefix, number, data):
    code = given_out(prefix, number)
    at = data.draw(st.integers(0, len(code) - 2))
    slipped = data.draw(
        st.sampled_from([code[:at] + char + code[at + 1 :] for char in ALPHABET])
        | st.just(code[:at] + code[at + 1] + code[at] + code[at + 2 :])
    )
    assume(slipped != code)

    offered = near(slipped)

    assert code in offered
    assert len(set(offered)) == len(offered)
    assert all(map(is_valid, offered))


def test_the_swap_is_offered_before_other_slips():
    assert near("B000G1")[0] == "B0001G"


@pytest.mark.parametrize("text", ["", "B", "B0001", "B" * 13, "B" * 10_000])
def test_nothing_is_offered_for_what_has_not_the_length_of_a_code(text):
    assert near(text) == []


@pytest.mark.parametrize("prefix", ["", "I", "O", "1", "b", "LB", "é"])
def test_a_prefix_is_one_capital_letter(prefix):
    with pytest.raises(ValueError, match="capital letter"):
        make_code(prefix, 1)


@pytest.mark.parametrize("number", [-1, 34**10])
def test_a_number_outside_the_range_is_refused(number):
    with pytest.raises(ValueError, match=r"Codes are numbered|at most 12"):
        make_code("L", number)
