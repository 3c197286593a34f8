"""One press, one posting: the register of what was already submitted."""

from uuid import UUID, uuid4

import pytest
from django.contrib.messages.storage.cookie import CookieStorage
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import RequestFactory

from studio.models import Counter, Submission
from studio.web.submissions import SubmissionClash, digest_of, key_of, new_key, once

pytestmark = pytest.mark.django_db


def form(by=None, path="/stock/send/", **fields):
    request = RequestFactory().post(path, fields)
    request.user = by
    request._messages = CookieStorage(request)
    return request


@pytest.fixture
def key():
    return str(uuid4())


class Act:
    """Something that is done, and leaves a row each time it is."""

    def __init__(self, result="/done/"):
        self.result, self.times = result, 0

    def __call__(self):
        self.times += 1
        Counter.objects.create(prefix=chr(ord("A") + Counter.objects.count()))
        return self.result


class Fails(Act):
    def __call__(self):
        super().__call__()
        raise RuntimeError("the pot boiled over")


def test_a_form_is_done_once_and_answered_the_same_however_often_it_is_sent(owner, key):
    act = Act("/posting/7/")

    answers = [once(form(owner, submission_key=key, quantity="5"), act) for _ in range(3)]

    assert answers == ["/posting/7/"] * 3
    assert (act.times, Counter.objects.count()) == (1, 1)
    submission = Submission.objects.get()
    assert (submission.key, submission.by, submission.result) == (UUID(key), owner, "/posting/7/")


def test_the_answer_is_the_first_one_even_where_another_act_is_tried(owner, key):
    request = form(owner, submission_key=key)

    assert once(request, Act("/first/")) == "/first/"
    assert once(request, Fails()) == "/first/"


@pytest.mark.parametrize("changed", [{"quantity": "6"}, {"path": "/stock/draw/"}, {"more": "1"}])
def test_other_content_under_the_same_key_is_refused_and_does_nothing(owner, key, changed):
    once(form(owner, submission_key=key, quantity="5"), Act())
    act = Act()

    with pytest.raises(SubmissionClash):
        once(form(owner, **{"submission_key": key, "quantity": "5", **changed}), act)

    assert (act.times, Counter.objects.count(), Submission.objects.count()) == (0, 1, 1)


def test_another_person_s_key_is_refused(owner, maker, key):
    once(form(owner, submission_key=key), Act())
    act = Act()

    with pytest.raises(SubmissionClash):
        once(form(maker, submission_key=key), act)

    assert act.times == 0


def test_an_act_that_fails_leaves_nothing_and_the_key_usable(owner, key):
    with pytest.raises(RuntimeError, match="boiled over"):
        once(form(owner, submission_key=key, quantity="5"), Fails())
    assert (Counter.objects.count(), Submission.objects.count()) == (0, 0)

    # The corrected form comes under the same key.
    assert once(form(owner, submission_key=key, quantity="4"), Act("/posting/8/")) == "/posting/8/"
    assert Counter.objects.count() == 1


def test_two_forms_are_two_acts(owner):
    act = Act()

    for _ in range(2):
        once(form(owner, submission_key=new_key(), quantity="5"), act)

    assert act.times == 2


@pytest.mark.parametrize("damaged", ["", "not-a-key", "1234", "\x00", "🕯"])
def test_a_missing_or_damaged_key_is_refused(owner, damaged):
    act = Act()

    with pytest.raises(SubmissionClash):
        once(form(owner, submission_key=damaged), act)
    with pytest.raises(SubmissionClash):
        once(form(owner), act)

    assert act.times == 0


def test_the_token_against_forgery_is_no_part_of_what_was_typed(key):
    first = form(submission_key=key, csrfmiddlewaretoken="a", lot="L0001T")
    second = form(submission_key=new_key(), csrfmiddlewaretoken="b", lot="L0001T")

    assert digest_of(first) == digest_of(second)
    assert key_of(first) == UUID(key)


def test_the_order_of_repeated_fields_is_part_of_what_was_typed():
    assert digest_of(form(lot=["L0001T", "L0002R"])) != digest_of(form(lot=["L0002R", "L0001T"]))
    assert digest_of(form(a="1", b="2")) == digest_of(form(b="2", a="1"))


def test_a_boundary_between_fields_cannot_be_forged():
    assert digest_of(form(a="1,b", c="2")) != digest_of(form(a="1", b="c", c="2"))


def upload(name="sheet.pdf", content=b"%PDF-1 one", field="file", **fields):
    return form(**{field: SimpleUploadedFile(name, content)}, **fields)


def test_a_file_is_part_of_what_was_sent():
    sent = digest_of(upload(kind="safety"))

    assert sent == digest_of(upload(kind="safety"))
    assert sent != digest_of(form(kind="safety"))
    assert sent != digest_of(upload(kind="ifra"))
    assert sent != digest_of(upload(name="other.pdf", kind="safety"))
    assert sent != digest_of(upload(content=b"%PDF-1 two", kind="safety"))
    assert sent != digest_of(upload(content=b"%PDF-1 one ", kind="safety"))
    assert sent != digest_of(upload(field="photo", kind="safety"))


def test_a_file_can_be_read_after_it_was_fingerprinted():
    request = upload(content=b"x" * 200_000)
    digest_of(request)

    assert request.FILES["file"].read() == b"x" * 200_000


def test_the_same_key_with_another_file_is_refused(owner, key):
    first, same, other = (
        upload(by=owner, content=content, submission_key=key) for content in (b"one", b"one", b"two")
    )
    act = Act("/paper/7/")
    once(first, act)

    assert once(same, act) == "/paper/7/"
    with pytest.raises(SubmissionClash):
        once(other, act)
    assert act.times == 1
