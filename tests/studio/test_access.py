"""Where a visitor comes from when a proxy stands in front."""

import pytest
from django.test import RequestFactory

from studio.people.access import client_address


@pytest.mark.parametrize(
    ("forwarded", "address"),
    [
        (None, "192.0.2.1"),
        ("198.51.100.7", "198.51.100.7"),
        ("10.0.0.1, 198.51.100.7", "198.51.100.7"),  # the first was written by the visitor
        ("198.51.100.7,", "192.0.2.1"),
    ],
)
def test_the_address_is_the_one_the_proxy_saw(forwarded, address):
    extra = {} if forwarded is None else {"HTTP_X_FORWARDED_FOR": forwarded}

    assert client_address(RequestFactory().get("/", REMOTE_ADDR="192.0.2.1", **extra)) == address
