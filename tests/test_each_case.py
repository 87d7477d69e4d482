"""A test of many cases fails where one of them does, and names each that does."""

import pytest
from each_case import of_each


@of_each("number", [1, 2, 3])
def of_one_name(number):
    """The words of the test."""
    assert number == 2


@of_each(("text", "error"), [("1", ValueError), ("a", ValueError), ("b", TypeError)])
def of_two_names(text, error):
    with pytest.raises(error):
        int(text)


@pytest.mark.parametrize(
    ("test", "failed"),
    [
        (of_one_name, ["of 1", "of 3"]),
        (of_two_names, [f"of {('1', ValueError)}", f"of {('b', TypeError)}"]),
    ],
)
def test_each_case_that_fails_is_named_and_no_other(test, failed):
    with pytest.raises(BaseExceptionGroup) as caught:
        test()
    assert caught.value.message == "; ".join(failed)
    assert len(caught.value.exceptions) == 2


def test_it_is_found_by_its_name_and_says_what_it_is_about():
    assert (of_one_name.__name__, of_one_name.__doc__) == ("of_one_name", "The words of the test.")


def test_without_a_case_there_is_no_test():
    with pytest.raises(AssertionError):
        of_each("number", [])
