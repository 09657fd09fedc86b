"""A label that no phone can open is warned of before it is printed and fixed to a machine."""

from __future__ import annotations

import pytest

from app.machines.tags import address_warning


@pytest.mark.parametrize(
    "url",
    [
        "http://127.0.0.1:8000",
        "http://127.8.9.10",  # the whole block 127.0.0.0/8: RFC 1122, section 3.2.1.3
        "http://[::1]:8000",  # RFC 4291, section 2.5.3
        "http://localhost:8000",
        "https://LOCALHOST",
        "http://bench.localhost",  # RFC 6761, section 6.3
        "http://0.0.0.0:8000",  # this host on this network: RFC 1122, section 3.2.1.3
    ],
)
def test_an_address_that_only_this_machine_can_open_is_warned_of(url):
    warning = address_warning(url)
    assert url in warning
    assert "CHUCKKEY_PUBLIC_URL" in warning


@pytest.mark.parametrize(
    "url",
    [
        "https://shop.example",
        "http://192.168.1.20:8000",
        "http://[2001:db8::5]",
        "http://localhost.example",
        "http://127.0.0.1.example",
    ],
)
def test_an_address_of_the_network_is_not(url):
    assert address_warning(url) == ""


def test_the_machine_page_warns_beside_the_label_and_still_offers_it(shop, visitor):
    saw = shop.machine("Panel saw")
    page = visitor.sign_in(shop.technician()).get(f"/machines/{saw.id}").text
    # The tests run at the address that is set where nobody set one.
    assert "an address that only this machine can open" in page
    answer = visitor.post(f"/machines/{saw.id}/label.pdf", data={"sheet": "label"})
    assert answer.status_code == 303
