"""Work done two at a time."""

from threading import Barrier

import pytest

from hubsight.photo.at_once import at_once


def test_results_come_in_the_order_of_the_things_and_two_run_together():
    both_there = Barrier(2, timeout=10)

    def work(number: int) -> int:
        both_there.wait()
        return number**2

    assert list(at_once(work, range(4))) == [0, 1, 4, 9]


def test_what_the_work_raises_is_raised_where_its_result_is_taken():
    results = at_once(lambda number: 1 / number, [1, 0])
    assert next(results) == 1
    with pytest.raises(ZeroDivisionError):
        next(results)
