"""A label that no phone can open is warned of before it is printed and fixed to a machine."""

from __future__ import annotations

import pytest

from app.machines.tags import address_of, address_warning


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


def test_the_page_of_labels_warns_and_still_makes_them(shop, visitor):
    saw = shop.machine("Panel saw")
    page = visitor.sign_in(shop.technician()).get(f"/labels?machine={saw.id}").text
    # The tests run at the address that is set where nobody set one.
    assert "an address that only this machine can open" in page
    answer = visitor.post("/labels.pdf", data={"sheet": "label", "machine": saw.id})
    assert answer.status_code == 303


def test_a_label_holds_its_address_in_upper_case_where_that_changes_nothing():
    # RFC 3986, section 6.2.2.1: scheme and host know no case. A path of the site may.
    code = "7K2MQ4X7K2MQ4X"
    assert address_of("https://shop.example", code) == f"HTTPS://SHOP.EXAMPLE/M/{code}"
    assert (
        address_of("https://shop.example/Making", code) == f"https://shop.example/Making/m/{code}"
    )


def test_either_spelling_of_the_address_leads_to_the_machine(shop, visitor):
    saw = shop.machine("Panel saw")
    for letter in "mM":
        assert "Panel saw" in visitor.get(f"/{letter}/{shop.code(saw)}").text
