"""What the sentence of a swap says is done, or left out, is what its plan does."""

from asked_shop import Shop, book, engine

from graph.model.verdict import Verdict


def test_a_part_that_has_to_come_out_is_named() -> None:
    with Shop(engine(book(), "plug", value="none")) as shop:
        said = shop.fits()
    assert said.verdict is Verdict.WITH_WORK
    assert said.plan is not None
    assert {c.seat for c in said.plan.seats if c.source == "empty"} >= {"sensor"}
    assert "leave out the sensor" in said.sentence
    assert "nothing but" not in said.sentence


def test_a_part_in_a_seat_that_no_rule_speaks_of_is_not_known() -> None:
    with Shop(book()) as shop:
        # Nothing says what a seal ring of this seat must measure.
        ring = shop.fits(engine="", seat="seal", part="SR-1")
        # All that is on record of the actuator's seat looks at the engine, and no engine is named.
        actuator = shop.fits(engine="", seat="actuator", part="A-1")
        named = shop.fits(seat="actuator", part="A-1")
        wheel = shop.fits(engine="", seat="seal", part="W-1")
    assert ring.verdict is actuator.verdict is Verdict.UNKNOWN
    assert [m.measure for m in actuator.open] == ["name the engine"]
    assert named.verdict is Verdict.YES
    assert wheel.verdict is Verdict.NO  # not of the seat's kind


def test_a_joint_called_like_a_feature_lends_it_no_words() -> None:
    with Shop(book()) as shop:
        joints = {joint.joint: joint for joint in shop.fits().joints}
    # The joint `bore` is the bearing in its housing; `bore` of the cover is its contour bore.
    assert joints["bore"].label == "bearing in housing"
    (gap,) = joints["contour"].rules
    assert gap.reason.startswith("cover contour bore 58.58 mm")
