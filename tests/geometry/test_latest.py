"""What was made last is kept, and the oldest makes room."""

from service.geometry.latest import Latest


def test_the_oldest_makes_room_and_is_named() -> None:
    kept = Latest[str, int](2)
    assert [kept.keep(key, at) for at, key in enumerate("abc")] == [None, None, "a"]
    assert kept == {"b": 1, "c": 2}


def test_a_new_value_of_a_known_key_takes_no_room() -> None:
    kept = Latest[str, int](2)
    for key, value in (("a", 1), ("b", 2), ("a", 3)):
        assert kept.keep(key, value) is None
    assert kept == {"a": 3, "b": 2}
