import pytest

from fleet.certificates.codes import ALPHABET, BYTES, code_make, code_read


def test_a_code_holds_at_least_80_random_bits() -> None:
    assert BYTES * 8 >= 80
    assert 32 ** len(code_make().replace("-", "")) >= 2**80


def test_the_alphabet_is_crockfords() -> None:
    # Source: Douglas Crockford, "Base 32": 0-9 and A-Z without I, L, O and U.
    assert ALPHABET == "0123456789ABCDEFGHJKMNPQRSTVWXYZ"


def test_a_code_is_written_in_groups_of_four() -> None:
    groups = code_make().split("-")
    assert [len(group) for group in groups] == [4, 4, 4, 4]
    assert set("".join(groups)) <= set(ALPHABET)


def test_codes_differ_and_use_the_whole_alphabet() -> None:
    codes = {code_make() for _ in range(400)}
    assert len(codes) == 400
    assert set("".join(codes)) - {"-"} == set(ALPHABET)


def test_a_made_code_is_read_back_as_itself() -> None:
    code = code_make()
    assert code_read(code) == code


@pytest.mark.parametrize(
    "typed",
    [
        "7Q2M-0XKD-9RTV-41MN",
        "7q2m-0xkd-9rtv-41mn",
        "7Q2M0XKD9RTV41MN",
        " 7q2m 0xkd 9rtv 41mn ",
        "7Q2M-OXKD-9RTV-4IMN",
        "7q2m-oxkd-9rtv-4lmn",
        "7Q2M–0XKD—9RTV−41MN",
        "7Q2M.0XKD_9RTV/41MN",
    ],
)
def test_a_code_is_read_however_a_hand_copies_it(typed: str) -> None:
    assert code_read(typed) == "7Q2M-0XKD-9RTV-41MN"


@pytest.mark.parametrize(
    "typed", ["", "7Q2M-0XKD-9RTV-41M", "7Q2M-0XKD-9RTV-41MNX", "7Q2M-0XKD-9RTV-41MU", "7Q2M-0XKD-9RTV-41Mé", "x" * 500]
)
def test_what_cannot_be_a_code_is_none(typed: str) -> None:
    assert code_read(typed) is None
