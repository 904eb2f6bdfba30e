"""What differs between the members of two bundles."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from catalogue.comparing.members_between import Bundle, Held, bundles_between, members_between


def held(text: str) -> Held:
    return Held(text * 64, len(text), "opaque")


BUNDLE = st.dictionaries(st.text("abcd", min_size=1, max_size=3), st.sampled_from("0123").map(held), max_size=8)


def told(a, b):
    return {(one.name, one.state, one.was) for one in members_between(a, b).differing}


def test_each_state():
    a = {"same": held("0"), "changed": held("1"), "gone": held("2"), "old name": held("3"), "shut": held("1")}
    shut = Held("", 9, "x", "No.")
    b = {"same": held("0"), "changed": held("0"), "new": held("4"), "new name": held("3"), "shut": shut}
    assert told(a, b) == {
        ("changed", "changed", ""), ("gone", "gone", ""), ("new", "added", ""), ("new name", "moved", "old name"),
        ("shut", "unreadable", ""),
    }  # fmt: skip
    assert members_between(a, b).same == 1


def test_the_bound():
    found = members_between({}, {str(number): held("1") for number in range(9)}, most=4)
    assert (len(found.differing), found.left_out) == (4, 5)


@given(BUNDLE)
def test_a_bundle_is_the_same_as_itself(a):
    found = members_between(a, a)
    assert (found.differing, found.same) == ((), len(a))


@given(BUNDLE, BUNDLE)
def test_every_member_is_told_of_once(a, b):
    """Each name of A and each of B is in exactly one row, or the same in both."""
    found = members_between(a, b)
    names_b = [one.name for one in found.differing if one.state != "gone"]
    names_a = [one.was or one.name for one in found.differing if one.state != "added"]
    assert len(names_b) == len(set(names_b)) and len(names_a) == len(set(names_a))
    assert len(names_b) + found.same == len(b)
    assert len(names_a) + found.same == len(a)
    for one in found.differing:
        if one.state == "moved":
            assert a[one.was].sha256 == b[one.name].sha256


@given(BUNDLE, BUNDLE)
def test_turned_round(a, b):
    there, back = members_between(a, b), members_between(b, a)
    turned = {"added": "gone", "gone": "added"}
    assert there.same == back.same
    assert sorted(turned.get(one.state, one.state) for one in there.differing) == sorted(
        one.state for one in back.differing
    )


SOME = st.dictionaries(st.sampled_from("abcd"), st.sampled_from([held("0"), held("1"), Held("", 3, "x", "No.")]))


@given(SOME, SOME)
def test_turned_round_with_members_that_cannot_be_read(a, b):
    there, back = members_between(a, b), members_between(b, a)
    turned = {"added": "gone", "gone": "added"}
    assert sorted((turned.get(one.state, one.state), one.why != "") for one in there.differing) == sorted(
        (one.state, one.why != "") for one in back.differing
    )


@given(BUNDLE, BUNDLE, st.sampled_from(["", "a", "b"]))
def test_what_an_unsound_bundle_lacks_is_unknown_and_not_gone(a, b, before):
    found = bundles_between(Bundle(a), Bundle(b, {before: "It is cut short."}))
    plain = bundles_between(Bundle(a), Bundle(b))
    assert [one.name for one in found.differing] == [one.name for one in plain.differing]
    for one, other in zip(found.differing, plain.differing, strict=True):
        if other.state == "gone" and one.name.startswith(before):
            assert (one.state, one.why) == ("unreadable", "Whether B has it is unknown: It is cut short.")
        else:
            assert one == other


def test_the_bound_holds_for_bundles_too():
    found = bundles_between(Bundle(), Bundle({str(number): held("1") for number in range(9)}), most=4)
    assert (len(found.differing), found.left_out) == (4, 5)
