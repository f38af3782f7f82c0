"""Promise: whoever takes this over can see under which licences what is installed with it stands."""

from tests.licences import LIST, licence_of, listed


def test_the_list_of_licences_is_that_of_what_is_locked() -> None:
    assert LIST.read_text(encoding="utf-8") == listed()


def test_every_package_states_a_licence() -> None:
    rows = [line.split(" | ") for line in listed().splitlines() if line.startswith("| ")][1:]
    assert len(rows) > 50
    assert [row for row in rows if not row[2].strip(" |")] == []


def test_a_licence_is_what_the_package_says() -> None:
    assert licence_of("numpy").startswith("BSD-3-Clause")
    assert licence_of("tomli-w") == "MIT License"  # its class alone
